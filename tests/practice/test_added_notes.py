"""What a player adds on purpose is no note too many."""

from __future__ import annotations

from companion.practice.added_notes import with_additions_forgiven
from companion.practice.judging import JudgedNote
from tests.practice.test_voicings_played import two_five_one

FORM = two_five_one("C").unfold()
MELODY = [JudgedNote("right", 4.0 * bar, 69, 69, 2.0 + 2.0 * bar, 0.0) for bar in range(8)]


def forgiven(*added: tuple[float, int]) -> list[bool]:
    extra = [JudgedNote("extra", beat, None, pitch, 2.0 + beat / 2) for beat, pitch in added]
    notes = sorted([*MELODY, *extra], key=lambda note: (note.chart_beat, -(note.pitch or 0)))
    return [note.forgiven for note in with_additions_forgiven(FORM, notes) if note.kind == "extra"]


def test_roots_and_shells_under_the_melody_are_the_other_hands() -> None:
    roots = [(0.0, 50), (4.0, 55), (8.0, 48), (12.0, 48), (16.0, 50)]  # D, G, C, C, D
    assert forgiven(*roots) == [True] * 5


def test_one_low_note_alone_and_one_of_no_chord_are_too_many() -> None:
    assert forgiven((0.0, 50)) == [False]
    assert forgiven((0.0, 50), (4.0, 55), (8.0, 48), (12.0, 48), (16.0, 51)) == [True] * 4 + [False]


def test_a_fill_in_a_gap_of_the_melody_is_meant() -> None:
    assert forgiven((1.0, 72), (1.5, 74), (2.0, 76)) == [True] * 3  # C D E over Dm7


def test_a_note_more_beside_a_note_of_the_melody_or_outside_the_scale_is_too_many() -> None:
    assert forgiven((1.0, 72)) == [False]
    assert forgiven((1.0, 73), (1.5, 75)) == [False] * 2  # C sharp and E flat over Dm7
    assert forgiven((0.1, 72), (0.2, 74)) == [False] * 2
