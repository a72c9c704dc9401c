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
from companion.engrave.page import pages, pdf, with_headings_in
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


def test_no_letter_of_a_music_font_is_left_that_a_reader_of_svg_lacks(shipped: Chart) -> None:
    for svg in pages(lead_sheet(shipped)):
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
