"""The order in which written bars are played: repeats, endings, D.C., D.S., Fine and coda.

Conventions: bars are counted from 0 in the order of the page. The rules are common practice, as MusicXML 4.0 writes
them down for its ``repeat``, ``ending`` and ``sound`` elements: a backward repeat returns to the last forward repeat,
or to where the last repeat ended, or to the beginning; a bracket is played in the times through that it lists; after
a leap back (D.C., D.S.) repeats are not made again and the last bracket is taken.

Two habits of real lead sheets are understood: a first bracket that stops a bar or more before its backward repeat is
taken to reach it, and brackets that list '1' and '3' mean that the first is played twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.chart.model import MOST_BARS
from companion.chart.written import BarMarks
from companion.errors import ChartError


@dataclass(frozen=True)
class _Bracket:
    first: int
    last: int
    times: tuple[int, ...]


class _Endings:
    """A group of brackets that belong to one repeat: which of them is played in which time through."""

    def __init__(self, brackets: Sequence[_Bracket], closed: bool, after_jump: bool = False):
        self.brackets = brackets
        self.after_jump = after_jump
        self.last = brackets[-1].last
        listed = max(max(b.times) for b in brackets)
        # A lone first bracket with its repeat: the second time through skips it.
        self.total = listed + 1 if closed and len(brackets) == 1 else listed
        self.taken: dict[int, int] = {}
        for time in range(1, listed + 1):
            named = [b.first for b in brackets if time in b.times]
            self.taken[time] = named[0] if named else self.taken.get(time - 1, brackets[0].first)

    def plays(self, first: int, time: int) -> bool:
        """Whether the bracket that begins with bar ``first`` is played this time through."""
        return self.taken.get(time) == first

    def way_out(self, marks: Sequence[BarMarks], until: str) -> int | None:
        """First bar of the bracket taken after a leap back: the one with the Fine or the sign sought, or the last."""
        for bracket in self.brackets:
            inside = marks[bracket.first : bracket.last + 1]
            if any((m.fine and until in ("", "fine")) or (m.to_coda and until in ("", "coda")) for m in inside):
                return bracket.first
        return self.taken.get(self.total)


def playing_order(marks: Sequence[BarMarks]) -> list[int]:
    """The bars in the order of playing.

    Parameters
    ----------
    marks : sequence of BarMarks
        One for each written bar.

    Returns
    -------
    list of int
        Indices into ``marks``.

    Raises
    ------
    ChartError
        When the marks lead to more than :data:`~companion.chart.model.MOST_BARS` bars.
    """
    brackets = _brackets(marks)
    groups = _groups(marks, brackets)
    order: list[int] = []
    at, start, time = 0, 0, 1
    returned = leapt = False
    until = ""
    jumps_made: set[int] = set()
    while at < len(marks):
        mark = marks[at]
        if mark.repeat_start and not returned:
            start, time = at, 1
        returned = False
        bracket, group = brackets.get(at), groups.get(at)
        if bracket is not None and group is not None and bracket.first == at:
            last_time = leapt and not group.after_jump
            if not (group.way_out(marks, until) == at if last_time else group.plays(at, time)):
                at = bracket.last + 1
                if at > group.last:
                    start, time = at, 1
                continue
        order.append(at)
        if len(order) > MOST_BARS:
            raise ChartError(
                f"the repeats lead to more than {MOST_BARS} bars", mend="look for a repeat with far too many times"
            )
        total = group.total if group else mark.repeat_end
        again = bool(mark.repeat_end) and time < total and (not leapt or mark.repeat_after_jump)
        if leapt and mark.fine and until != "coda" and not again:
            break
        leaves = leapt and mark.to_coda and not again and until not in ("fine", "end")
        if leaves and (coda := _coda_after(marks, at)) is not None:
            at, start, time = coda, coda, 1
            until = "end"
            continue
        if again:
            at, time, returned = start, time + 1, True
            continue
        if mark.repeat_end and group is None:
            start, time = at + 1, 1
        if group is not None and at == group.last:
            start, time = at + 1, 1
        if mark.jump and at not in jumps_made:
            jumps_made.add(at)
            leapt, until = True, mark.until
            at = _segno_for(marks, at) if mark.jump == "segno" else 0
            start, time = at, 1
            continue
        at += 1
    return order


def _brackets(marks: Sequence[BarMarks]) -> dict[int, _Bracket]:
    """For every bar under a bracket, the bracket."""
    starts = [i for i, mark in enumerate(marks) if mark.ending]
    found: dict[int, _Bracket] = {}
    for k, first in enumerate(starts):
        limit = (starts[k + 1] if k + 1 < len(starts) else len(marks)) - 1
        last = next((i for i in range(first, limit + 1) if marks[i].ending_stops or marks[i].repeat_end), first)
        short = k + 1 < len(starts) and marks[limit].repeat_end and not marks[last].repeat_end
        if short and not _restarts(marks, last + 1, limit):
            last = limit  # the bracket stops short of its backward repeat
        bracket = _Bracket(first, last, marks[first].ending)
        found.update(dict.fromkeys(range(first, last + 1), bracket))
    return found


def _restarts(marks: Sequence[BarMarks], first: int, last: int) -> bool:
    return any(marks[i].repeat_start or (marks[i].repeat_end and i < last) for i in range(first, last + 1))


def _groups(marks: Sequence[BarMarks], brackets: dict[int, _Bracket]) -> dict[int, _Endings]:
    """For every bar under a bracket, the group of endings it belongs to."""
    ordered = list(dict.fromkeys(brackets.values()))
    found: dict[int, _Endings] = {}
    run: list[_Bracket] = []
    for k, bracket in enumerate(ordered):
        run.append(bracket)
        following = ordered[k + 1] if k + 1 < len(ordered) else None
        repeated = bool(marks[bracket.last].repeat_end)
        if following is None or not repeated or following.first != bracket.last + 1 or min(following.times) == 1:
            inside = marks[run[0].first : run[-1].last + 1]
            group = _Endings(run, repeated, any(mark.repeat_after_jump for mark in inside))
            found.update({i: group for b in run for i in range(b.first, b.last + 1)})
            run = []
    return found


def _coda_after(marks: Sequence[BarMarks], at: int) -> int | None:
    codas = [i for i, mark in enumerate(marks) if mark.coda]
    return next((i for i in codas if i > at), codas[-1] if codas and codas[-1] != at else None)


def _segno_for(marks: Sequence[BarMarks], at: int) -> int:
    signs = [i for i, mark in enumerate(marks) if mark.segno]
    return max((i for i in signs if i <= at), default=signs[0] if signs else 0)
