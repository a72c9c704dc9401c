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
MOST_A_LINE = 12
"""Bars, however short they are."""
FULL = 1.02
"""Width of a line's bars against the line's, above which it is too crammed to read."""
_FEWER, _MORE = 0.2, 0.25
_EASILY_FULL, _LOOSELY_FULL = 0.9, 0.4
"""Shares of a line's width, above which its bars are close, and below which they stand far apart."""
_CRAMMED, _LOOSE = 6.0, 0.8
"""For the share of a line that is too much or too little."""
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
    inside = _inside_endings(bars)
    torn = _inside_phrases(bars)
    headed = [k for k, bar in enumerate(bars) if bar.heading]
    # A pickup stands in the first section's line, and a bar that leads in beside what it leads to.
    begin_lines = {k for before, k in pairwise(headed) if k - before > 1 or bars[k].marks.coda}

    def price(first: int, after: int) -> float:
        if not begin_lines.isdisjoint(range(first + 1, after)):
            return inf
        filled = None if widths is None else sum(widths[first:after]) / width
        if filled is not None and filled > FULL and after - first > 1:
            return inf
        alone = after - first == len(bars)
        return line_cost(bars[first:after], filled, alone=alone, in_ending=inside[first], in_phrase=torn[first])

    starts = set(_shortest(len(bars), price))
    return [replace(bar, new_line=k in starts and k > 0) for k, bar in enumerate(bars)]


def line_cost(
    line: Sequence[Bar],
    filled: float | None = None,
    *,
    alone: bool = False,
    in_ending: bool = False,
    in_phrase: bool = False,
) -> float:
    """What a line costs; nothing for the four bars of a phrase that fill most of it.

    Parameters
    ----------
    line : sequence of Bar
    filled : float, optional
        What its bars ask for against its width; without it, it is wide enough.
    alone : bool
        There is no other line.
    in_ending, in_phrase : bool
        It begins under a bracket, or inside a phrase.
    """
    count = sum(bar.length * 2 > bar.metre.bar for bar in line)
    other = count - BARS_A_LINE
    cost = (_FEWER if other < 0 else _MORE) * other**2 + _ONE_BAR * (count == 1 and not alone)
    if filled is not None:
        cost += _CRAMMED * max(0.0, filled - _EASILY_FULL) + _LOOSE * max(0.0, _LOOSELY_FULL - filled)
    cost += _ENDING_TORN * in_ending + _PHRASE_TORN * in_phrase
    return cost + _ENDING_WITHIN * sum(bool(bar.marks.ending) for bar in line[1:])


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
                turn = None if after == len(lines) else lines[after].section
                cost = spent + page_cost(after - at, height / room, turn, easy)
                if cost < best.get((page + 1, after), (inf, ()))[0]:
                    best[page + 1, after] = cost, (*starts, at)
    done = best.get((len(rooms), len(lines)))
    return list(done[1]) if done else None


def page_cost(count: int, filled: float, turn: bool | None, easy: tuple[int, int] | None = None) -> float:
    """What a page costs; nothing for one that is full and turned at a section.

    Parameters
    ----------
    count : int
        Its lines.
    filled : float
        The share of its height that they take; a line higher than the page has it for itself.
    turn : bool, optional
        Whether it is turned where a section begins; None: it is the last.
    easy : tuple of int, optional
        As in :func:`page_breaks`.
    """
    last = turn is None
    cost = max(0.0, 1 - filled) ** 2 * (1 - _SHORT_LAST_PAGE * last) + _TURN_INSIDE_A_SECTION * (turn is False)
    if easy is not None:
        least, most = easy
        cost += _TOO_FEW_OR_MANY * (max(0, count - most) + (0 if last else max(0, least - count)))
    return cost


def _shortest(count: int, price: Callable[[int, int], float]) -> list[int]:
    """Where the stretches of the cheapest way to cut up so many things begin; one that nobody can pay is cut singly."""
    best: list[tuple[float, int]] = [(0.0, 0)]
    for after in range(1, count + 1):
        ways = [(best[first][0] + price(first, after), first) for first in range(max(0, after - MOST_A_LINE), after)]
        best.append(min(ways))
    starts, at = [], count
    while at > 0:
        at = best[at][1]
        starts.append(at)
    return starts[::-1]
