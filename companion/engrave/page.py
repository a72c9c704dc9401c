"""A sheet as pages: SVG, and PDF made of them.

Conventions: A4 upright; a unit of the SVG's outer frame is a quarter of a millimetre. The music is engraved by verovio,
the PDF is made by typst; both are the extra ``print``. Titles and page numbers are set here. Accidentals in chord
symbols come out of the engraver as letters of a music font which few readers of SVG have: they are put back into
Unicode.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from companion.engrave.musicxml_out import musicxml
from companion.engrave.score import Sheet
from companion.errors import UseError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

WIDTH_MM, HEIGHT_MM = 210, 297
UNITS_A_MM = 4
ENGRAVER_UNITS_A_MM = 10
SPACINGS = (14, 11, 8, 6)
"""Space between lines, in the engraver's units, from the widest: the widest one is taken that saves a page."""
INSTALL = "install companion[print]"
_UNICODE = {
    "\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\ue263": "𝄪", "\ue264": "♭♭", "\uea63": "♭♭", "\uea64": "♭",
    "\uea65": "♮", "\uea66": "♯", "\uea67": "𝄪", "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "𝄪",
    "\ued64": "♭♭", "\ueca3": "𝅗𝅥", "\ueca5": "♩", "\ueca7": "♪", "\uecb7": ".",
}  # fmt: skip
"""Letters of the music font (SMuFL 1.4) and what text fonts have for them."""
_MUSIC_TEXT = re.compile(r'<tspan font-family="[^"]*" font-size="(\d+)px">([\ue000-\uf8ff]+)</tspan>')
_LINE = re.compile(r'class="system"')
_TEXT_SHARE = 0.68
"""Size of a text's letters against that which the engraver gives the music font beside them."""


def pages(sheet: Sheet) -> list[str]:
    """Engrave a sheet.

    Returns
    -------
    list of str
        An SVG document a page.

    Raises
    ------
    UseError
        The engraver isn't installed, or can't make anything of the sheet.
    """
    engraver = _engraver()
    counts = {spacing: _engrave(engraver, sheet, spacing) for spacing in SPACINGS}
    fewest = min(counts.values())
    spacing = next(spacing for spacing in SPACINGS if counts[spacing] == fewest)
    count = _engrave(engraver, sheet, spacing)
    if count > 1:
        full = min(_lines(engraver.renderToSVG(page)) for page in range(1, count))
        turned = turned_at_sections(sheet, full)
        if sum(bar.new_page for bar in turned.bars) < count:
            count = _engrave(engraver, turned, spacing)
    return [_finished(engraver.renderToSVG(page), sheet, page, count) for page in range(1, count + 1)]


def _lines(svg: str) -> int:
    return len(_LINE.findall(svg))


def turned_at_sections(sheet: Sheet, full: int) -> Sheet:
    """The sheet with its pages turned where a section ends, as far as that goes with so many lines a page."""
    starts = [k for k, bar in enumerate(sheet.bars) if bar.new_line or k == 0]
    bars = list(sheet.bars)
    first = 0
    while len(starts) - first > full:
        ends = range(first + full, first, -1)
        first = next((line for line in ends if bars[starts[line]].heading), first + full)
        bars[starts[first]] = replace(bars[starts[first]], new_page=True)
    return replace(sheet, bars=tuple(bars))


def _engraver() -> Any:
    try:
        import verovio
    except ImportError:
        raise UseError("pages need the engraver verovio, which isn't installed", mend=INSTALL) from None
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _engrave(engraver: Any, sheet: Sheet, spacing: int) -> int:
    """Lay the music out; how many pages it takes."""
    lead = len(sheet.staves) == 1
    engraver.setOptions(
        {
            "pageWidth": WIDTH_MM * ENGRAVER_UNITS_A_MM,
            "pageHeight": HEIGHT_MM * ENGRAVER_UNITS_A_MM,
            "pageMarginTop": 220,
            "pageMarginBottom": 120,
            "pageMarginLeft": 120,
            "pageMarginRight": 120,
            "scale": 100,
            "unit": 9 if lead else 8.0,
            "breaks": "encoded" if any(bar.new_page for bar in sheet.bars) else "line",
            "header": "none",
            "footer": "none",
            "svgViewBox": True,
            "spacingSystem": spacing,
            "spacingStaff": 10,
            "lyricSize": 5.2,  # chord symbols, too
            "xmlIdSeed": 1,
        }
    )
    if not engraver.loadData(musicxml(sheet, degrees=False)):
        raise UseError(f"the engraver can't read '{sheet.title}'", mend="print it as .musicxml instead")
    return int(engraver.getPageCount())


def _finished(svg: str, sheet: Sheet, page: int, count: int) -> str:
    """An engraved page with its title or number, and with accidentals that every reader of SVG can show."""
    svg = _MUSIC_TEXT.sub(_in_unicode, svg)
    width, height = WIDTH_MM * UNITS_A_MM, HEIGHT_MM * UNITS_A_MM
    frame = f'<svg width="{WIDTH_MM}mm" height="{HEIGHT_MM}mm" viewBox="0 0 {width} {height}" version="1.1" '
    frame += 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">\n'
    paper = f'<rect width="{width}" height="{height}" fill="white"/>\n'
    return frame + paper + "\n".join(_titles(sheet, page, count)) + "\n" + svg + "\n</svg>\n"


def _titles(sheet: Sheet, page: int, count: int) -> list[str]:
    width, height = WIDTH_MM * UNITS_A_MM, HEIGHT_MM * UNITS_A_MM

    def line(text: str, x: float, y: float, size: int, anchor: str) -> str:
        where = f'x="{x:g}" y="{y:g}" font-size="{size}" text-anchor="{anchor}"'
        return f'<text {where} font-family="Times, serif">{escape(text)}</text>'

    lines = [line(f"{page} / {count}", width / 2, height - 26, 12, "middle")] if count > 1 else []
    if page > 1:
        return [*lines, line(sheet.title, width / 2, 56, 14, "middle")]
    size = 30 if len(sheet.title) < 40 else 30 * 40 // len(sheet.title)
    lines.append(line(sheet.title, width / 2, 56, size, "middle"))
    if sheet.composer:
        lines.append(line(sheet.composer, width - 48, 78, 13, "end"))
    return lines


def _in_unicode(found: re.Match[str]) -> str:
    text = "".join(_UNICODE.get(letter, letter) for letter in found[2])
    return f'<tspan font-size="{round(int(found[1]) * _TEXT_SHARE)}px">{text}</tspan>'


def pdf(svgs: Sequence[str], title: str, *, progress: Callable[[float], None] | None = None) -> bytes:
    """Pages as one PDF.

    Parameters
    ----------
    svgs : sequence of str
        From :func:`pages`.
    title : str
        What readers show as the document's name.
    progress : callable, optional
        Told the share done, 0-1.

    Raises
    ------
    UseError
        typst isn't installed.
    """
    try:
        import typst
    except ImportError:
        raise UseError("a PDF needs typst, which isn't installed", mend=INSTALL) from None
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        quoted = title.replace("\\", "\\\\").replace('"', '\\"')
        lines = [
            f'#set document(title: "{quoted}", date: none)',
            f"#set page(width: {WIDTH_MM}mm, height: {HEIGHT_MM}mm, margin: 0mm)",
        ]
        for number, svg in enumerate(svgs, 1):
            (folder / f"{number}.svg").write_text(svg, encoding="utf-8")
            lines.append(f'#image("{number}.svg", width: {WIDTH_MM}mm)')
        (folder / "sheet.typ").write_text("\n".join(lines), encoding="utf-8")
        if progress:
            progress(0.5)
        return bytes(typst.compile(str(folder / "sheet.typ"), format="pdf"))
