"""What a player adds on purpose is no note too many."""

from __future__ import annotations

from dataclasses import replace

import pytest

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
    assert forgiven((1.0, 77), (1.5, 79)) == [True] * 2  # F G


def test_a_note_more_beside_a_note_of_the_melody_or_outside_the_scale_is_too_many() -> None:
    assert forgiven((1.0, 72)) == [False]
    assert forgiven((1.0, 73), (1.5, 75)) == [False] * 2  # C sharp and E flat over Dm7
    assert forgiven((0.1, 72), (0.2, 74)) == [False] * 2


@pytest.mark.parametrize(
    ("pitch", "under"), [(62, True), (65, False), (57, True), (60, True), (64, False), (50, True), (51, False)]
)
def test_the_other_hand_lies_a_fifth_or_more_below_and_plays_the_chord(pitch: int, under: bool) -> None:
    """Under A4 (69), over Dm7: of D F A C; the other notes are roots of their bars."""
    assert forgiven((0.0, pitch), (4.0, 55), (8.0, 48), (12.0, 48), (16.0, 50))[0] is under


@pytest.mark.parametrize(("many", "meant"), [(3, False), (4, True)])
def test_four_notes_make_another_hand(many: int, meant: bool) -> None:
    assert forgiven(*[(0.0, 50), (4.0, 55), (8.0, 48), (12.0, 48)][:many]) == [meant] * many


@pytest.mark.parametrize(
    ("beats", "meant"),
    [
        ((0.41, 1.0), True),
        ((0.4, 1.0), True),
        ((0.39, 1.0), False),
        ((2.0, 3.59), True),
        ((2.0, 3.61), False),
        ((2.0,), False),
    ],
)
def test_a_fill_keeps_clear_of_the_melody_on_either_side(beats: tuple[float, ...], meant: bool) -> None:
    """The melody has a note on each downbeat."""
    assert forgiven(*((beat, 72) for beat in beats)) == [meant] * len(beats)


def test_what_is_forgiven_already_or_not_struck_is_left_alone() -> None:
    notes = (
        *MELODY,
        JudgedNote("extra", 0.5, None, 73, 2.25, forgiven=True),
        JudgedNote("missing", 1.0, 69, None, None),
    )
    assert with_additions_forgiven(FORM, notes) == notes
    extra = JudgedNote("extra", 1.0, None, 72, 2.5)
    assert with_additions_forgiven(FORM, [extra, replace(extra, chart_beat=1.5)])[0] == extra, "there is no melody"


@pytest.mark.parametrize(("melody", "under"), [(72, True), (71, False)])
def test_a_chord_note_a_fifth_below_is_the_other_hands_and_one_a_tritone_below_is_not(melody: int, under: bool) -> None:
    """F4 (65) under the melody, over Dm7; three roots in other bars besides."""
    line = [replace(note, expected=melody, pitch=melody) for note in MELODY]
    extra = [JudgedNote("extra", beat, None, key, 2 + beat / 2) for beat, key in ((0, 65), (4, 55), (8, 48), (12, 48))]
    found = with_additions_forgiven(FORM, sorted([*line, *extra], key=lambda note: note.chart_beat))
    assert [note.forgiven for note in found if note.kind == "extra"] == [under] * 4
