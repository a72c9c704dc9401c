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
        r'class="reh"(?: transform="translate\((\d+), 0\)")?[^>]*>\s*<rect [^>]*?x="(-?\d+)"',
        "".join(pages(lead_sheet(replace(ferry, sections=named, form=form)))),
    )
    assert len(found) == len(form) and any(int(at) < 0 for _, at in found), "the engraver puts it there"
    assert all(int(moved or 0) + int(at) == 0 for moved, at in found[1:]), "beside the first there is a chord symbol"


def test_a_name_is_not_moved_over_the_chord_symbol_beside_it() -> None:
    heading = '<g id="a" class="reh"><rect fill="none" x="-700" y="1000" height="580" width="2100" /></g>'

    def moved(x: int, y: int) -> str:
        svg = with_headings_in(f'{heading}<g id="b" class="harm"><text x="{x}" y="{y}">')
        return svg.partition("translate(")[2].partition(",")[0]

    assert moved(1750, 1600) == "200", "150 units are left before it"
    assert moved(1450, 1600) == "0"
    assert moved(1450, 2300) == moved(1450, 800) == "700", "in rows of their own"


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
