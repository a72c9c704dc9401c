"""A sheet as pages: SVG, and PDF made of them.

Conventions: A4 upright; a unit of the outer frame is a quarter of a millimetre, one of the engraver's a hundredth.
The music is engraved by verovio, the PDF is made by typst; both are the extra ``print``. The engraver is asked twice
before it engraves: for the width of each bar, and for the height of each line; :mod:`companion.engrave.breaks` decides
where lines and pages end. Accidentals in chord symbols come out of the engraver as letters of a music font which few
readers of SVG have: they are put back into Unicode.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.engrave import header
from companion.engrave.breaks import SystemHeight, lined, page_breaks
from companion.engrave.musicxml_out import musicxml
from companion.engrave.sheet import Sheet
from companion.errors import UseError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

WIDTH_MM, HEIGHT_MM = 210, 297
MARGIN_MM = 12
TOP_MM = 15
"""From the edge of a page to its music; on the first one the header's height."""
BOTTOM_MM = 13
STAFF_MM = {1: 7.6, 2: 7.0}
"""Height of a staff, alone and in a pair: what can be read at a metre, and what printed piano music has (common
practice)."""
EMPTY_MM = 8.0
"""Height of the empty lines that stand in the header's place."""
GAP_MM = 2.5
"""The least between the ink of two lines."""
INSTALL = "install companion[print]"
_UNICODE = {
    "\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\ue263": "♯♯", "\ue264": "♭♭", "\uea63": "♭♭", "\uea64": "♭",
    "\uea65": "♮", "\uea66": "♯", "\uea67": "♯♯", "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "♯♯",
    "\ued64": "♭♭", "\ueca3": "𝅗𝅥", "\ueca5": "♩", "\ueca7": "♪", "\uecb7": ".",
}  # fmt: skip
"""Letters of the music font (SMuFL 1.4) and what text fonts have for them: none has double signs."""
_MUSIC_TEXT = re.compile(r'<tspan font-family="[^"]*" font-size="(\d+)px">([\ue000-\uf8ff]+)</tspan>')
_TEXT_SHARE = 0.68
"""Size of a text's letters against that which the engraver gives the music font beside them."""
_BOX = re.compile(r'class="(\w+)[^"]* bounding-box"[^>]*>\s*<rect x="-?[\d.]+" y="(-?[\d.]+)" height="(-?[\d.]+)"')
_ASTRAY = ("tie", "octave")
"""Their boxes lie somewhere else where they come from the line before."""
_STAFF = re.compile(r'class="staff".*?<path d="M(-?[\d.]+) (-?[\d.]+) L(-?[\d.]+)', re.DOTALL)
_ROOMS = (1.0, 0.95, 0.9, 0.8, 0.6)
"""Shares of a page that lines may fill: the next one is taken where the engraver needed more than was foreseen."""
_SPILT_MM = 4.0
"""Ink may reach so far into the margin at the foot of a page."""


def pages(sheet: Sheet, *, progress: Callable[[float], None] | None = None) -> list[str]:
    """Engrave a sheet.

    Parameters
    ----------
    sheet : Sheet
    progress : callable, optional
        Told the share done, 0-1.

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
    told = progress or (lambda share: None)
    broken = _broken(engraver, sheet)
    told(0.3)
    lines = _measured(engraver, broken)
    told(0.6)
    for room in _ROOMS:
        laid = _paged(broken, lines, room)
        count = _engrave(engraver, laid, breaks="encoded", justifyVertically=True)
        drawn = [engraver.renderToSVG(page) for page in range(1, count + 1)]
        if not _spilt(drawn, lines):
            break
    told(1.0)
    return [_finished(svg, laid, page, count) for page, svg in enumerate(drawn, 1)]


def _engraver() -> Any:
    try:
        import verovio
    except ImportError:
        raise UseError("pages need the engraver verovio, which isn't installed", mend=INSTALL) from None
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _broken(engraver: Any, sheet: Sheet) -> Sheet:
    """The sheet with its lines broken by what each bar asks for."""
    one_line = replace(sheet, bars=tuple(replace(bar, new_line=False, new_page=False) for bar in sheet.bars))
    _engrave(engraver, one_line, breaks="none")
    widths = []
    for measure in engraver.renderToSVG(1).split('class="measure"')[1:]:
        if (staff := _STAFF.search(measure)) is None:
            return sheet
        widths.append((float(staff[3]) - float(staff[1])) / 100)
    if len(widths) != len(sheet.bars):
        return sheet
    space = _staff_mm(sheet) / 4
    clef_and_key = (4.5 + abs(sheet.fifths)) * space
    widths[0] = max(space, widths[0] - clef_and_key - 2.5 * space)
    return replace(sheet, bars=tuple(lined(sheet.bars, widths, WIDTH_MM - 2 * MARGIN_MM - clef_and_key)))


def _measured(engraver: Any, sheet: Sheet) -> list[SystemHeight]:
    """What height each line takes; empty when that can't be told."""
    _engrave(engraver, sheet, breaks="line", pageHeight=60000, svgBoundingBoxes=True)
    drawn = [line for page in range(1, engraver.getPageCount() + 1) for line in _lines(engraver.renderToSVG(page))]
    heads = [bool(bar.heading) for k, bar in enumerate(sheet.bars) if bar.new_line or k == 0]
    if len(drawn) != len(heads):
        return []
    return [SystemHeight(*ink, section=head) for ink, head in zip(drawn, heads, strict=True)]


def _paged(sheet: Sheet, lines: Sequence[SystemHeight], room: float) -> Sheet:
    """The sheet with its pages turned, each filled up to a share of its height."""
    if not lines:
        return sheet
    other = (HEIGHT_MM - TOP_MM - BOTTOM_MM) * room
    first = other - _header_mm(sheet) + TOP_MM
    starts = [k for k, bar in enumerate(sheet.bars) if bar.new_line or k == 0]
    begin = {starts[line] for line in page_breaks(lines, first, other, GAP_MM)[1:]}
    return replace(sheet, bars=tuple(replace(bar, new_page=k in begin) for k, bar in enumerate(sheet.bars)))


def _spilt(svgs: Sequence[str], lines: Sequence[SystemHeight]) -> bool:
    """Whether the last line of a page with several reaches down out of it."""
    last = -1
    for svg in svgs:
        places = [float(staff[2]) / 100 for line in svg.split('class="system"')[1:] if (staff := _STAFF.search(line))]
        last += len(places)
        if len(places) > 1 and lines and last < len(lines):
            foot = TOP_MM + places[-1] + lines[last].below
            if foot > HEIGHT_MM - BOTTOM_MM + _SPILT_MM:
                return True
    return False


def _lines(svg: str) -> list[tuple[float, float]]:
    """How far each line's ink reaches above and below its first staff's top line, in millimetres."""
    found = []
    for line in svg.split('class="pgHead')[0].split('class="system"')[1:]:
        staff = _STAFF.search(line)
        boxes = [(float(y), float(y) + float(height)) for what, y, height in _BOX.findall(line) if what not in _ASTRAY]
        if staff is None or not boxes:
            continue
        place = float(staff[2])
        top, bottom = min(top for top, _ in boxes), max(bottom for _, bottom in boxes)
        found.append(((place - top) / 100, (bottom - place) / 100))
    return found


def _staff_mm(sheet: Sheet) -> float:
    return STAFF_MM[len(sheet.staves)]


def _header_mm(sheet: Sheet) -> float:
    return header.height(sheet) / 4


def _engrave(engraver: Any, sheet: Sheet, **options: Any) -> int:
    """Lay the music out; how many pages it takes."""
    unit = _staff_mm(sheet) * 10 / 8
    if options["breaks"] != "none" and not any(bar.new_line or bar.new_page for bar in sheet.bars):
        options["breaks"] = "auto"  # one line, which it would warn of
    engraver.setOptions(
        {
            "pageWidth": WIDTH_MM * 10,
            "pageHeight": HEIGHT_MM * 10,
            "pageMarginTop": TOP_MM * 10,
            "pageMarginBottom": BOTTOM_MM * 10,
            "pageMarginLeft": MARGIN_MM * 10,
            "pageMarginRight": MARGIN_MM * 10,
            "scale": 100,
            "unit": unit,
            "header": "encoded",
            "bottomMarginHeader": min(24.0, max(2.0, (_header_mm(sheet) - TOP_MM - EMPTY_MM) * 10 / unit)),
            "footer": "none",
            "svgViewBox": True,
            "svgBoundingBoxes": False,
            "spacingSystem": 2,
            "spacingStaff": 10,
            "justifyVertically": False,
            "justificationMaxVertical": 0.3,
            "justificationBraceGroup": 0.15,
            "justificationStaff": 0.15,
            "minLastJustification": 0.4,
            "lyricSize": 5.2,  # chord symbols, too
            "xmlIdSeed": 1,
            **options,
        }
    )
    if not engraver.loadData(musicxml(sheet, for_engraver=True)):
        raise UseError(f"the engraver can't read '{sheet.title}'", mend="print it as .musicxml instead")
    return int(engraver.getPageCount())


def _finished(svg: str, sheet: Sheet, page: int, count: int) -> str:
    """An engraved page with its title or number, and with accidentals that every reader of SVG can show."""
    svg = _MUSIC_TEXT.sub(_in_unicode, svg).replace("𝄫", "♭♭").replace("𝄪", "♯♯")
    frame = f'<svg width="{WIDTH_MM}mm" height="{HEIGHT_MM}mm" viewBox="0 0 {header.WIDTH} {header.HEIGHT}" '
    frame += 'version="1.1" xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">\n'
    paper = f'<rect width="{header.WIDTH}" height="{header.HEIGHT}" fill="white"/>\n'
    return frame + paper + "\n".join(header.head(sheet, page, count)) + "\n" + svg + "\n</svg>\n"


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
