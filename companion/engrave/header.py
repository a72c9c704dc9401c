"""The head of a page: title, composer, form, order of events, feel and tempo.

Conventions: units of the SVG's outer frame, a quarter of a millimetre. Notes in the tempo line are
drawn with the engraver's own music font, shape by shape, so that no reader of SVG needs to have it.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from xml.sax.saxutils import escape

from companion.engrave.paper import Paper
from companion.engrave.sheet import Sheet
from companion.engrave.tempo_marking import TempoMarking, tempo_marking

MARGIN = 48
TITLE = 30
MOST_LETTERS = 40
"""A longer title is set smaller."""
_FONT = 'font-family="Times, serif"'
_FULL, _HOLLOW = "E0A4", "E0A3"
_FLAG = "E240"
"""SMuFL 1.4: note heads and the quaver's flag."""
_EM = 24.0
"""Size of the music font in the tempo line: four spaces of a staff."""


def height(sheet: Sheet) -> float:
    """From the top of the first page to where its music may begin."""
    return 112.0 + 17 * len(_under_the_title(sheet))


def head(sheet: Sheet, paper: Paper, page: int, count: int) -> list[str]:
    """SVG elements for the head and foot of a page."""
    width, height = paper.units_wide, paper.units_high
    lines = [_text(f"{page} / {count}", width / 2, height - 26, 12, "middle")] if count > 1 else []
    if page > 1:
        return [*lines, _text(_shortened(sheet.title), width / 2, 40, 13, "middle")]
    title = _shortened(sheet.title, 90)
    size = TITLE if len(title) < MOST_LETTERS else TITLE * MOST_LETTERS // len(title)
    lines.append(_text(title, width / 2, 58, size, "middle"))
    y = 78.0
    for text in _under_the_title(sheet):
        lines.append(_text(text, width / 2, y, 13, "middle"))
        y += 17
    lines += _tempo_line(tempo_marking(sheet), MARGIN, y + 18)
    if sheet.composer:
        lines.append(_text(_shortened(sheet.composer), width - MARGIN, y + 18, 13, "end"))
    return lines


def _under_the_title(sheet: Sheet) -> list[str]:
    form = "\u2002".join(sheet.form) if len(sheet.form) > 1 else ""
    return [_shortened(line, 110) for line in (form, sheet.order) if line]


def _shortened(text: str, letters: int = 70) -> str:
    return text if len(text) <= letters else f"{text[: letters - 1].rstrip()}…"


def _text(text: str, x: float, y: float, size: int, anchor: str, weight: str = "normal") -> str:
    where = f'x="{x:g}" y="{y:g}" font-size="{size}" text-anchor="{anchor}" font-weight="{weight}"'
    return f"<text {where} {_FONT}>{escape(text)}</text>"


# feel and tempo


def _tempo_line(how: TempoMarking, x: float, y: float) -> list[str]:
    drawn: list[str] = []
    if how.words:
        drawn.append(_text(how.words, x, y, 16, "start", "bold"))
        x += 8.2 * len(how.words) + 10
    if how.swung:
        shapes, x = _equation(x, y)
        drawn += shapes
        x += 16
    drawn.append(_note(x, y, "half" if how.beat == "half" else "quarter", dotted=how.dotted))
    x += 16 + 5 * how.dotted
    drawn.append(_text(f"= {how.per_minute}", x, y, 16, "start"))
    return drawn


def _equation(x: float, y: float) -> tuple[list[str], float]:
    """Two quavers = a crotchet and a quaver of a triplet; and where it ends."""
    stem = 7.0
    top = y - 20
    drawn = [
        _text("(", x, y, 16, "start"),
        _head(x + 8, y, _FULL), _stem(x + 8 + stem, y, top),
        _head(x + 24, y, _FULL), _stem(x + 24 + stem, y, top),
        f'<path d="M{x + 8 + stem - 0.5:g} {top:g} H{x + 24 + stem + 0.5:g} v3.2 H{x + 8 + stem - 0.5:g} z"/>',
        _text("=", x + 38, y, 16, "start"),
        _note(x + 54, y, "quarter"), _note(x + 73, y, "eighth"),
        f'<path d="M{x + 54:g} {top - 3:g} v-4 h10 M{x + 73:g} {top - 7:g} h10 v4" fill="none" stroke="black"/>',
        _text("3", x + 68.5, top - 3, 10, "middle", "bold"),
        _text(")", x + 89, y, 16, "start"),
    ]  # fmt: skip
    return drawn, x + 95


def _note(x: float, y: float, value: str, *, dotted: bool = False) -> str:
    shapes = _head(x, y, _HOLLOW if value == "half" else _FULL) + _stem(x + 7, y, y - 20)
    if value == "eighth":
        shapes += _glyph(x + 7, y - 20, _FLAG)
    if dotted:
        shapes += f'<circle cx="{x + 11:g}" cy="{y - 3:g}" r="1.3"/>'
    return shapes


def _head(x: float, y: float, code: str) -> str:
    return _glyph(x, y - 3, code)


def _stem(x: float, y: float, top: float) -> str:
    return f'<path d="M{x:g} {y - 3.6:g} V{top:g}" stroke="black" stroke-width="1"/>'


def _glyph(x: float, y: float, code: str) -> str:
    scale = _EM / 1000
    return f'<path transform="translate({x:g} {y:g}) scale({scale:g} {-scale:g})" d="{_shape(code)}"/>'


@cache
def _shape(code: str) -> str:
    """A shape of the music font that comes with the engraver, y upwards, 1000 units high; empty when it isn't there."""
    import verovio

    folder = Path(verovio.__file__).parent / "data" / "Leipzig"
    for path in folder.glob(f"{code}*.xml"):
        if found := re.search(r'\bd="([^"]*)"', path.read_text(encoding="utf-8")):
            return found[1]
    return ""
