"""What is made up is spelled by harmony and line (common practice where nothing else is said)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.part import Note
from companion.chart.model import Chart, ChordSpan
from companion.engrave.programme import arrangement
from companion.engrave.sheet import Sheet
from companion.engrave.spelling import respelled
from companion.load import load
from companion.messages import Part
from companion.music.chords import parse_chord
from companion.music.pitch import STEPS, Pitch, parse_name
from companion.resources import chart_path


def pitch(text: str) -> Pitch:
    name = parse_name(text[:-1])
    return Pitch(name.step, name.alter, int(text[-1]))


def struck(text: str, beat: int = 0, part: Part = "chords") -> list[Note]:
    return [Note(Fraction(beat), Fraction(1), pitch(one), part) for one in text.split()]


def run(text: str) -> list[Note]:
    """A bass line of quarters."""
    return [Note(Fraction(k), Fraction(1), pitch(one), "bass", "left") for k, one in enumerate(text.split())]


def over(symbol: str, length: int = 4) -> list[ChordSpan]:
    return [ChordSpan(Fraction(0), Fraction(length), parse_chord(symbol))]


def letters(notes: list[Note], part: Part = "chords") -> str:
    return " ".join(str(note.pitch) for note in notes if note.part == part)


@pytest.mark.parametrize(
    ("symbol", "fifths", "given", "expected"),
    [
        ("D6", 2, "Eb4 G#4 C#5", "D#4 G#4 C#5"),
        ("Gmaj7", 2, "Bb3 Eb4 G#4", "Bb3 Eb4 Ab4"),
        ("Cm6", -3, "Gb3 B3 E4", "F#3 B3 E4"),
        ("F7alt", -2, "A3 Db4 Eb4 Ab4", "A3 Db4 Eb4 Ab4"),  # tensions of a dominant stay as they are read most easily
        ("F#7alt", 2, "A#3 E4 A4 D5", "A#3 E4 A4 D5"),  # the third, whatever stands over it
        ("D7#9", -1, "F#3 C4 F4", "F#3 C4 F4"),
    ],
)
def test_fourths_are_spelled_as_fourths(symbol: str, fifths: int, given: str, expected: str) -> None:
    assert letters(respelled(struck(given), over(symbol), fifths)) == expected


def test_both_hands_spell_a_note_as_the_melody_does() -> None:
    notes = [*struck("Bbb4", part="melody"), *struck("A3 Db4 Eb4"), *run("Gb2 A2")]
    found = respelled(notes, over("Gbm6"), -5)
    assert letters(found) == "Bbb3 Db4 Eb4" and letters(found, "bass") == "Gb2 Bbb2"


@pytest.mark.parametrize(
    ("symbol", "fifths", "given", "expected"),
    [
        ("Gb13", -2, "Gb2 G#2 A2 Bb2", "Gb2 Ab2 A2 Bb2"),
        ("Cm7", -2, "C3 Bb2 B2 C3", "C3 Bb2 B2 C3"),
        ("Am7", 0, "A2 G2 G#2 A2", "A2 G2 G#2 A2"),  # up by raising
        ("G7alt", -3, "G2 Eb2 Db2 C2", "G2 Eb2 Db2 C2"),  # down by the neighbour above
        ("Dbmaj7", -4, "D2 Db2 F#1 G1", "D2 Db2 Gb1 G1"),  # the root is never another
    ],
)
def test_a_walking_line_is_spelled_from_step_to_step(symbol: str, fifths: int, given: str, expected: str) -> None:
    assert letters(respelled(run(given), over(symbol), fifths), "bass") == expected


def test_a_chord_struck_early_is_spelled_by_the_chord_it_belongs_to() -> None:
    chords = [*over("Bbmaj7"), ChordSpan(Fraction(4), Fraction(8), parse_chord("Dbm7"))]
    early = [Note(Fraction(7, 2), Fraction(1, 2), pitch(one), "chords") for one in ("Cb4", "Eb4", "Fb4", "Ab4")]
    assert letters(respelled(early, chords, -2)) == "Cb4 Eb4 Fb4 Ab4"


def test_the_third_of_a_dominant_keeps_its_letter_under_the_melody() -> None:
    notes = [*struck("G5", part="melody"), *struck("A#3 E4 A4 D5")]
    assert letters(respelled(notes, over("F#7alt"), 2)) == "A#3 E4 A4 D5"


def test_a_dominant_struck_early_keeps_its_leading_note() -> None:
    chords = [*over("Abmaj7"), ChordSpan(Fraction(4), Fraction(8), parse_chord("D7alt"))]
    early = [Note(Fraction(7, 2), Fraction(1, 2), pitch(one), "chords") for one in ("F#3", "Bb3", "C4", "Eb4")]
    assert letters(respelled(early, chords, -2)) == "F#3 Bb3 C4 Eb4"


def test_what_somebody_wrote_keeps_its_letters() -> None:
    given = struck("Eb4 G#4 C#5")
    fixed = {(note.beat, note.midi) for note in given}
    assert letters(respelled(given, over("D6"), 2, fixed)) == "Eb4 G#4 C#5"


def test_no_letter_changes_what_sounds(shipped: Chart) -> None:
    form = shipped.unfold()
    notes = [Note(n.beat, n.length, n.pitch, "melody") for n in form.melody]
    notes += [Note(n.beat, n.length, Pitch(n.pitch.step, n.pitch.alter, 2), "bass", "left") for n in form.melody]
    again = respelled(notes, form.chords, form.fifths)
    assert sorted((n.beat, n.midi) for n in again) == sorted((n.beat, n.midi) for n in notes)


@pytest.mark.parametrize("name", ["staircase-on-loan", "umbrella-at-a-gallop", "snow-on-the-awning"])
def test_sliding_fourths_are_fourths_on_paper(name: str) -> None:
    torn = [
        f"{low} {high}"
        for chord in _chords(arrangement(load(chart_path(name)), treatment="sliding"))
        if [high.midi - low.midi for low, high in pairwise(chord)] == [5] * (len(chord) - 1)
        for low, high in pairwise(chord)
        if (STEPS.index(high.step) - STEPS.index(low.step)) % 7 != 3
    ]
    assert torn == []


def _chords(sheet: Sheet) -> list[tuple[Pitch, ...]]:
    heads = [head for bar in sheet.bars for voice in bar.voices for head in voice.heads]
    return [head.pitches for head in heads if len(head.pitches) > 2]
