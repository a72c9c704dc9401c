"""Titles, names and words of any characters: what is printed of them is sound, or they are refused in one line.

What a well-formed document may hold: XML 1.0 (fifth edition, W3C 2008), section 2.2, production 2.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree
from xml.sax.saxutils import escape

import mido
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from companion.chart.imported import write_imported
from companion.chart.model import Chart
from companion.chart.plain import printable_text, unfit
from companion.chart.toml.read import parse_toml
from companion.chart.toml.text import quoted
from companion.engrave.musicxml_out import musicxml
from companion.engrave.page import pages, pdf
from companion.engrave.programme import with_order
from companion.engrave.score import lead_sheet
from companion.errors import ChartError
from companion.load import import_file
from companion.music.played import BeatMap, KeyPress
from companion.transcribe.captured import KnownTune, Pass, captured_chart

NASTY = st.text(
    st.one_of(
        st.sampled_from("\x00\x07\x08\x0b\x0c\x1b\x1f\x7f\x85\x9f\u2028\u202e\ufeff\ufffe\uffff\ud800\udfff\U0001f3b9"),
        st.sampled_from("<>&\"'\\#$]{}[%|♭"),
        st.characters(),
    ),
    max_size=20,
)
Made = Callable[[str, Path], Chart]


def fits_xml(text: str) -> bool:
    """Whether all of a text may stand in an XML document."""
    codes = map(ord, text)
    return all(c in (9, 10, 13) or 0x20 <= c <= 0xD7FF or 0xE000 <= c <= 0xFFFD or c >= 0x10000 for c in codes)


def from_toml(text: str, folder: Path) -> Chart:
    """A chart of ours that has a text everywhere."""
    said = quoted(text.encode("utf-8", "replace").decode())
    head = f"format = 1\ntitle = {said}\ncomposer = {said}\nfeel = {said}\n"
    order = f'order = [{{ play = "introduction", how = {said} }}, {{ play = "head" }}]\n'
    return parse_toml(f'{head}{order}[section.{said}]\nchords = "| C | G7 |"\nmelody = "| C8 | D8 |"\n')


def from_abc(text: str, folder: Path) -> Chart:
    path = folder / "tune.abc"
    music = f'"^{text}"C4|"C"D4|\nP:{text}\nE4|"{text}"F4|]'
    path.write_bytes(f"X:1\nT:{text}\nC:{text}\nM:4/4\nL:1/4\nK:C\n{music}\n".encode("utf-8", "replace"))
    return kept(path)


def from_midi(text: str, folder: Path) -> Chart:
    path = folder / "tune.mid"
    line = text.encode("utf-8", "replace").decode()
    first = mido.MidiTrack([mido.MetaMessage("track_name", name=line), mido.MetaMessage("marker", text=line)])
    lead = mido.MidiTrack([mido.MetaMessage("track_name", name="melody")])
    for key in (60, 62, 64, 65) * 4:
        lead += [mido.Message("note_on", note=key, time=0), mido.Message("note_off", note=key, time=480)]
    mido.MidiFile(type=1, tracks=[first, lead], charset="utf-8").save(path)
    return kept(path)


def from_musicxml(text: str, folder: Path) -> Chart:
    path = folder / "sheet.musicxml"
    said = escape(text)
    measure = (
        '<measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>'
        f"</attributes><direction><direction-type><rehearsal>{said}</rehearsal></direction-type></direction>"
        f"<direction><direction-type><words>{said}</words></direction-type></direction>"
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure>"
    )
    head = f"<work><work-title>{said}</work-title></work>"
    head += f'<identification><creator type="composer">{said}</creator></identification>'
    head += '<part-list><score-part id="P1"><part-name>x</part-name></score-part></part-list>'
    score = f'<score-partwise version="4.0">{head}<part id="P1">{measure}</part></score-partwise>'
    path.write_bytes(score.encode("utf-8", "replace"))
    return kept(path)


def from_the_keyboard(text: str, folder: Path) -> Chart:
    keys = tuple(KeyPress(k * 0.5, k * 0.5 + 0.4, 60 + k % 5, 64) for k in range(4))
    imported = captured_chart(Pass(keys, BeatMap.steady(120, 0.0)), None, KnownTune(title=text), source="")
    return parse_toml(write_imported(imported))


def kept(path: Path) -> Chart:
    """What an import writes."""
    return parse_toml(write_imported(import_file(path)))


@pytest.fixture(params=[from_toml, from_abc, from_midi, from_musicxml, from_the_keyboard])
def made(request: pytest.FixtureRequest) -> Made:
    """Every way in which a text comes in."""
    made: Made = request.param
    return made


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(text=NASTY)
@example(text="Kettle\x07 at\x00 Six")
@example(text="\x1b[2J")
@example(text="\ufffe\uffff")
def test_whatever_text_comes_in_the_sheet_is_well_formed_or_it_is_refused(
    made: Made, tmp_path: Path, text: str
) -> None:
    try:
        chart = made(text, tmp_path)
    except ChartError as error:
        assert "\n" not in str(error)
        return
    assert chart.title == printable_text(chart.title) and fits_xml(chart.title)
    written = musicxml(with_order(lead_sheet(chart), chart))
    root = ElementTree.parse(io.StringIO(written)).getroot()
    assert root.findtext("work/work-title") == chart.title
    assert all(fits_xml(said) for said in root.itertext())


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(text=NASTY)
@example(text="Kettle\x07 at\x00 Six")
def test_whatever_text_comes_in_the_pages_are_well_formed(tmp_path: Path, text: str) -> None:
    pytest.importorskip("verovio")
    pytest.importorskip("typst")
    try:
        chart = from_toml(text, tmp_path)
    except ChartError:
        # What ends a line or begins a comment (%; ABC 2.1) may take the notes with it.
        chart = from_abc(re.sub(r"[\n\r%]", " ", text), tmp_path)
    drawn = pages(with_order(lead_sheet(chart), chart))
    for page in drawn:
        ElementTree.fromstring(page)
    assert pdf(drawn, chart.title).startswith(b"%PDF")


@given(NASTY)
def test_a_plain_text_is_one_line_that_stays_as_it_is(text: str) -> None:
    said = printable_text(text)
    assert fits_xml(said) and unfit(said) is None
    assert printable_text(said) == said and said.splitlines() in ([], [said])


@pytest.mark.parametrize("text", ["Ça va?", "夜", "می‌خواهم", "👩‍🎤", "♭13 & <b>", "B♭\u00a0Blues", "\u0301a"])
def test_what_people_write_stays(text: str) -> None:
    assert printable_text(text) == text and unfit(text) is None


def test_a_sections_name_that_cant_be_printed_is_refused_with_its_sign() -> None:
    with pytest.raises(ChartError, match=r"its name holds '\\x07', which can't be printed; take it out"):
        parse_toml(f'format = 1\n[section.{json.dumps(chr(7) + "A")}]\nchords = "| C |"\n')
