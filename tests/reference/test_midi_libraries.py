"""Charts written to MIDI by other libraries come back: music21's writer of MIDI files (chord symbols as chords that
sound), and mido's messages with chord names as markers. Source of the format: Standard MIDI Files 1.0."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import pytest

from companion.chart.model import Form
from companion.cli import main
from companion.load import load
from companion.music.chords import Chord
from companion.resources import chart_path
from companion.transcribe.midi_tune import read_midi

TUNES = ("two-spoons-short", "half-a-moon-in-the-millpond", "heron-over-slate")


@pytest.fixture(params=TUNES)
def tune(request: pytest.FixtureRequest) -> tuple[str, Form]:
    return request.param, load(chart_path(request.param)).unfold()


def melody(form: Form) -> list[tuple[Fraction, Fraction, int]]:
    return [(note.beat, note.length, note.pitch.midi) for note in form.melody]


def same(found: Form, form: Form) -> bool:
    """Equal notes, whether or not the file says where its pickup ends."""
    later = found.melody[0].beat - form.melody[0].beat
    return [(beat - later, length, pitch) for beat, length, pitch in melody(found)] == melody(form)


def changes(form: Form, later: Fraction = Fraction(0)) -> list[tuple[Fraction, Chord]]:
    """Where the harmony changes, and to which chord."""
    spans: list[tuple[Fraction, Chord]] = []
    for span in form.chords:
        if span.chord.is_chord and (not spans or spans[-1][1] != span.chord):
            spans.append((span.start - later, span.chord))
    return spans


def test_what_music21_writes_as_midi_is_the_same_melody(tune: tuple[str, Form], tmp_path: Path) -> None:
    name, form = tune
    converter: Any = pytest.importorskip("music21").converter
    assert main(["print", name, "--lead", "--out", str(tmp_path / "sheet.musicxml")]) == 0
    score = converter.parse(tmp_path / "sheet.musicxml")
    score.parts[0].expandRepeats().write("midi", tmp_path / "sheet.mid")
    found = read_midi(tmp_path / "sheet.mid").chart.unfold()
    assert same(found, form)


def test_chord_names_that_mido_writes_as_markers_are_the_same_chords(tune: tuple[str, Form], tmp_path: Path) -> None:
    _, form = tune
    timed = [(span.start, mido.MetaMessage("marker", text=span.chord.symbol)) for span in form.chords]
    timed.append((Fraction(0), mido.MetaMessage("time_signature", numerator=form.metre.beats,
                                                denominator=form.metre.beat_type)))  # fmt: skip
    for note in form.melody:
        timed.append((note.beat, mido.Message("note_on", note=note.pitch.midi, velocity=64)))
        timed.append((note.beat + note.length, mido.Message("note_off", note=note.pitch.midi)))
    bar = form.metre.bar if form.pickup else 0
    track, last = mido.MidiTrack(), 0
    for beat, message in sorted(timed, key=lambda pair: (pair[0], pair[1].type == "note_on")):
        tick = round((beat + bar) * 480)
        track.append(message.copy(time=tick - last))
        last = tick
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(tmp_path / "tune.mid")
    found = read_midi(tmp_path / "tune.mid").chart.unfold()
    assert same(found, form)
    later = found.melody[0].beat - form.melody[0].beat
    assert changes(found, later) == changes(form)


def test_a_lead_sheet_printed_as_midi_reads_back_equal(tune: tuple[str, Form], tmp_path: Path) -> None:
    name, form = tune
    assert main(["print", name, "--lead", "--out", str(tmp_path / "lead.mid")]) == 0
    assert melody(read_midi(tmp_path / "lead.mid").chart.unfold()) == melody(form)
