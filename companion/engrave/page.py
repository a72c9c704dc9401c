"""A sheet as pages: SVG, and PDF made of them.

Conventions: a unit of the outer frame is a quarter of a millimetre, one of the engraver's a hundredth. The music is
engraved by verovio, the PDF is made by typst; both are the extra ``print``. The engraver is asked twice before it
engraves: for the width of each bar, and for the height of each line; :mod:`companion.engrave.breaks` decides where
lines and pages end, :mod:`companion.engrave.placing` where on a page each line stands. The staff is as large as can be
without another page. Accidentals in chord symbols come out of the engraver as letters of a music font which few readers
of SVG have: they are put back into Unicode.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.engrave import header
from companion.engrave.breaks import EASY, SystemHeight, lined, page_breaks
from companion.engrave.musicxml_out import musicxml
from companion.engrave.musicxml_signs import SMALL
from companion.engrave.paper import BOTTOM_MM, MARGIN_MM, PAPERS, TOP_MM, Paper, staff_sizes
from companion.engrave.placing import GAP_MM, bar_widths, ink, line_numbers, moved, spread
from companion.engrave.sheet import Sheet
from companion.errors import UseError
from companion.installation import install_command
from companion.preferences import preferences
from companion.preferences.paper import PaperPreferences

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

LONGEST_MM = 5000.0
"""Of a long page; the engraver takes no more than 6 metres."""
LINE_GAP_MM = 5.0
"""Between the ink of two lines of a long page."""
PACKAGES = ("verovio", "typst")
"""What the extra ``print`` consists of."""
_UNICODE = {
    "\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\ue263": "♯♯", "\ue264": "♭♭", "\uea63": "♭♭", "\uea64": "♭",
    "\uea65": "♮", "\uea66": "♯", "\uea67": "♯♯", "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "♯♯",
    "\ued64": "♭♭", "\ueca3": "𝅗𝅥", "\ueca5": "♩", "\ueca7": "♪", "\uecb7": ".",
}  # fmt: skip
"""Letters of the music font (SMuFL 1.4) and what text fonts have for them: none has double signs."""
_MUSIC_TEXT = re.compile(r'<tspan font-family="[^"]*" font-size="(\d+)px">([\ue000-\uf8ff]+)</tspan>')
_REMARK = re.compile(rf'<g id="[^"]*" class="dir">(?:(?!</g>).)*{SMALL}.*?</g>', re.DOTALL)
_LINE = re.compile(r'<text x="-?\d+" y="(-?\d+)".*?</text>', re.DOTALL)
_SIGNED = re.compile(r"([♭♯♮]+)([^♭♯♮<]*)")
_SIZE = re.compile(r'font-size="(\d+)px"')
_HEADING = re.compile(r'(class="reh")([^>]*>\s*<rect [^>]*?x="(-\d+)" y="(\d+)" height="(\d+)" width="(\d+)")')
_HEADING_TEXT = re.compile(r'(class="reh"[^>]*>\s*<rect [^>]*? width="(\d+)"[^>]*>\s*<text)')
_CLEF_SPACES, _METRE_SPACES = 4.5, 2.5
"""Spaces of a staff that a clef and a time signature take; an accidental takes one."""
_FRAME_CLEAR = 130
"""Units between a heading's frame and its letters."""
_SYMBOL = re.compile(r'class="harm"[^>]*>\s*<text x="(\d+)" y="(\d+)"')
_SYMBOL_CLEAR, _SYMBOL_HIGH = 150, 350
"""Units between a heading and the chord symbol beside it; and of a symbol above its baseline."""
_REMARK_SHARE = 0.72
"""Size of a remark against other words."""
_TEXT_SHARE = 0.68
"""Size of a text's letters against that which the engraver gives the music font beside them."""


@dataclass(frozen=True)
class _Laid:
    """A sheet with its lines and pages broken."""

    sheet: Sheet
    staff: float
    """Height of a staff in millimetres."""
    lines: tuple[SystemHeight, ...]
    """What height each takes; none when that can't be told."""
    pages: tuple[int, ...] = (0,)
    """The lines that pages begin with."""


def pages(sheet: Sheet, paper: Paper | None = None, *, progress: Callable[[float], None] | None = None) -> list[str]:
    """Engrave a sheet.

    Parameters
    ----------
    sheet : Sheet
    paper : Paper, optional
        Otherwise that of ``paper.toml``.
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
    likes = preferences(PaperPreferences)
    paper = paper or PAPERS[likes.size]
    engraver = open_engraver()
    told = progress or (lambda share: None)
    sizes = staff_sizes(likes, sheet.staves)
    laid = _laid(engraver, sheet, paper, sizes[0])
    told(0.3)
    fewest = _pages(laid, sheet, paper, sizes[-1] / sizes[0])
    for size in sizes[1:] if len(fewest) < len(laid.pages) else ():
        smaller = _laid(engraver, sheet, paper, size)
        told(0.5)
        if len(smaller.pages) < len(laid.pages):
            laid = smaller
            break
    told(0.7)
    count = lay_music_out(engraver, laid.sheet, paper, laid.staff, breaks="encoded")
    drawn = [engraver.renderToSVG(page) for page in range(1, count + 1)]
    told(1.0)
    return [_finished(svg, laid.sheet, paper, page, count) for page, svg in enumerate(_placed(drawn, laid, paper), 1)]


def long_page(sheet: Sheet, width: float) -> tuple[str, Paper]:
    """Engrave a sheet on one page, as high as it takes.

    Parameters
    ----------
    sheet : Sheet
    width : float
        Of the page, in millimetres.

    Returns
    -------
    tuple of str and Paper
        The SVG document, and the size of its page.

    Raises
    ------
    UseError
        As :func:`pages`; or it is longer than the engraver can make a page.
    """
    engraver = open_engraver()
    paper = Paper(width, LONGEST_MM)
    laid = _laid(engraver, sheet, paper, staff_sizes(preferences(PaperPreferences), sheet.staves)[-1])
    taken = sum(line.above + line.below + LINE_GAP_MM for line in laid.lines)
    if len(laid.pages) > 1 or not laid.lines:
        raise UseError(f"'{sheet.title}' is too long for one picture", mend="print it instead")
    paper = Paper(width, _top(sheet, 1) + taken + BOTTOM_MM)
    lay_music_out(engraver, laid.sheet, paper, laid.staff, breaks="encoded")
    (svg,) = _placed([engraver.renderToSVG(1)], laid, paper)
    return _finished(svg, laid.sheet, paper, 1, 1), paper


def _how() -> str:
    return f"install it with: {install_command('print', PACKAGES)}"


def open_engraver() -> Any:
    """The engraver, ready. Raises UseError where it isn't installed."""
    try:
        import verovio
    except ImportError:
        raise UseError("pages need the engraver verovio, which isn't installed", mend=_how()) from None
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _laid(engraver: Any, sheet: Sheet, paper: Paper, staff: float) -> _Laid:
    """The sheet broken into lines by what each bar asks for, and into pages by what each line does."""
    broken = with_lines_broken(engraver, sheet, paper, staff)
    lines = tuple(_measured(engraver, broken, paper, staff))
    laid = _Laid(broken, staff, lines)
    if not lines:
        return laid
    turns = _pages(laid, sheet, paper)
    starts = [k for k, bar in enumerate(broken.bars) if bar.new_line or k == 0]
    begin = {starts[line] for line in turns[1:]}
    bars = tuple(replace(bar, new_page=k in begin) for k, bar in enumerate(broken.bars))
    return replace(laid, sheet=replace(broken, bars=bars), pages=turns)


def with_lines_broken(engraver: Any, sheet: Sheet, paper: Paper, staff: float) -> Sheet:
    """The sheet with its lines broken by what each bar asks for."""
    one_line = replace(sheet, bars=tuple(replace(bar, new_line=False, new_page=False) for bar in sheet.bars))
    lay_music_out(engraver, one_line, paper, staff, breaks="none")
    widths = bar_widths(engraver.renderToSVG(1))
    if len(widths) != len(sheet.bars):
        return sheet
    clef_and_key = signs_width(sheet.fifths, staff)
    widths[0] = max(staff / 4, widths[0] - signs_width(sheet.fifths, staff, metre=True))
    return replace(sheet, bars=tuple(lined(sheet.bars, widths, paper.width - 2 * MARGIN_MM - clef_and_key)))


def signs_width(fifths: int, staff: float, *, metre: bool = False) -> float:
    """What clef and key signature take at the beginning of a line, in millimetres; ``metre``: the time signature, too.

    >>> signs_width(-2, 8.0), signs_width(0, 8.0, metre=True)
    (13.0, 14.0)
    """
    return (_CLEF_SPACES + abs(fifths) + _METRE_SPACES * metre) * staff / 4


def _measured(engraver: Any, sheet: Sheet, paper: Paper, staff: float) -> list[SystemHeight]:
    """What height each line takes; empty when that can't be told."""
    lay_music_out(engraver, sheet, paper, staff, breaks="line", pageHeight=60000, svgBoundingBoxes=True)
    drawn = [line for page in range(1, engraver.getPageCount() + 1) for line in ink(engraver.renderToSVG(page))]
    heads = [bool(bar.heading) for k, bar in enumerate(sheet.bars) if bar.new_line or k == 0]
    if len(drawn) != len(heads):
        return []
    return [SystemHeight(*reach, section=head) for reach, head in zip(drawn, heads, strict=True)]


def _pages(laid: _Laid, sheet: Sheet, paper: Paper, scale: float = 1.0) -> tuple[int, ...]:
    """The lines that pages begin with, were the lines so much smaller."""
    lines = [replace(line, above=line.above * scale, below=line.below * scale) for line in laid.lines]
    first, other = (_room(sheet, paper, page) for page in (1, 2))
    easy = EASY if len(sheet.staves) > 1 else None
    return tuple(page_breaks(lines, first, other, GAP_MM, easy)) if lines else (0,)


def _top(sheet: Sheet, page: int) -> float:
    return header.height(sheet) / 4 if page == 1 else TOP_MM


def _room(sheet: Sheet, paper: Paper, page: int) -> float:
    return paper.height - _top(sheet, page) - BOTTOM_MM


def _placed(drawn: Sequence[str], laid: _Laid, paper: Paper) -> list[str]:
    """The engraved pages with their lines spread over them."""
    if not laid.lines or len(drawn) != len(laid.pages):
        return list(drawn)
    edges = [*laid.pages, len(laid.lines)]
    numbers = line_numbers(laid.sheet.bars)
    tops = [_top(laid.sheet, page) for page in range(1, len(drawn) + 1)]
    rooms = [_room(laid.sheet, paper, page) for page in range(1, len(drawn) + 1)]
    places = spread([laid.lines[first:after] for first, after in pairwise(edges)], rooms, tops)
    return [
        moved(svg, where, TOP_MM, numbers[first:after])
        for svg, where, (first, after) in zip(drawn, places, pairwise(edges), strict=True)
    ]


def lay_music_out(engraver: Any, sheet: Sheet, paper: Paper, staff: float, **options: Any) -> int:
    """Lay the music out; how many pages it takes."""
    if options["breaks"] != "none" and not any(bar.new_line or bar.new_page for bar in sheet.bars):
        options["breaks"] = "auto"  # one line, which it would warn of
    engraver.setOptions(
        {
            "pageWidth": round(paper.width * 10),
            "pageHeight": round(paper.height * 10),
            "pageMarginTop": round(TOP_MM * 10),
            "pageMarginBottom": round(BOTTOM_MM * 10),
            "pageMarginLeft": round(MARGIN_MM * 10),
            "pageMarginRight": round(MARGIN_MM * 10),
            "scale": 100,
            "unit": staff * 10 / 8,
            "header": "none",
            "footer": "none",
            "svgViewBox": True,
            "svgBoundingBoxes": False,
            "octaveAlternativeSymbols": True,  # 8va and 8vb rather than 8
            "spacingSystem": 2,
            "spacingStaff": 10,
            "minLastJustification": 0.4,
            "lyricSize": 5.2,  # chord symbols, too
            "xmlIdSeed": 1,
            **options,
        }
    )
    if not engraver.loadData(musicxml(sheet, for_engraver=True)):
        raise UseError(f"the engraver can't read '{sheet.title}'", mend="print it as .musicxml instead")
    return int(engraver.getPageCount())


def _finished(svg: str, sheet: Sheet, paper: Paper, page: int, count: int) -> str:
    """An engraved page with its title or number, and with accidentals that every reader of SVG can show."""
    svg = _REMARK.sub(_smaller, with_headings_in(in_plain_letters(svg)))
    size = f"{paper.units_wide:g} {paper.units_high:g}"
    frame = f'<svg width="{paper.width:g}mm" height="{paper.height:g}mm" viewBox="0 0 {size}" '
    frame += 'version="1.1" xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">\n'
    white = f'<rect width="{paper.units_wide:g}" height="{paper.units_high:g}" fill="white"/>\n'
    return frame + white + "\n".join(header.head(sheet, paper, page, count)) + "\n" + svg + "\n</svg>\n"


def _smaller(remark: re.Match[str]) -> str:
    small = _SIZE.sub(lambda size: f'font-size="{round(int(size[1]) * _REMARK_SHARE)}px"', remark[0].replace(SMALL, ""))
    return _LINE.sub(_with_signs_apart, small)


def _with_signs_apart(line: re.Match[str]) -> str:
    """A line of a remark in which accidentals are chunks of their own.

    Few italic fonts have ♭ and ♯. Who makes the PDF takes another font where a letter is missing, and takes it for the
    whole chunk; an absolute position begins a chunk (SVG 1.1, 10.5).
    """
    return _SIGNED.sub(rf'<tspan y="{line[1]}">\1</tspan><tspan y="{line[1]}">\2</tspan>', line[0])


def with_headings_in(svg: str) -> str:
    """An engraved page with no heading before its staff: it is moved to the right, and made smaller where the chord
    symbol beside it leaves too little room. Its letters keep to their frame in whatever font they are shown.

    The engraver puts a heading's middle over the staff's beginning, and takes its letters for those of its own font.
    """
    symbols = [(int(x), int(y)) for x, y in _SYMBOL.findall(svg)]

    def moved(found: re.Match[str]) -> str:
        left, top, high, wide = (int(found[n]) for n in (3, 4, 5, 6))
        beside = [x for x, y in symbols if top < y < top + high + _SYMBOL_HIGH and x >= left + wide]
        room = min(x - _SYMBOL_CLEAR for x in beside) if beside else wide
        if room >= wide:
            return f'{found[1]} transform="translate({-left}, 0)"{found[2]}'
        share = max(room, 1) / wide
        by = f"{-share * left:.0f}, {(1 - share) * (top + high):.0f}"
        return f'{found[1]} transform="translate({by}) scale({share:.3f})"{found[2]}'

    return _HEADING_TEXT.sub(_in_its_frame, _HEADING.sub(moved, svg))


def _in_its_frame(found: re.Match[str]) -> str:
    """A heading whose letters are as wide as its frame leaves room."""
    wide = max(1, int(found[2]) - 2 * _FRAME_CLEAR)
    return f'{found[1]} textLength="{wide}" lengthAdjust="spacingAndGlyphs"'


def in_plain_letters(svg: str) -> str:
    """An engraved page with accidentals that every reader of SVG can show."""
    return _MUSIC_TEXT.sub(_in_unicode, svg).replace("𝄫", "♭♭").replace("𝄪", "♯♯")


def _in_unicode(found: re.Match[str]) -> str:
    text = "".join(_UNICODE.get(letter, letter) for letter in found[2])
    return f'<tspan font-size="{round(int(found[1]) * _TEXT_SHARE)}px">{text}</tspan>'


def pdf(
    svgs: Sequence[str], title: str, paper: Paper | None = None, *, progress: Callable[[float], None] | None = None
) -> bytes:
    """Pages as one PDF.

    Parameters
    ----------
    svgs : sequence of str
        From :func:`pages`.
    title : str
        What readers show as the document's name.
    paper : Paper, optional
        On which the pages are; otherwise that of ``paper.toml``.
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
        raise UseError("a PDF needs typst, which isn't installed", mend=_how()) from None
    paper = paper or PAPERS[preferences(PaperPreferences).size]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        quoted = title.replace("\\", "\\\\").replace('"', '\\"')
        lines = [
            f'#set document(title: "{quoted}", date: none)',
            f"#set page(width: {paper.width}mm, height: {paper.height}mm, margin: 0mm)",
        ]
        for number, svg in enumerate(svgs, 1):
            (folder / f"{number}.svg").write_text(svg, encoding="utf-8")
            lines.append(f'#image("{number}.svg", width: {paper.width}mm)')
        (folder / "sheet.typ").write_text("\n".join(lines), encoding="utf-8")
        if progress:
            progress(0.5)
        return bytes(typst.compile(str(folder / "sheet.typ"), format="pdf"))
