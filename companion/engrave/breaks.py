"""Where lines and pages end.

Lines hold four bars where they can: sections begin a line, endings do where they are long enough, and no line is
crammed. Pages are turned where a section ends, as far as they stay about equally full. Both are shortest paths over all
ways to break (Knuth & Plass, Breaking Paragraphs into Lines, Software: Practice and Experience 11, 1981).

Conventions: widths and heights in any one unit; bars and lines count from 0.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

from companion.engrave.sheet import Bar

BARS_A_LINE = 4
"""Phrases are multiples of it (common practice on lead sheets)."""
FULL = 1.02
"""Width of a line's bars against the line's, above which it is too crammed to read."""
_FEWER, _MORE = 0.2, 0.25
_CRAMMED, _LOOSE = 6.0, 0.8
_ONE_BAR = 1.0
_ENDING_TORN = 1.5
_ENDING_WITHIN = 0.25
_PHRASE_TORN = 0.6
_TURN_INSIDE_A_SECTION = 0.12
_SHORT_LAST_PAGE = 0.05
_TOO_FEW_OR_MANY = 0.15
EASY = (4, 6)
"""Lines of two staves on a page that are easy to read: with fewer it is torn, with more it is dense."""


def lined(bars: Sequence[Bar], widths: Sequence[float] | None = None, width: float = 1.0) -> list[Bar]:
    """The bars with their lines broken.

    Parameters
    ----------
    bars : sequence of Bar
    widths : sequence of float, optional
        What each bar asks for by itself; without them every line is wide enough.
    width : float
        Of a line, clef and key signature left out.
    """
    if not bars:
        return []
    asked = [0.0] * len(bars) if widths is None else widths
    inside = _inside_endings(bars)
    torn = _inside_phrases(bars)
    headed = [k for k, bar in enumerate(bars) if bar.heading]
    # A pickup stands in the first section's line, and a bar that leads in beside what it leads to.
    begin_lines = {k for before, k in pairwise(headed) if k - before > 1 or bars[k].marks.coda}

    def price(first: int, after: int) -> float:
        if not begin_lines.isdisjoint(range(first + 1, after)):
            return inf
        count = sum(bar.length * 2 > bar.metre.bar for bar in bars[first:after])
        filled = sum(asked[first:after]) / width
        if filled > FULL and after - first > 1:
            return inf
        other = count - BARS_A_LINE
        found = (_FEWER if other < 0 else _MORE) * other**2 + _ONE_BAR * (count == 1 and len(bars) > 1)
        found += _CRAMMED * max(0.0, filled - 0.9) + _ENDING_TORN * inside[first] + _PHRASE_TORN * torn[first]
        found += _LOOSE * max(0.0, 0.4 - filled) * (widths is not None)
        return found + _ENDING_WITHIN * sum(bool(bar.marks.ending) for bar in bars[first + 1 : after])

    starts = set(_shortest(len(bars), price))
    return [replace(bar, new_line=k in starts and k > 0) for k, bar in enumerate(bars)]


def _inside_endings(bars: Sequence[Bar]) -> list[bool]:
    """For each bar whether a bracket goes on over its beginning."""
    found, under = [], False
    for bar in bars:
        under = under and not bar.marks.ending
        found.append(under)
        under = (under or bool(bar.marks.ending)) and not bar.marks.ending_stops
    return found


def _inside_phrases(bars: Sequence[Bar]) -> list[bool]:
    """For each bar whether it is none of a section's first, fifth, ninth and so on; an ending counts anew."""
    found, count = [], 0
    for bar in bars:
        count = 0 if bar.heading or bar.marks.ending else count
        found.append(count % BARS_A_LINE != 0)
        count += bar.length * 2 > bar.metre.bar
    return found


@dataclass(frozen=True)
class SystemHeight:
    """How high a line is on paper, measured from its own place."""

    above: float
    below: float
    """From its place up to its highest ink and down to its lowest."""
    section: bool
    """A section begins with it."""


def page_breaks(
    lines: Sequence[SystemHeight],
    first_page: float,
    other_pages: float,
    gap: float,
    easy: tuple[int, int] | None = None,
) -> list[int]:
    """The lines that begin a page, the first one included.

    Parameters
    ----------
    lines : sequence of SystemHeight
    first_page, other_pages : float
        Height there is for lines.
    gap : float
        The least between two lines.
    easy : tuple of int, optional
        From how many lines to how many a page is easy to read.
    """
    rooms = [first_page, *[other_pages] * len(lines)]
    ways = (_turned(lines, rooms[:pages], gap, easy) for pages in range(1, len(lines) + 1))
    return next((way for way in ways if way is not None), list(range(len(lines))))


def _turned(
    lines: Sequence[SystemHeight], rooms: Sequence[float], gap: float, easy: tuple[int, int] | None
) -> list[int] | None:
    """The best way to fill pages with so much room, or None when that can't be done."""
    least, most = easy or (0, len(lines))
    best: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {(0, 0): (0.0, ())}
    for page, room in enumerate(rooms):
        for at in range(len(lines)):
            if (page, at) not in best:
                continue
            spent, starts = best[page, at]
            for after in range(at + 1, len(lines) + 1):
                height = sum(line.above + line.below for line in lines[at:after]) + gap * (after - at - 1)
                if height > room and after > at + 1:
                    break
                empty = max(0.0, 1 - height / room)
                cost = spent + empty**2 * (1 - _SHORT_LAST_PAGE * (after == len(lines)))
                cost += _TURN_INSIDE_A_SECTION * (after < len(lines) and not lines[after].section)
                few = max(0, least - (after - at)) if after < len(lines) else 0
                cost += _TOO_FEW_OR_MANY * (few + max(0, after - at - most))
                if cost < best.get((page + 1, after), (inf, ()))[0]:
                    best[page + 1, after] = cost, (*starts, at)
    done = best.get((len(rooms), len(lines)))
    return list(done[1]) if done else None


def _shortest(count: int, price: Callable[[int, int], float]) -> list[int]:
    """Where the stretches of the cheapest way to cut up so many things begin; one that nobody can pay is cut singly."""
    best: list[tuple[float, int]] = [(0.0, 0)]
    for after in range(1, count + 1):
        ways = [(best[first][0] + price(first, after), first) for first in range(max(0, after - 12), after)]
        best.append(min(ways))
    starts, at = [], count
    while at > 0:
        at = best[at][1]
        starts.append(at)
    return starts[::-1]
