"""What is printed against the standard's own schema, and against two other readers of MusicXML.

Sources: the XML schema of MusicXML 4.0 (W3C Music Notation Community Group, 2021), as the package ``musicxml`` carries
it; music21 and partitura as readers.
"""

from __future__ import annotations

import warnings
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import fromstring

import pytest

from companion.engrave.musicxml_out import musicxml
from companion.engrave.programme import arrangement
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Sheet
from companion.load import load
from companion.resources import chart_path

CHARTS = ["half-a-moon-in-the-millpond", "heron-over-slate", "two-spoons-short"]
"""Pedals and late voices, repeats and chords of two hands, a twelve-bar form; all: tests/benchmarks/printing.py."""
READ_BY_OTHERS = ["ferry-without-lights", "snow-on-the-awning"]
Sounding = Counter[tuple[Fraction, Fraction, int]]


@cache
def sheets(name: str) -> list[Sheet]:
    """The lead sheet with its repeats, and the whole arrangement with its leaps, as they are written."""
    chart = load(chart_path(name))
    return [lead_sheet(chart), arrangement(chart)]


def ours(sheet: Sheet) -> Sounding:
    """Onset from the start of the page, length and MIDI number, in quarters, ties joined."""
    found: dict[tuple[int, int], dict[int, tuple[Fraction, Fraction]]] = {}
    done: Sounding = Counter()
    at = Fraction(0)
    for bar in sheet.bars:
        for voice in bar.voices:
            open_ties = found.setdefault((voice.staff, voice.number), {})
            for head in voice.heads:
                for pitch in head.pitches:
                    start, length = at + head.start, Fraction(0)
                    if head.held_over(pitch):
                        start, length = open_ties.pop(pitch.midi)
                    if head.tied_on:
                        open_ties[pitch.midi] = start, length + head.length
                    else:
                        done[start, length + head.length, pitch.midi] += 1
        at += bar.length
    return done


@pytest.fixture(scope="module")
def schema() -> Any:
    xmlschema = pytest.importorskip("xmlschema", reason="the test extra xmlschema isn't installed")
    spec = find_spec("musicxml")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("the test extra musicxml isn't installed")
    folder = Path(spec.submodule_search_locations[0]) / "generate_classes"
    xml = [("http://www.w3.org/XML/1998/namespace", str(folder / "xml.xsd"))]
    return xmlschema.XMLSchema(str(folder / "musicxml_4_0.xsd"), allow="local", locations=xml)


@pytest.mark.parametrize("name", CHARTS)
def test_what_is_printed_keeps_to_the_schema(name: str, schema: Any, tmp_path: Path) -> None:
    for number, one in enumerate(sheets(name)):
        path = tmp_path / f"{number}.musicxml"
        path.write_text(musicxml(one), encoding="utf-8")
        assert [f"{fault.path}: {fault.reason}" for fault in schema.iter_errors(str(path))] == []


def test_remarks_over_bars_keep_to_the_schema_and_are_words(schema: Any) -> None:
    chart = load(chart_path("two-spoons-short"))
    remarks = {1: "E♭ missed; F, not F♯", 5: "hesitated for 1.2 s < & >"}
    for one in (lead_sheet(chart, remarks), arrangement(chart, remarks=remarks)):
        text = musicxml(one)
        assert [fault.reason for fault in schema.iter_errors(text)] == []
        words = {found.text for found in fromstring(text).iter("words")}
        assert set(remarks.values()) <= words


def test_slashes_for_a_tune_without_a_melody_keep_to_the_schema(schema: Any) -> None:
    chart = load(chart_path("two-spoons-short"))
    bare = replace(chart, sections=tuple(replace(section, melody=()) for section in chart.sections))
    assert [fault.reason for fault in schema.iter_errors(musicxml(lead_sheet(bare)))] == []


@pytest.mark.parametrize("name", READ_BY_OTHERS)
def test_music21_reads_the_same_notes(name: str) -> None:
    music21 = pytest.importorskip("music21", reason="the test extra music21 isn't installed")
    for one in sheets(name):
        score = music21.converter.parse(musicxml(one), format="musicxml")
        theirs: Sounding = Counter()
        for part in score.parts:
            for voice in _voices(music21, part):
                theirs.update(voice)
        assert theirs == ours(one)


FOLDED = ["ferry-without-lights", "heron-over-slate", "staircase-on-loan"]
"""One with endings of several bars, one with a plain repeat, one with endings of a bar."""


@pytest.mark.parametrize("name", FOLDED)
def test_music21_plays_the_repeats_of_a_lead_sheet_as_the_form_goes(name: str) -> None:
    music21 = pytest.importorskip("music21", reason="the test extra music21 isn't installed")
    chart = load(chart_path(name))
    form = chart.unfold()
    one = lead_sheet(chart)
    assert len(one.bars) < len(form.bars)
    (part,) = music21.converter.parse(musicxml(one), format="musicxml").expandRepeats().parts
    attacks = [
        (Fraction(note.getOffsetInHierarchy(part)).limit_denominator(96) - form.pickup, note.pitch.midi)
        for note in part.recurse().notes
        if not isinstance(note, music21.harmony.ChordSymbol) and (note.tie is None or note.tie.type == "start")
    ]
    assert attacks == [(note.beat, note.pitch.midi) for note in form.melody]


@pytest.mark.parametrize("name", FOLDED)
def test_partitura_plays_the_repeats_of_a_lead_sheet_as_the_form_goes(name: str, tmp_path: Path) -> None:
    pytest.importorskip("partitura", reason="the test extra partitura isn't installed")
    chart = load(chart_path(name))
    form = chart.unfold()
    path = tmp_path / "sheet.musicxml"
    path.write_text(musicxml(lead_sheet(chart)), encoding="utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import partitura

        part = partitura.score.unfold_part_maximal(partitura.load_score(str(path))[0], ignore_leaps=True)
        quarters = part.quarter_map
        attacks = sorted(
            (Fraction(float(quarters(n.start.t) - quarters(0))).limit_denominator(96) - form.pickup, n.midi_pitch)
            for n in part.notes_tied
        )
    assert attacks == [(note.beat, note.pitch.midi) for note in form.melody]


def _voices(music21: Any, part: Any) -> list[list[tuple[Fraction, Fraction, int]]]:
    """music21's notes of a staff; ties are joined by pitch, since its own joining stops at voices."""
    open_ties: dict[int, tuple[Fraction, Fraction]] = {}
    found = []
    notes = [n for n in part.recurse().notes if not isinstance(n, music21.harmony.ChordSymbol)]
    for element in sorted(notes, key=lambda n: n.getOffsetInHierarchy(part)):
        onset = Fraction(element.getOffsetInHierarchy(part)).limit_denominator(96)
        length = Fraction(element.quarterLength).limit_denominator(96)
        for note in getattr(element, "notes", [element]):
            tie = note.tie.type if note.tie else None
            start, before = open_ties.pop(note.pitch.midi) if tie in ("stop", "continue") else (onset, Fraction(0))
            if tie in ("start", "continue"):
                open_ties[note.pitch.midi] = start, before + length
            else:
                found.append((start, before + length, note.pitch.midi))
    return [found]


@pytest.mark.parametrize("name", READ_BY_OTHERS)
def test_partitura_reads_the_same_notes(name: str, tmp_path: Path) -> None:
    pytest.importorskip("partitura", reason="the test extra partitura isn't installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import partitura

        for number, one in enumerate(sheets(name)):
            path = tmp_path / f"{number}.musicxml"
            path.write_text(musicxml(one), encoding="utf-8")
            part = partitura.load_score(str(path))[0]
            quarters = part.quarter_map
            theirs: Sounding = Counter()
            for note in part.notes_tied:
                start, end = (
                    Fraction(float(quarters(t) - quarters(0))).limit_denominator(96)
                    for t in (note.start.t, note.start.t + note.duration_tied)
                )
                theirs[start, end - start, note.midi_pitch] += 1
            assert theirs == ours(one)
