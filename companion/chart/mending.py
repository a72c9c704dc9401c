"""Slips of the pen on a page, read as a musician would read them: each is mended, and said with its bar.

A first ending without its repeat sign, a repeat that is never closed, endings that are numbered wrongly, a pickup that
has a metre of its own or fills a bar, a time signature that no bar keeps to.

Conventions: as in :mod:`companion.chart.written`. What may be meant as it stands is left alone. Source: common
practice, and for bars that don't count MusicXML 4.0, attribute ``implicit`` of ``measure``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from companion.chart.remarks import Remark
from companion.chart.written import BarMarks, WrittenBar
from companion.music.meter import Metre

AGREEING = 0.9
"""Share of the bars that have to last as long for a time signature that says otherwise to be wrong."""
FEWEST = 4
"""Bars from which that can be told."""


def mended(bars: Sequence[WrittenBar]) -> tuple[WrittenBar, ...]:
    """The bars as they are meant, with a remark on each that isn't as it stands on the page."""
    page = list(bars)
    _first_metre(page)
    _full_pickup(page)
    _endings_without_repeat(page)
    _wrong_numbers(page)
    _open_repeats(page)
    return tuple(page)


def kept_metre(bars: Sequence[WrittenBar], metre: Metre) -> tuple[tuple[WrittenBar, ...], Metre]:
    """The bars and the metre that they keep to, where the time signature says another one throughout."""
    inner = [bar.length for bar in bars[1:-1] if bar.notes]
    if {bar.nominal for bar in bars} != {metre.bar} or len(inner) < FEWEST:
        return tuple(bars), metre
    length, count = Counter(inner).most_common(1)[0]
    if length == metre.bar or count < AGREEING * len(inner):
        return tuple(bars), metre
    beat_type = next((kind for kind in (4, 8, 16, 32) if (length * kind / 4).denominator == 1), None)
    if beat_type is None:
        return tuple(bars), metre
    meant = Metre(int(length * beat_type / 4), beat_type)
    found = [replace(bar, nominal=meant.bar) for bar in bars]
    _say(found, 0, f"the time signature says {metre}, but the bars last as in {meant}, and are read so")
    return tuple(found), meant


def _say(page: list[WrittenBar], at: int, what: str) -> None:
    page[at] = replace(page[at], remarks=(*page[at].remarks, Remark(what)))


def _mark(page: list[WrittenBar], at: int, marks: BarMarks) -> None:
    page[at] = replace(page[at], marks=marks)


# The first bar


def _first_metre(page: list[WrittenBar]) -> None:
    """A first bar with a shorter metre than all others: a pickup that was given a time signature."""
    if len(page) < 3:
        return
    first, rest = page[0], {bar.nominal for bar in page[1:]}
    if first.nominal not in rest and first.length < page[1].nominal and first.length <= first.nominal:
        page[0] = replace(first, nominal=page[1].nominal)
        _say(page, 0, "a pickup, though it has a time signature of its own")


def _full_pickup(page: list[WrittenBar]) -> None:
    """A first bar that is a pickup, though it is full: the file doesn't count it. Nor is it repeated.

    One that is counted stays a bar of the form, however late its melody begins: many sheets have such a bar.
    """
    if len(page) < 3 or not page[0].uncounted or page[0].short or not page[0].notes:
        return
    page[0] = replace(page[0], pickup=True)
    _say(page, 0, "a full bar of pickup, which isn't counted in the form")
    closing = next((k for k, bar in enumerate(page) if bar.marks.repeat_end), None)
    if closing and not any(bar.marks.repeat_start for bar in page[: closing + 1]):
        _mark(page, 1, replace(page[1].marks, repeat_start=True))


# Endings


@dataclass(frozen=True)
class _Bracket:
    first: int
    last: int
    stopped: bool
    """Its end is drawn."""


def _brackets(page: Sequence[WrittenBar]) -> list[_Bracket]:
    starts = [k for k, bar in enumerate(page) if bar.marks.ending]
    found = []
    for first, after in zip(starts, [*starts[1:], len(page)], strict=False):
        inside = range(first, after)
        last = next((k for k in inside if page[k].marks.ending_stops or page[k].marks.repeat_end), None)
        found.append(_Bracket(first, first if last is None else last, last is not None))
    return found


def _endings_without_repeat(page: list[WrittenBar]) -> None:
    """An ending that another one follows, or a lone first one, leads back: where no sign says so, it is put there."""
    brackets = _brackets(page)
    for k, bracket in enumerate(brackets):
        following = brackets[k + 1] if k + 1 < len(brackets) else None
        reach = following.first - 1 if following is not None and not bracket.stopped else bracket.last
        joined = following is not None and following.first == reach + 1
        inside = [page[n].marks for n in range(bracket.first, (following.first if following else reach + 1))]
        if any(m.repeat_end or m.jump or m.fine or m.to_coda for m in inside):
            continue
        follows_one = k > 0 and brackets[k - 1].last + 1 == bracket.first
        opens_next = following is not None and page[following.first].marks.repeat_start
        lone = page[bracket.first].marks.ending == (1,) and not follows_one
        if (joined and not opens_next) or lone:
            _mark(page, reach, replace(page[reach].marks, repeat_end=2, ending_stops=True))
            _say(page, reach, "an ending without its repeat sign, read with one")


def _wrong_numbers(page: list[WrittenBar]) -> None:
    """Endings of one repeat are taken in the order of the page, whatever their numbers."""
    run: list[_Bracket] = []
    brackets = _brackets(page)
    for k, bracket in enumerate(brackets):
        run.append(bracket)
        following = brackets[k + 1] if k + 1 < len(brackets) else None
        goes_on = (
            following is not None
            and bool(page[bracket.last].marks.repeat_end)
            and following.first == bracket.last + 1
            and not page[following.first].marks.repeat_start
        )
        if not goes_on:
            _renumber(page, run)
            run = []


def _renumber(page: list[WrittenBar], run: Sequence[_Bracket]) -> None:
    times = [time for bracket in run for time in page[bracket.first].marks.ending]
    if len(run) < 2 or (1 in page[run[0].first].marks.ending and len(set(times)) == len(times)):
        return
    said = " and ".join(", ".join(map(str, page[bracket.first].marks.ending)) for bracket in run)
    for number, bracket in enumerate(run, 1):
        _mark(page, bracket.first, replace(page[bracket.first].marks, ending=(number,)))
    _say(page, run[0].first, f"endings numbered {said}, taken in the order of the page")


# Repeats


def _open_repeats(page: list[WrittenBar]) -> None:
    """A repeat that is never closed goes to the double bar after it, else to the next repeat, else to the end."""
    opened: int | None = None
    for k in range(len(page) + 1):
        ends = k == len(page) or page[k].marks.repeat_start
        if opened is not None and ends:
            _close(page, opened, k - 1)
        if k < len(page):
            opened = k if page[k].marks.repeat_start else opened
            opened = None if page[k].marks.repeat_end else opened


def _close(page: list[WrittenBar], opened: int, last: int) -> None:
    at = next((k for k in range(opened, last + 1) if page[k].marks.double_bar or page[k].marks.jump), last)
    _mark(page, at, replace(page[at].marks, repeat_end=2))
    _say(page, opened, f"a repeat that is never closed, read to the end of bar {page[at].number}")
