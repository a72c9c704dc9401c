"""What is made up is spelled by harmony and line (common practice where nothing else is said)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.part import Note
from companion.chart.model import Chart, ChordSpan
from companion.engrave.programme import arrangement
from companion.engrave.sheet import Sheet
from companion.engrave.spelling import (
    LettersOver,
    chord_meant,
    interval_cost,
    letters_over,
    name_cost,
    respelled,
    step_cost,
)
from companion.load import load
from companion.messages import Part
from companion.music.chords import parse_chord
from companion.music.pitch import STEPS, Name, Pitch, parse_name
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
    later = [replace(note, beat=note.beat + 16) for note in run(given)]
    assert letters(respelled(later, over(symbol, 32), fifths), "bass") == expected, "wherever it stands"


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


# what a spelling costs

COSTS = """
0    4    2    2    2    2    4
1.2  0    2    2    2    2    2
2    0    0.8  2    2    2    2
2    0.5  0    2    2    2    2
2    2    0    0.5  2    2    2
2    2    3    0    2    2    2
2    2    2    0    0    2    2
2    2    2    2    0    3    2
2    2    2    2    0.3  0    2
2    2    2    2    2    0    0.3
2    2    2    2    2    0.5  0
0.8  2    2    2    2    2    0
"""
"""A row for each interval from unison to major seventh, a column for each number of letters from none to six.

The usual spelling of an interval costs nothing (a fourth four letters, a tritone four or five: common practice); what
the others cost is our own.
"""


@pytest.mark.parametrize(("semitones", "row"), list(enumerate(COSTS.strip().splitlines())))
def test_an_interval_has_the_letters_of_its_size(semitones: int, row: str) -> None:
    for low in STEPS:
        for more, cost in enumerate(row.split()):
            high = STEPS[(STEPS.index(low) + more) % 7]
            for octaves in (0, 12, 24):
                assert interval_cost(parse_name(low), parse_name(high), semitones + octaves) == float(cost)


def nothing_over(**more: dict[int, Name]) -> LettersOver:
    return LettersOver(Fraction(0), *(more.get(what, {}) for what in ("firm", "tones", "melody")))  # type: ignore[arg-type]


EB, DS = parse_name("Eb"), parse_name("D#")


@pytest.mark.parametrize(
    ("given", "name", "fifths", "over", "cost"),
    [
        ("C4", "C", 0, {}, 0.0),
        ("F#4", "F#", 0, {}, 0.05),  # one fifth beyond the key's last, B
        ("Bb4", "Bb", 0, {}, 0.05),
        ("Eb4", "Eb", 0, {}, 0.1),
        ("Eb4", "Eb", -3, {}, 0.0),
        ("Eb4", "D#", 0, {}, 0.5 + 0.2),
        ("D#4", "D#", 4, {}, 0.0),
        ("F4", "E#", 0, {}, 0.5 + 0.3 + 1.0),
        ("E#4", "E#", 6, {}, 0.0),  # G flat's neighbour has it in its key
        ("E#4", "E#", 5, {}, 0.05 + 1.0),
        ("Cb4", "Cb", -6, {}, 0.0),
        ("B4", "Cb", 0, {}, 0.5 + 0.3 + 1.0),
        ("B#4", "B#", 0, {}, 0.35 + 1.0),
        ("Fb4", "Fb", 0, {}, 0.35 + 1.0),
        ("Eb4", "Eb", -3, {"melody": {3: DS}}, 1.5),
        ("Eb4", "Eb", -3, {"melody": {3: EB}}, 0.0),
        ("Eb4", "Eb", -3, {"tones": {3: DS}}, 1.0),
        ("Eb4", "Eb", -3, {"tones": {3: DS}, "firm": {3: 3.0}}, 3.0),
        ("Eb4", "Eb", -3, {"tones": {3: EB}, "firm": {3: 3.0}}, 0.0),
        ("D#4", "Eb", -3, {"tones": {3: DS}, "melody": {3: DS}}, 0.5 + 1.0 + 1.5),
        ("Eb4", "Eb", -3, {"tones": {2: DS}, "melody": {2: DS}}, 0.0),
    ],
)  # fmt: skip
def test_a_name_costs_what_it_is_away_from_giver_melody_chord_and_key(
    given: str, name: str, fifths: int, over: dict[str, dict[int, Name]], cost: float
) -> None:
    note = Note(Fraction(0), Fraction(1), pitch(given), "chords")
    assert name_cost(parse_name(name), note, nothing_over(**over), fifths) == pytest.approx(cost)


@pytest.mark.parametrize(
    ("steps", "fifths", "cost"),
    [
        ("C4 C#4", 0, 0.5),  # raised, away from the key
        ("C#4 C4", 0, 1.0),
        ("C4 Cb4", 0, 0.5),
        ("C#4 C4", 5, 0.5),  # in B major C is the one outside
        ("C4 Db4", 0, 0.0),
        ("Db4 C4", 0, 0.0),
        ("C4 D#4", 0, 0.5),
        ("D#4 C4", 0, 0.5),  # the same down
        ("C4 C#5", 0, 1.2),
        ("C4 C4", 0, 0.0),
    ],
)
def test_a_step_is_spelled_up_and_down_alike_and_raised_on_its_letter(steps: str, fifths: int, cost: float) -> None:
    last, now = map(pitch, steps.split())
    assert step_cost(last.name, last.midi, now.name, now.midi, fifths) == cost


@pytest.mark.parametrize(
    ("symbol", "tones", "firm"),
    [
        ("C7", "C E G Bb", {0: 3.0, 4: 2.0}),
        ("F#7alt", "F# A# E", {6: 3.0, 10: 2.0}),  # an altered fifth of a dominant is spelled as is easiest to read
        ("Cm7b5", "C Eb Gb Bb", {0: 3.0, 3: 2.0}),  # the fifth of a half-diminished chord is its own
        ("Cdim7", "C Eb Gb", {0: 3.0, 3: 2.0}),  # no double signs
        ("C13", "C E G Bb", {0: 3.0, 4: 2.0}),
        ("C6", "C E G A", {0: 3.0, 4: 2.0}),
        ("C7sus4", "C G Bb", {0: 3.0}),
        ("N.C.", "", {}),
    ],
)
def test_root_third_fifth_sixth_and_seventh_have_the_chords_letters(
    symbol: str, tones: str, firm: dict[int, float]
) -> None:
    (found,) = letters_over([], over(symbol))
    assert set(found.tones.values()) == set(map(parse_name, tones.split()))
    assert (found.start, found.firm) == (0, firm) and all(pc == name.pc for pc, name in found.tones.items())


@pytest.mark.parametrize(
    ("beat", "length", "heard"), [(3, 1, False), (3, 2, True), (4, 1, True), (7, 1, True), (8, 1, False), (0, 9, True)]
)
def test_the_melody_counts_while_the_chord_lasts(beat: int, length: int, heard: bool) -> None:
    """A chord from beat 4 to 8."""
    note = Note(Fraction(beat), Fraction(length), pitch("D#5"), "melody")
    short = Note(Fraction(1), Fraction(1), pitch("F5"), "melody")
    (found,) = letters_over([note, short], [ChordSpan(Fraction(4), Fraction(8), parse_chord("C"))])
    assert found.melody == ({3: DS} if heard else {})
    assert letters_over(struck("D#5"), over("C"))[0].melody == {}, "of no other part"


@pytest.mark.parametrize(
    ("beat", "given", "symbol"),
    [
        (Fraction(3), "Cb4 Eb4", "Dbm7"),
        (Fraction(11, 4), "Cb4 Eb4", "Bbmaj7"),  # more than a beat before
        (Fraction(7, 2), "Bb3 D4", "Bbmaj7"),  # the notes of the one that is written there
        (Fraction(7, 2), "E4", "Dbm7"),  # of neither
        (Fraction(4), "Bb3 D4", "Dbm7"),
        (Fraction(99), "Bb3", "Dbm7"),
        (Fraction(-1, 2), "Bb3", "Bbmaj7"),
    ],
)
def test_a_chord_is_meant_that_is_written_or_comes_within_a_beat(beat: Fraction, given: str, symbol: str) -> None:
    chords = [*over("Bbmaj7"), ChordSpan(Fraction(4), Fraction(8), parse_chord("Dbm7"))]
    notes = [replace(note, beat=beat) for note in struck(given)]
    found = chord_meant(letters_over([], chords), notes)
    assert found.start == (0 if symbol == "Bbmaj7" else 4)


@pytest.mark.parametrize(("rest", "spelled"), [(2, "Gb2 Ab2"), (3, "Gb2 G#2")])
def test_notes_of_a_line_lead_to_each_other_over_two_quarters(rest: int, spelled: str) -> None:
    first, second = run("Gb2 G#2")
    assert letters(respelled([first, replace(second, beat=Fraction(1 + rest))], [], -2), "bass") == spelled


def test_of_a_thick_chord_the_lowest_six_are_spelled_together() -> None:
    given = "C3 G3 C4 E4 G4 C5"
    assert letters(respelled(struck(f"{given} D#5"), over("C7"), 0)) == f"{given} D#5", "the seventh as it was given"
    assert letters(respelled(struck("C3 G3 C4 D#4 G4 C5"), over("Cm"), 0)) == "C3 G3 C4 Eb4 G4 C5"


def test_notes_that_sound_already_have_a_say_and_the_bass_only_on_its_own_note() -> None:
    def under(part: Part, beat: int) -> str:
        held = Note(Fraction(beat), Fraction(2), pitch("G#3"), part, "left")
        later = [replace(note, beat=Fraction(2)) for note in struck("C4 Ab4")]
        return letters(respelled([held, *later], [], 0), "chords")

    assert under("melody", 1) == "C4 G#4" and under("melody", 0) == "C4 Ab4", "it has ended"
    assert under("bass", 1) == "C4 G#4"
