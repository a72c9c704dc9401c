"""The top of a chord isn't a wrong note of the melody."""

from __future__ import annotations

from companion.messages import NoteKind, Part
from companion.practice.alignment import Alignment
from companion.practice.chord_tops import without_chord_tops
from companion.practice.judging import JudgedNote
from companion.practice.sweeps import Sweep
from tests.practice.test_voicings_played import two_five_one

FORM = two_five_one("C").unfold()
SWEEP = Sweep(0.0, 32.0, ((0.0, 2.0), (32.0, 18.0)))
BOTH = {"melody", "chords"}


def taken_for(top: int, *under: int, kind: NoteKind = "wrong", expected: int = 69) -> Alignment:
    """A chord whose top was taken for the melody's note, at the first beat, over Dm7."""
    part: Part = "chords"
    chord = [JudgedNote("right", 0.0, None, key, 2.0, None, part) for key in under]
    return Alignment(((*chord, JudgedNote(kind, 0.0, expected, top, 2.004, 4.0)),), (SWEEP,), ())


def told(alignment: Alignment, parts: set[str] = BOTH) -> list[tuple[str, str, int | None]]:
    return [(n.kind, n.part, n.pitch) for n in without_chord_tops(FORM, alignment, parts).notes][-2:]


def test_the_melodys_note_is_missing_and_the_chord_has_its_top() -> None:
    assert told(taken_for(60, 53, 57)) == [("missing", "melody", None), ("right", "chords", 60)]


def test_a_slip_near_its_note_or_outside_the_chord_stays_wrong() -> None:
    assert told(taken_for(68, 53, 57))[-1] == ("wrong", "melody", 68)
    assert told(taken_for(61, 53, 57))[-1] == ("wrong", "melody", 61)


def test_a_key_without_a_chord_under_it_stays_as_it_is() -> None:
    assert told(taken_for(60, 53))[-1] == ("wrong", "melody", 60)
    assert told(taken_for(69, 53, 57, kind="right"))[-1] == ("right", "melody", 69)


def test_of_a_player_of_the_melody_alone_nothing_changes() -> None:
    assert told(taken_for(60, 53, 57), {"melody"})[-1] == ("wrong", "melody", 60)
