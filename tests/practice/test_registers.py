"""A key by itself beside the melody is one too many, a late voice isn't, and the bass is what lies lowest."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.messages import NoteKind, Part
from companion.practice.alignment import Alignment
from companion.practice.judging import JudgedNote
from companion.practice.registers import by_register
from companion.practice.sweeps import Sweep
from tests.practice.test_voicings_played import two_five_one

FORM = two_five_one("C").unfold()
SWEEP = Sweep(0.0, 32.0, ((0.0, 2.0), (32.0, 18.0)))
BOTH = {"melody", "chords"}
ALL = {"melody", "chords", "bass"}
LINE = (JudgedNote("right", 0.0, 69, 69, 2.0, 0.0), JudgedNote("right", 2.0, 72, 72, 3.0, 0.0))
"""A4 and C5 over Dm7."""


def free(pitch: int, seconds: float, kind: NoteKind = "right") -> JudgedNote:
    return JudgedNote(kind, (seconds - 2) * 2, None, pitch, seconds, None, "chords")


def told(parts: set[str], *notes: JudgedNote) -> list[tuple[str, Part, int | None]]:
    found = by_register(FORM, Alignment((notes,), (SWEEP,), ()), parts)
    return [(note.kind, note.part, note.pitch) for note in found.notes]


@pytest.mark.parametrize("pitch, kind", [(70, "wrong"), (67, "right"), (71, "right"), (63, "wrong")])
def test_a_key_by_itself_at_the_height_of_the_melody_is_one_too_many(pitch: int, kind: NoteKind) -> None:
    assert told(BOTH, *LINE, free(pitch, 2.5, kind))[-1] == ("extra", "melody", pitch)


@pytest.mark.parametrize("pitch", [65, 62, 60])
def test_a_voice_of_the_chord_that_comes_late_is_none_too_many(pitch: int) -> None:
    assert told(BOTH, *LINE, free(pitch, 2.5))[-1] == ("right", "chords", pitch)


def test_a_key_far_from_any_note_of_the_melody_is_left_alone() -> None:
    far = free(67, 9.0)
    assert told(BOTH, *LINE, far)[-1] == ("right", "chords", 67)
    assert told(BOTH, *LINE, replace(far, seconds=2.5, chart_beat=1.0, pitch=56))[-1][0] == "right"


def test_keys_struck_together_are_a_chord_wherever_they_lie() -> None:
    assert [kind for kind, *_ in told(BOTH, *LINE, free(65, 2.5), free(71, 2.51, "wrong"))][-2:] == ["right", "wrong"]


def test_a_melody_an_octave_lower_has_its_strays_there() -> None:
    low = tuple(replace(note, pitch=(note.pitch or 0) - 12) for note in LINE)
    assert told(BOTH, *low, free(59, 2.5))[-1] == ("extra", "melody", 59)
    assert told(BOTH, *LINE, free(59, 2.5))[-1] == ("right", "chords", 59)


@pytest.mark.parametrize(
    "keys, bass",
    [
        ((38, 53, 57, 60), 38),
        ((50, 57, 60, 64), 50),
        ((53, 57, 60), None),
        ((54,), 54),
        ((47, 50), 47),
        ((55, 60), None),
    ],
)
def test_the_bass_is_the_lowest_key_if_it_lies_apart(keys: tuple[int, ...], bass: int | None) -> None:
    found = told({"chords", "bass"}, *(free(key, 2.0) for key in keys))
    assert [pitch for _, part, pitch in found if part == "bass"] == ([bass] if bass else [])


def test_the_bass_never_stands_for_a_note_of_the_melody() -> None:
    taken = JudgedNote("right", 0.0, 69, 45, 2.0, 0.0)
    assert told(ALL, *LINE[1:] * 2, taken)[-2:] == [("missing", "melody", None), ("right", "bass", 45)]
    assert told(BOTH, *LINE[1:] * 2, taken)[-1] == ("right", "melody", 45), "who has no bass has no bass note"


def test_the_chart_says_what_a_single_part_is() -> None:
    notes = (*LINE, free(70, 2.5, "wrong"))
    assert told({"melody"}, *notes)[-1] == ("wrong", "chords", 70)
