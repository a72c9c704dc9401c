"""The arrangement as single systems for a screen, and where in each drawing every bar and every onset stands.

A page of paper is laid out once; a screen may be as narrow as a phone and as wide as a desk, and shows a system or two
at a time. So each system is a drawing of its own, as wide as is asked for. What comes again is written out: on a screen
nobody leaps back for a repeat.

Conventions: beats in quarters from the first downbeat of the form: an introduction lies below 0, an ending above the
form's length. Widths are in spaces of the staff. Elements of a drawing are named by their ``id``, which is unique
within the drawing. Music is engraved by verovio, of which :mod:`companion.engrave.page` has all that is said.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from companion.arrange.request import Request
from companion.chart.model import Chart
from companion.engrave.page import in_plain_letters, lay_music_out, open_engraver, with_headings_in, with_lines_broken
from companion.engrave.paper import MARGIN_MM, Paper
from companion.engrave.programme import chorus_content
from companion.engrave.score import SheetContent, lay_out
from companion.engrave.sheet import LEFT, RIGHT, Sheet
from companion.messages import EventKind

STAFF_MM = 8.0
"""Height of a staff in the drawing; how large it comes out is the screen's business."""
SPACE_MM = STAFF_MM / 4
NARROWEST, WIDEST = 24.0, 400.0
"""Widths that are engraved, in spaces."""
TIGHT = {
    "adjustPageHeight": True,
    "pageMarginTop": 15,
    "pageMarginBottom": 15,
    "svgFormatRaw": True,
    "minLastJustification": 0.25,
}
"""What the engraver is told where each page is cut to its music. Where four easy bars take a third of a wide line,
the last ones stand as far apart as those above; one or two alone don't."""
_MEASURE = re.compile(r'<g id="([^"]+)" class="measure"')
_ID = re.compile(r'<g id="([^"]+)"')
_FRAME = re.compile(r'<svg [^>]*?viewBox="0 0 ([\d.]+) ([\d.]+)"[^>]*>')
_STYLE = re.compile(r"<style[^>]*>.*?</style>|<desc>.*?</desc>", re.DOTALL)
_BRACE = 45
"""How far a brace reaches into the margin, in units of the drawing's frame (tenths of a millimetre)."""
_EDGE = 8
"""Left at the right, for the last line's thickness."""


@dataclass(frozen=True)
class SystemBar:
    """A bar of a system."""

    number: int
    """As in :class:`companion.engrave.sheet.Bar`."""
    start: float
    length: float
    element: str
    """Its id in the drawing, by which the page finds its place."""
    onsets: tuple[tuple[float, str], ...]
    """Beat and element of what begins in it, notes or rests: one a beat, in order."""


@dataclass(frozen=True)
class System:
    """One line of music."""

    svg: str
    bars: tuple[SystemBar, ...]


def engraved_systems(
    chart: Chart,
    width: float,
    request: Request,
    *,
    event: EventKind | None = None,
    staves: tuple[int, ...] = (RIGHT, LEFT),
) -> list[System]:
    """Engrave one time through the form.

    Parameters
    ----------
    chart : Chart
    width : float
        Of a system, in spaces.
    request : Request
        Which chorus it is, and how its parts are arranged.
    event : str, optional
        The event that the chorus belongs to, where an order of events is played; the introduction is there before the
        first, and the ending after each.
    staves : tuple of int
        1: the right hand's, 2: the left hand's.

    Raises
    ------
    UseError
        The engraver isn't installed, or can't make anything of the music.
    """
    content = chorus_content(chart, request, event, staves)
    sheet = lay_out(chart, chart.unfold(), content, staves, fold=False)
    paper = Paper(min(max(width, NARROWEST), WIDEST) * SPACE_MM + 2 * MARGIN_MM, 100.0)
    engraver = open_engraver()
    sheet = a_page_each(with_lines_broken(engraver, sheet, paper, STAFF_MM))
    count = lay_music_out(engraver, sheet, paper, STAFF_MM, breaks="encoded", **TIGHT)
    drawn = [engraver.renderToSVG(page) for page in range(1, count + 1)]
    onsets = _onsets(engraver, content)
    return list(_with_places(drawn, content, onsets))


def a_page_each(sheet: Sheet) -> Sheet:
    """The sheet with each of its lines on a page of its own."""
    return replace(sheet, bars=tuple(replace(bar, new_page=bar.new_line) for bar in sheet.bars))


def _onsets(engraver: Any, content: SheetContent) -> list[tuple[float, str]]:
    """Beat and element of all that begins, in order: notes before rests."""
    first = float(content.bars[0][1])
    found = []
    for row in engraver.renderToTimemap({"includeMeasures": False, "includeRests": True}):
        for element in (*row.get("on", ()), *row.get("restsOn", ())):
            found.append((round(row["qstamp"] + first, 4), element))
    return found


def _with_places(drawn: Sequence[str], content: SheetContent, onsets: Sequence[tuple[float, str]]) -> Iterable[System]:
    bars = iter(content.bars)
    for svg in drawn:
        there, drawn_here = [], set(_ID.findall(svg))
        begins = [(beat, element) for beat, element in onsets if element in drawn_here]
        for element in _MEASURE.findall(svg):
            number, start, length = next(bars)
            there.append(SystemBar(number, float(start), float(length), element, _within(begins, start, length)))
        if there:
            yield System(framed(svg), tuple(there))


def _within(onsets: Sequence[tuple[float, str]], start: Fraction, length: Fraction) -> tuple[tuple[float, str], ...]:
    found: dict[float, str] = {}
    for beat, element in onsets:
        if start <= beat < start + length:
            found.setdefault(beat, element)
    return tuple(sorted(found.items()))


def framed(svg: str) -> str:
    """A drawing without its margins and without rules of style: the screen has its own."""
    svg = _STYLE.sub("", with_headings_in(in_plain_letters(svg)))
    frame = _FRAME.search(svg)
    if frame is None:
        return svg
    wide, high = frame[1], frame[2]
    left, right = MARGIN_MM * 10 - _BRACE, float(wide) - MARGIN_MM * 10 + _EDGE
    cut = frame[0].replace(f"0 0 {wide} {high}", f"{left:g} 0 {right - left:g} {high}")
    inside = '<svg class="definition-scale"'  # as large as the page, whatever is cut off
    return svg.replace(frame[0], cut, 1).replace(inside, f'{inside} width="{wide}" height="{high}"', 1)
