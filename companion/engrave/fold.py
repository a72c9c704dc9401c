"""What comes again is folded: repeat signs, and endings where only the ends differ.

A stretch of sections that is played several times running is written once when all its passes hold the same bars, or
the same bars up to their last section's last few: those become first and second endings. What doesn't come again at
once is written out, as on most lead sheets. Of all ways to fold, the one with the fewest bars on paper is taken.

Conventions: bars in the order of playing come in, bars as written come out; a bar keeps the number of the first time it
is played. Playing what comes out (:func:`companion.chart.repeats.playing_order`) gives what came in.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from companion.chart.repeats import playing_order
from companion.engrave.sheet import Bar

FEWEST_SHARED = 2
"""Bars that passes must share to be folded."""
LONGEST_ENDING = 8
"""Bars; nor may an ending be longer than what it ends (common practice)."""
MOST_PASSES = 4


@dataclass(frozen=True)
class _Fold:
    """So many passes of a stretch as one: the bars they share, then the endings with the passes each belongs to."""

    names: tuple[str, ...]
    """What stands over each of its sections."""
    passes: int
    shared: int
    endings: tuple[tuple[tuple[int, ...], tuple[int, int]], ...] = ()
    """Times through, and the bars from where to where among the played ones."""

    @property
    def bars(self) -> int:
        """How many are written."""
        return self.shared + sum(after - first for _, (first, after) in self.endings)


class _Folding(NamedTuple):
    """The best way to write what lies from a section on."""

    bars: int
    folds: int
    steps: tuple[tuple[int, int, _Fold | None], ...]
    """Sections from where to where, and how they are folded."""


def folded(played: Sequence[Bar]) -> list[Bar]:
    """The bars with what comes again folded."""
    starts = [k for k, bar in enumerate(played) if bar.heading]
    if not starts:
        return list(played)
    edges = [*starts, len(played)]
    written = list(played[: starts[0]])
    for first, after, fold in _best(played, edges).steps:
        if fold is None:
            written += played[edges[first] : edges[after]]
        else:
            written += _written(played, edges[first], fold)
    return written if _plays_the_same(written, played) else list(played)


def _same(one: Bar, other: Bar) -> bool:
    """Whether two bars hold the same, wherever they stand."""
    keys = ("length", "metre", "voices", "chords", "pedals", "octaves", "high", "marks", "manner", "words", "remark")
    return all(getattr(one, key) == getattr(other, key) for key in keys)


def _plays_the_same(written: Sequence[Bar], played: Sequence[Bar]) -> bool:
    order = playing_order([bar.marks for bar in written])
    return len(order) == len(played) and all(
        _same(replace(written[k], marks=bar.marks), bar) for k, bar in zip(order, played, strict=True)
    )


def _best(played: Sequence[Bar], edges: Sequence[int]) -> _Folding:
    sections = len(edges) - 1
    best: list[_Folding] = [_Folding(0, 0, ())] * (sections + 1)
    for first in reversed(range(sections)):
        rest = best[first + 1]
        ways = [
            _Folding(edges[first + 1] - edges[first] + rest.bars, rest.folds, ((first, first + 1, None), *rest.steps))
        ]
        for size in range(1, sections):
            for passes in range(2, min(MOST_PASSES, (sections - first) // size) + 1):
                fold = _fold(played, edges, first, size, passes)
                if fold is not None:
                    after = first + size * passes
                    step = (first, after, fold)
                    ways.append(
                        _Folding(fold.bars + best[after].bars, best[after].folds + 1, (step, *best[after].steps))
                    )
        best[first] = min(ways, key=lambda way: (way.bars, way.folds))
    return best[0]


def _fold(played: Sequence[Bar], edges: Sequence[int], first: int, size: int, passes: int) -> _Fold | None:
    """So many passes of so many sections as one, or None."""
    tops = [first + k * size for k in range(passes)]
    names = [[played[edges[top + k]].heading or "" for top in tops] for k in range(size)]
    spans = [(edges[top], edges[top + size]) for top in tops]
    lengths = [after - begin for begin, after in spans]
    if any(len({_stem(name) for name in alike}) > 1 for alike in names):
        return None
    over = tuple(map(_common, names))
    shared = 0
    while shared < min(lengths) and all(_same(played[b + shared], played[spans[0][0] + shared]) for b, _ in spans):
        shared += 1
    if shared < FEWEST_SHARED:
        return None
    if shared == max(lengths):
        return _Fold(over, passes, shared)
    shared = min(shared, min(lengths) - 1)
    while shared and any(_tied_back(played[begin + shared]) for begin, _ in spans):
        shared -= 1
    last_begins = max(edges[top + size - 1] - edges[top] for top in tops)
    longest = max(lengths) - shared
    if shared < max(FEWEST_SHARED, last_begins + 1) or longest > min(LONGEST_ENDING, shared):
        return None
    tails = [(begin + shared, after) for begin, after in spans]
    return _Fold(over, passes, shared, _endings(played, tails))


def _tied_back(bar: Bar) -> bool:
    """A note goes on into it: no place to begin an ending."""
    return any(voice.heads[0].tied_back for voice in bar.voices)


def _endings(
    played: Sequence[Bar], tails: Sequence[tuple[int, int]]
) -> tuple[tuple[tuple[int, ...], tuple[int, int]], ...]:
    """The endings with the times through that they are for; passes that follow each other share one."""

    def alike(one: tuple[int, int], other: tuple[int, int]) -> bool:
        a, b = played[one[0] : one[1]], played[other[0] : other[1]]
        return len(a) == len(b) and all(map(_same, a, b))

    found: list[tuple[tuple[int, ...], tuple[int, int]]] = []
    for time, tail in enumerate(tails, 1):
        if found and alike(found[-1][1], tail):
            found[-1] = ((*found[-1][0], time), found[-1][1])
        else:
            found.append(((time,), tail))
    return tuple(found)


def _stem(name: str) -> str:
    """A section's name without its number: A1 and A2 are both A."""
    return re.sub(r"[-' ]*\d*'*$", "", name) or name


def _common(names: Sequence[str]) -> str:
    """What stands over sections that are folded into one."""
    return names[0] if len(set(names)) == 1 else _stem(names[0])


def _written(played: Sequence[Bar], begin: int, fold: _Fold) -> list[Bar]:
    bars = list(played[begin : begin + fold.shared])
    heads = [k for k, bar in enumerate(bars) if bar.heading]
    for k, name in zip(heads, fold.names, strict=True):
        bars[k] = replace(bars[k], heading=name)
    bars[0] = _marked(bars[0], repeat_start=True)
    if not fold.endings:
        bars[-1] = replace(_marked(bars[-1], repeat_end=fold.passes), double=False)
        return bars
    for n, (times_through, (first, after)) in enumerate(fold.endings, 1):
        last = n == len(fold.endings)
        tail = list(played[first:after])
        tail[0] = _marked(tail[0], ending=times_through)
        tail[-1] = _marked(tail[-1], ending_stops=True, repeat_end=0 if last else 2)
        tail[-1] = replace(tail[-1], double=last)
        bars += tail
    return bars


def _marked(bar: Bar, **marks: Any) -> Bar:
    return replace(bar, marks=replace(bar.marks, **marks))
