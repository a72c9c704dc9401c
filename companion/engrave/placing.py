"""Where each line of music stands on its page.

The engraver sets the lines of a page one below the other; here they are moved so that they fill it evenly. A page that
isn't the last is filled from top to bottom, as far as the space between lines doesn't tear it; the last one has no more
space than the one before it. Each line has its bar number in the margin, where nothing can stand in its way.

Conventions: millimetres from the page's upper edge, but for what is read out of and put into the engraver's SVG, where
a unit is a hundredth of a millimetre, from the margins.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from companion.engrave.breaks import SystemHeight
from companion.engrave.sheet import Bar

GAP_MM = 2.5
"""The least between the ink of two lines."""
MOST_MM = 15.0
"""The most; a page that needs more isn't filled to its foot."""
NUMBER_MM = 2.6
"""Height of the letters of a bar number."""
_BOX = re.compile(r'class="(\w+)[^"]* bounding-box"[^>]*>\s*<rect x="-?[\d.]+" y="(-?[\d.]+)" height="(-?[\d.]+)"')
_ASTRAY = ("tie", "octave")
"""Their boxes lie somewhere else where they come from the line before."""
_SYSTEM = re.compile(r'<g id="[^"]*" class="system">')
_STAFF = re.compile(r'class="staff".*?<path d="M(-?[\d.]+) (-?[\d.]+) L(-?[\d.]+)', re.DOTALL)
_BRACE = 380
"""How far a brace reaches into the margin."""
_ROMAN = ((10, "x"), (9, "ix"), (5, "v"), (4, "iv"), (1, "i"))


def bar_widths(svg: str) -> list[float]:
    """What each bar of an engraved line takes; empty when that can't be told."""
    widths = []
    for measure in svg.split('class="measure"')[1:]:
        if (staff := _STAFF.search(measure)) is None:
            return []
        widths.append((float(staff[3]) - float(staff[1])) / 100)
    return widths


def ink(svg: str) -> list[tuple[float, float]]:
    """How far each line's ink reaches above and below its first staff's top line, from an SVG with bounding boxes."""
    found = []
    for line in _systems(svg):
        staff = _STAFF.search(line)
        boxes = [(float(y), float(y) + float(height)) for what, y, height in _BOX.findall(line) if what not in _ASTRAY]
        if staff is None or not boxes:
            continue
        place = float(staff[2])
        top, bottom = min(top for top, _ in boxes), max(bottom for _, bottom in boxes)
        found.append(((place - top) / 100, (bottom - place) / 100))
    return found


def spread(pages: Sequence[Sequence[SystemHeight]], rooms: Sequence[float], tops: Sequence[float]) -> list[list[float]]:
    """The place of each line of each page: that of the top line of its first staff.

    Parameters
    ----------
    pages : sequence of sequence of SystemHeight
    rooms : sequence of float
        Height there is on each page.
    tops : sequence of float
        Where the room begins.
    """
    found: list[list[float]] = []
    before = MOST_MM
    for number, (lines, room, top) in enumerate(zip(pages, rooms, tops, strict=True), 1):
        free = room - sum(line.above + line.below for line in lines)
        gap = min(MOST_MM, free / max(1, len(lines) - 1))
        if number == len(pages):
            gap = min(gap, before)
        gap = max(gap, 0.0)
        before = gap
        places, at = [], top
        for line in lines:
            places.append(at + line.above)
            at += line.above + line.below + gap
        found.append(places)
    return found


def moved(svg: str, places: Sequence[float], margin: float, numbers: Sequence[str]) -> str:
    """An engraved page with its lines at their places, and their numbers beside them.

    Parameters
    ----------
    svg : str
    places : sequence of float
        Of the lines, top to bottom.
    margin : float
        The engraver's own margin at the top.
    numbers : sequence of str
        Of the bars that the lines begin with.
    """
    heads = list(_SYSTEM.finditer(svg))
    if len(heads) != len(places):
        return svg
    parts = [svg[: heads[0].start()]]
    ends = [head.start() for head in heads[1:]] + [len(svg)]
    for head, end, place, number in zip(heads, ends, places, numbers, strict=True):
        line = svg[head.end() : end]
        staff = _STAFF.search(line)
        at = float(staff[2]) if staff else 0.0
        tag = head[0].replace(">", f' transform="translate(0, {round((place - margin) * 100 - at)})">')
        parts += [tag, _number(number, at, braced='class="grpSym"' in line), line]
    return "".join(parts)


def _number(text: str, at: float, *, braced: bool) -> str:
    """A bar number in the margin beside the first staff, left of the brace."""
    size = round(NUMBER_MM * 1.4 * 100)
    place = f'x="{-_BRACE if braced else -100}" y="{round(at + size * 0.8)}"'
    style = f'text-anchor="end" font-size="{size}px" font-style="italic"'
    return f'<g class="mNum"><text {place} {style}>{text}</text></g>'


def line_numbers(bars: Sequence[Bar]) -> list[str]:
    """What stands beside each line: the number of its first whole bar; those of an introduction are roman."""
    starts = [k for k, bar in enumerate(bars) if bar.new_line or k == 0] + [len(bars)]
    first = min((bar.number for bar in bars), default=1)
    counted = []
    for begin, after in pairwise(starts):
        bar = next((bar for bar in bars[begin:after] if bar.length * 2 > bar.metre.bar), bars[begin])
        counted.append(str(bar.number) if bar.number > 0 else roman(bar.number - first + 1))
    return counted


def roman(number: int) -> str:
    """A small number in roman letters.

    >>> roman(1), roman(4), roman(18)
    ('i', 'iv', 'xviii')
    """
    text = ""
    for value, letters in _ROMAN:
        text += letters * (number // value)
        number %= value
    return text


def _systems(svg: str) -> list[str]:
    return svg.split('class="pgHead')[0].split('class="system"')[1:]
