"""Pages: what is on them, and where they are turned."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import fromstring

import pytest

from companion.arrange.part import Note
from companion.chart.model import Chart, ChordSpan
from companion.engrave.note_places import bar_places, line_shifts
from companion.engrave.page import (
    in_plain_letters,
    lay_music_out,
    long_page,
    open_engraver,
    pages,
    pdf,
    signs_width,
    with_headings_in,
)
from companion.engrave.paper import PAPERS
from companion.engrave.score import lead_sheet
from companion.engrave.score import sheet as laid_out
from companion.engrave.sheet import Sheet
from companion.errors import UseError
from companion.messages import Hand, Part
from companion.music.chords import parse_chord
from companion.music.pitch import pitch_in_key

pytest.importorskip("verovio", reason="the extra print isn't installed")


def test_every_bar_of_the_arrangement_is_engraved_once(ferry: Chart, arranged: Callable[[Chart], Sheet]) -> None:
    sheet = arranged(ferry)
    svgs = pages(sheet)
    assert sum(svg.count('class="measure"') for svg in svgs) == len(sheet.bars)
    assert ">Ferry Without Lights<" in svgs[0]


def test_a_lead_sheet_is_a_page_or_two_and_has_no_letter_of_a_music_font_that_a_reader_of_svg_lacks(
    shipped: Chart,
) -> None:
    sheet = lead_sheet(shipped)
    drawn = pages(sheet, PAPERS["letter"])
    assert len(drawn) == (1 if len(sheet.bars) <= 48 else 2), "one of usual length is one page"
    for svg in drawn:
        fromstring(svg)
        assert not re.search("[\ue000-\uf8ff]", svg)


def test_double_flats_are_letters_that_every_font_has(ferry: Chart) -> None:
    spans = (ChordSpan(Fraction(0), Fraction(4), parse_chord("Ebdim7/Bbb")),)
    chart = replace(ferry, sections=(replace(ferry.sections[0], chords=spans),), form=("A1",))
    (svg,) = pages(lead_sheet(chart))
    assert "♭♭" in svg and "𝄫" not in svg


def test_a_long_name_of_a_section_begins_with_its_staff_and_not_in_the_margin(ferry: Chart) -> None:
    named = tuple(replace(section, name=f"{section.name}, chorus 1 (2)") for section in ferry.sections)
    form = tuple(f"{name}, chorus 1 (2)" for name in ferry.form)
    found = re.findall(
        r'class="reh"(?: transform="translate\((\d+), \d+\)(?: scale\((.*?)\))?")?[^>]*>\s*<rect [^>]*? x="(-?\d+)"',
        "".join(pages(lead_sheet(replace(ferry, sections=named, form=form)))),
    )
    assert len(found) == len(form) and any(int(at) < 0 for _, _, at in found), "the engraver puts it there"
    assert all(abs(int(moved or 0) + float(share or 1) * int(at)) <= 2 for moved, share, at in found)


SVG = "{http://www.w3.org/2000/svg}"
HEADING = (
    '<g id="a" class="reh"><rect stroke-width="20" x="-700" y="1000" height="580" width="2100" />\n'
    '<text x="350" y="1400" text-anchor="middle">A2, chorus 1 (2)</text></g>'
)


def test_a_name_begins_with_its_staff_and_is_smaller_where_a_chord_symbol_beside_it_leaves_no_room() -> None:
    def reach(x: int, y: int) -> tuple[float, float, float]:
        """Where its frame begins, ends, and has its lower edge."""
        svg = with_headings_in(f'{HEADING}<g id="b" class="harm"><text x="{x}" y="{y}">')
        found = re.search(r'transform="translate\((-?\d+), (-?\d+)\)(?: scale\((.*?)\))?"', svg)
        assert found
        share = float(found[3] or 1)
        return int(found[1]) - 700 * share, int(found[1]) + 1400 * share, int(found[2]) + 1580 * share

    beside = (pytest.approx(0, abs=2), pytest.approx(1750 - 150, abs=4), pytest.approx(1580, abs=2))
    assert reach(1750, 1600) == beside, "150 units are left before it"
    assert reach(1450, 2300) == reach(1450, 800) == (0, 2100, 1580), "in rows of their own"


@pytest.mark.parametrize(
    ("x", "y", "share"),
    [
        (1750, 1001, 1600 / 2100),
        (1750, 1000, 1),  # level with the frame's upper edge: a row of its own
        (1750, 1929, 1600 / 2100),  # 350 under the frame, its letters reach up to it
        (1750, 1930, 1),
        (2250, 1600, 1),  # 150 beside it
        (2249, 1600, 2099 / 2100),
        (1400, 1600, 1250 / 2100),
        (1399, 1600, 1),  # over it, not beside
    ],
)
def test_a_chord_symbol_counts_that_stands_in_a_names_way(x: int, y: int, share: float) -> None:
    """The frame reaches from -700 to 1400 and from 1000 to 1580."""
    svg = with_headings_in(f'{HEADING}<g id="b" class="harm"><text x="{x}" y="{y}">')
    found = re.search(r'transform="translate\((-?\d+), (-?\d+)\)(?: scale\((.*?)\))?"', svg)
    assert found and float(found[3] or 1) == pytest.approx(share, abs=0.001)
    assert int(found[1]) == pytest.approx(700 * share, abs=1)
    assert int(found[2]) == pytest.approx(1580 * (1 - share), abs=1), "its lower edge stays"


def test_of_two_symbols_the_nearer_one_counts_and_letters_have_130_units_on_both_sides() -> None:
    near = '<g id="b" class="harm"><text x="1750" y="1600">'
    far = near.replace("1750", "1900")
    assert "scale(0.762)" in with_headings_in(HEADING + far + near) and "scale(0.833)" in with_headings_in(
        HEADING + far
    )
    assert 'textLength="1840"' in with_headings_in(HEADING)
    assert 'textLength="1"' in with_headings_in(HEADING.replace("2100", "261"))
    assert 'textLength="1"' in with_headings_in(HEADING.replace("2100", "200"))


SMUFL = {
    "E260": "♭", "E261": "♮", "E262": "♯", "E263": "♯♯", "E264": "♭♭", "ED60": "♭", "ED61": "♮", "ED62": "♯",
    "ED63": "♯♯", "ED64": "♭♭", "ECA3": "𝅗𝅥", "ECA5": "♩", "ECA7": "♪", "ECB7": ".",
}  # fmt: skip
"""SMuFL 1.4: accidentals, those for chord symbols, and the notes and the dot of a metronome mark."""


@pytest.mark.parametrize(("code", "said"), SMUFL.items())
def test_letters_of_the_music_font_become_those_of_every_font(code: str, said: str) -> None:
    drawn = f'<tspan font-family="Leipzig" font-size="100px">{chr(int(code, 16))}</tspan>'
    assert in_plain_letters(drawn) == f'<tspan font-size="68px">{said}</tspan>'


def test_the_letters_of_a_name_keep_to_their_frame_in_whatever_font() -> None:
    found = re.search(r'textLength="(\d+)" lengthAdjust="spacingAndGlyphs"', with_headings_in(HEADING))
    assert found and 1700 < int(found[1]) < 2100


def test_the_signs_of_a_remark_are_chunks_of_their_own_so_that_the_others_stay_italic(ferry: Chart) -> None:
    """A new absolute position begins a chunk: SVG 1.1, 10.5. In the PDF the italic letters come from a font of that
    style, which has no ♭."""
    sheet = lead_sheet(ferry)
    remarked = replace(sheet, bars=(replace(sheet.bars[0], remark="E♭ missed"), *sheet.bars[1:]))
    (svg,) = pages(remarked)
    (text,) = (one for one in fromstring(svg).iter(f"{SVG}text") if "missed" in "".join(one.itertext()))
    assert "".join("".join(text.itertext()).split()) == "E♭missed"
    signs = [one for one in text.iter(f"{SVG}tspan") if one.text == "♭"]
    assert [one.get("y") for one in signs] == [text.get("y")]
    assert any(one.text == " missed" and one.get("y") == text.get("y") for one in text.iter(f"{SVG}tspan"))


def test_one_line_is_engraved_without_a_word_from_the_engraver(
    ferry: Chart, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    import verovio

    quiet = verovio.enableLog
    quiet(verovio.LOG_WARNING)
    monkeypatch.setattr(verovio, "enableLog", lambda level: None)
    section = ferry.sections[2]
    short = replace(section, bars=section.bars[:2], chords=section.chords[:1], melody=section.melody[:4])
    pages(lead_sheet(replace(ferry, sections=(short,), form=("B",))))
    pages(lead_sheet(ferry))
    quiet(verovio.LOG_OFF)
    assert capfd.readouterr() == ("", "")


def test_a_symbol_is_printed_once_without_its_degrees_beside_it(ferry: Chart) -> None:
    (svg,) = pages(lead_sheet(ferry))
    printed = ["".join(harm.itertext()) for harm in fromstring(svg).iter() if harm.get("class") == "harm"]
    assert "D7alt" in {"".join(text.split()) for text in printed}


@pytest.mark.parametrize(("part", "midi", "word"), [("bass", 30, "E51C"), ("melody", 90, "E511")])
def test_octaves_are_marked_with_their_words(ferry: Chart, part: Part, midi: int, word: str) -> None:
    # SMuFL 1.4: E511 is 8va, E51C is 8vb.
    hand: Hand = "left" if part == "bass" else "right"
    pitch = pitch_in_key(midi, ferry.fifths)
    notes = [Note(Fraction(k), Fraction(1), pitch, part, hand) for k in range(16)]
    svgs = pages(laid_out(ferry, ferry.unfold(), notes))
    drawn = [group for svg in svgs for group in svg.split("<g ") if 'class="octave"' in group]
    assert drawn and all(f"#{word}" in group for group in drawn)


def test_the_engraver_is_told_the_paper_and_the_size_of_a_staff(ferry: Chart) -> None:
    """In tenths of a millimetre; its unit is half a space, an eighth of a staff."""
    engraver = open_engraver()
    lay_music_out(engraver, lead_sheet(ferry), PAPERS["letter"], 7.2, breaks="none")
    told = engraver.getOptions()
    asked = {
        "pageWidth": 2159, "pageHeight": 2794, "pageMarginTop": 130, "pageMarginBottom": 120, "pageMarginLeft": 120,
        "pageMarginRight": 120, "scale": 100, "unit": 9.0, "header": "none", "footer": "none", "svgViewBox": True,
        "svgBoundingBoxes": False, "octaveAlternativeSymbols": True, "spacingSystem": 2, "spacingStaff": 10,
        "minLastJustification": 0.4, "lyricSize": 5.2, "breaks": "none", "xmlIdSeed": 1,
    }  # fmt: skip
    assert {name: told[name] for name in asked} == asked


@pytest.mark.parametrize("bars", [4, 48])
def test_what_is_done_of_the_pages_is_told_step_by_step(ferry: Chart, bars: int) -> None:
    """A sheet that nearly fits on one page is tried with smaller staves."""
    sheet = lead_sheet(ferry)
    few = replace(sheet, bars=tuple(replace(sheet.bars[k % 4 + 1], number=k) for k in range(bars)))
    told: list[float] = []
    assert len(pages(few, PAPERS["a4"], progress=told.append)) == 1
    assert (told[0], *told[-2:]) == (0.3, 0.7, 1.0)
    assert set(told[1:-2]) == (set() if bars == 4 else {0.5})


def test_a_long_page_is_as_high_as_its_header_its_lines_and_their_edges(ferry: Chart) -> None:
    """A line of the header has 17 quarters of a millimetre."""
    sheet = replace(lead_sheet(ferry), form=())
    plain, more = (long_page(replace(sheet, order=order), 210.0)[1] for order in ("", "Head"))
    assert plain.width == 210.0 and more.height - plain.height == pytest.approx(17 / 4)
    assert long_page(sheet, 100.0)[1].height > plain.height, "more lines"


def test_lines_of_a_long_page_have_five_millimetres_between_them(ferry: Chart) -> None:
    """A second line makes it higher by its own height and 5 mm; both gaps of that size are put between the two."""
    bar = replace(lead_sheet(ferry).bars[1], heading=None, chords=(), double=False)

    def engraved(count: int) -> tuple[list[float], float]:
        """Where the lines stand, and how high the page is, in millimetres."""
        sheet = replace(lead_sheet(ferry), bars=tuple(replace(bar, number=k) for k in range(1, count + 1)))
        svg, paper = long_page(sheet, 210.0)
        shifts = line_shifts(svg)
        tops = {place.line: (place.staves[1].top + shifts[place.line]) / 100 for place in bar_places(svg, sheet)}
        return list(tops.values()), paper.height

    (_, one), ((first, second), two) = engraved(4), engraved(8)
    assert second - first - (two - one) == pytest.approx(5.0, abs=0.5)


@pytest.mark.parametrize(
    ("fifths", "metre", "spaces"), [(0, False, 4.5), (3, False, 7.5), (-3, False, 7.5), (0, True, 7.0), (-1, True, 8.0)]
)
def test_clef_key_and_metre_take_their_spaces_of_a_line(fifths: int, metre: bool, spaces: float) -> None:
    assert signs_width(fifths, 4.0, metre=metre) == spaces
    assert signs_width(fifths, 8.0, metre=metre) == 2 * spaces


def test_the_same_sheet_gives_the_same_pages(ferry: Chart) -> None:
    assert pages(lead_sheet(ferry)) == pages(lead_sheet(ferry))


def test_the_pdf_holds_every_page(ferry: Chart, arranged: Callable[[Chart], Sheet]) -> None:
    pytest.importorskip("typst", reason="the extra print isn't installed")
    svgs = pages(arranged(ferry))
    data = pdf(svgs, 'A "quoted" \\ title')
    assert data.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type\s*/Page\b", data)) == len(svgs)


@pytest.mark.parametrize("missing", ["verovio", "typst"])
def test_a_missing_extra_is_one_line_that_says_what_to_install(
    missing: str, ferry: Chart, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, missing, None)
    with pytest.raises(UseError, match=r"-m pip install .*\[print\]"):
        pdf(pages(lead_sheet(ferry)), ferry.title)
