"""Marks of a written arrangement, and the length that is written for what sounds (ABC 2.1, section 4.14; our own)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.model import WrittenNote
from companion.chart.toml.marks import (
    EARLY,
    FULL,
    STRESSES,
    NoteMarks,
    marks_of,
    usual_hand,
    usual_hold,
    usual_voices,
    written_length,
)
from companion.errors import ChartError
from companion.music.pitch import Pitch

C = Pitch("C", 0, 4)
NINE_TENTHS = Fraction(9, 10)


def note(length: object, **more: object) -> WrittenNote:
    return WrittenNote(Fraction(0), Fraction(str(length)), C, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "marks"),
    [
        ("left", NoteMarks(hand="left")), ("right", NoteMarks(hand="right")), ("ped", NoteMarks(pedal=True)),
        ("tenuto", NoteMarks(hold=Fraction(1))), (".", NoteMarks(early=True)), (">", NoteMarks(weight=1.08)),
        ("accent", NoteMarks(weight=1.08)), ("emphasis", NoteMarks(weight=1.08)),
        ("ghost", NoteMarks(weight=0.4, hold=Fraction(2, 3))), ("voice1", NoteMarks(voice=1)),
        ("voice9", NoteMarks(voice=9)),
    ],
)  # fmt: skip
def test_a_mark_says_one_thing(name: str, marks: NoteMarks) -> None:
    assert NoteMarks().marked(name) == marks


def test_marks_add_up_and_an_accent_keeps_how_long_a_note_is_held() -> None:
    assert NoteMarks().marked("tenuto").marked(">").marked("left") == NoteMarks("left", weight=1.08, hold=FULL)
    assert NoteMarks().marked("tenuto").marked("ghost").hold == Fraction(2, 3)
    for name in ("voice0", "voice10", "trill", ""):
        with pytest.raises(ChartError, match="has no meaning here; use !left!"):
            NoteMarks().marked(name)


@pytest.mark.parametrize(
    ("text", "weight"), [("_0.85", 0.85), ("_2", 2.0), ("^0.85", 1.0), ("_", 1.0), ("_-1", 1.0), ("0.5", 1.0)]
)
def test_an_annotation_below_the_note_is_so_many_times_the_level(text: str, weight: float) -> None:
    assert NoteMarks().annotated(text) == NoteMarks(weight=weight)


@pytest.mark.parametrize(
    ("marks", "value", "usual", "sounds"),
    [
        (NoteMarks(), 1, "0.9", "0.9"), (NoteMarks(), 2, "1", "2"), (NoteMarks(hold=FULL), 1, "0.9", "1"),
        (NoteMarks(hold=Fraction(2, 3)), 3, "0.9", "2"), (NoteMarks(early=True), 1, "0.9", "0.8"),
        (NoteMarks(early=True), "0.5", "0.9", "0.3"), (NoteMarks(early=True), "0.2", "0.9", "0.18"),
        (NoteMarks(early=True), "0.25", "1", "0.05"), (NoteMarks(hold=FULL, early=True), 1, "0.9", "0.8"),
    ],
)  # fmt: skip
def test_what_sounds_of_a_written_length(marks: NoteMarks, value: object, usual: str, sounds: str) -> None:
    assert Fraction(1, 5) == EARLY
    assert marks.sounding(Fraction(str(value)), Fraction(usual)) == Fraction(sounds)


def test_the_left_hand_plays_the_bass_and_the_right_the_rest() -> None:
    assert [usual_hand(part) for part in ("bass", "chords", "melody")] == ["left", "right", "right"]


def test_notes_of_a_chord_that_end_together_are_voices_from_below() -> None:
    lengths = {"C": 2, "E": 2, "G": 1, "B": 2}
    chord = [WrittenNote(Fraction(0), Fraction(size), Pitch(step, 0, 4)) for step, size in lengths.items()]
    assert usual_voices(chord, "chords") == [1, 2, 1, 3]
    assert usual_voices(chord, "melody") == [1, 1, 1, 1] and usual_voices([], "chords") == []


@pytest.mark.parametrize(
    ("lengths", "hold"),
    [
        (["0.9", "0.9", "0.45"], "0.9"), (["0.9", "1"], "1"), (["0.9", "0.9", "1"], "0.9"),
        (["2", "3.6", "3.6"], "0.9"),
        (["0.25", "0.25"], "0.5"), (["0.24", "0.24"], "1"), ([], "1"), (["1/3", "1/3"], "1"), (["0.4999"], "1"),
        (["0.4995"], "0.999"), (["1.8", "1.8"], "0.9"), (["1.3", "1.3"], "1"),
    ],
)  # fmt: skip
def test_the_usual_share_is_that_of_most_notes_written_in_halves(lengths: list[str], hold: str) -> None:
    """Of what sounds, the share of the next whole number of eighths; none below a half, nor with endless decimals."""
    assert usual_hold([note(length) for length in lengths]) == Fraction(hold)


def test_a_ghosted_note_says_nothing_of_the_usual_share_and_an_accent_does() -> None:
    assert usual_hold([note("0.9"), note("1", weight=0.4), note("1", weight=0.4)]) == NINE_TENTHS
    assert usual_hold([note("0.9"), note("1", weight=1.08), note("1", weight=1.08)]) == 1


@pytest.mark.parametrize(
    ("sounds", "more", "hold", "room", "value"),
    [
        ("0.9", {}, "0.9", None, "1"), ("1", {}, "0.9", None, "1"), ("0.8", {}, "0.9", None, "1"),
        ("1/3", {"weight": 0.4}, "0.9", None, "1/2"), ("1/3", {}, "1", None, "1/3"), ("0.8", {}, "1", None, "1"),
        ("0.77", {}, "1", None, "0.77"), ("0.9", {}, "0.9", "1", "1"), ("0.9", {}, "0.9", "0.95", "0.9"),
        ("1.35", {}, "0.9", "1", "3/2"), ("0.3", {}, "0.9", None, "1/3"), ("2/3", {}, "2/3", None, "1"),
        ("0.05", {}, "1", None, "1/4"), ("5/12", {}, "1", None, "5/12"), ("5/24", {}, "1", None, "5/24"),
        ("3/8", {}, "0.9", None, "5/12"), ("0.9", {}, "0.9", "0.9", "0.9"), ("9/80", {}, "0.9", None, "1/8"),
    ],
)  # fmt: skip
def test_what_is_written_for_what_sounds(
    sounds: str, more: dict[str, float], hold: str, room: str | None, value: str
) -> None:
    written = written_length(note(sounds, **more), Fraction(hold), Fraction(room) if room else None)
    assert written == Fraction(value)


@pytest.mark.parametrize(
    ("made", "value", "part", "hold", "marks"),
    [
        (note("0.9"), "1", "chords", "0.9", []), (note("1"), "1", "chords", "0.9", ["!tenuto!"]),
        (note("0.8"), "1", "chords", "0.9", ["."]), (note("0.9", hand="left"), "1", "chords", "0.9", ["!left!"]),
        (note("0.9"), "1", "bass", "0.9", ["!right!"]), (note("0.9", pedal=True), "1", "chords", "0.9", ["!ped!"]),
        (note("0.9", weight=0.85), "1", "chords", "0.9", ['"_0.85"']),
        (note("0.9", weight=1.08), "1", "chords", "0.9", ["!>!"]),
        (note("2/3", weight=0.4), "1", "chords", "0.9", ["!ghost!"]),
        (note("0.9", weight=0.4), "1", "chords", "0.9", ['"_0.4"']),
        (note("0.9", voice=3), "1", "chords", "0.9", ["!voice3!"]),
        (note("0.8", hand="left", pedal=True, weight=1.08, voice=2), "1", "chords", "1",
         ["!left!", "!ped!", "!>!", ".", "!voice2!"]),
    ],
)  # fmt: skip
def test_only_what_is_not_usual_is_marked(
    made: WrittenNote, value: str, part: str, hold: str, marks: list[str]
) -> None:
    assert marks_of(made, Fraction(value), part, Fraction(hold), 1) == marks
    assert set(STRESSES) == {"ghost", ">"}
