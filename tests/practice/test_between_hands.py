"""What one hand does to the other's time."""

from __future__ import annotations

import random

import pytest

from companion.practice.between_hands import hands_figures
from companion.practice.judging import JudgedNote


def both_hands(*, rush: float = 0.0, stiff: float = 0.0, seed: int = 1) -> list[JudgedNote]:
    """Thirty-two bars: a bass on every beat, quavers of the right hand in every other bar; the bass leaps now and then.

    ``rush``: milliseconds by which the bass is early where the right hand is busy. ``stiff``: by which the melody
    scatters more where the bass leaps.
    """
    dice = random.Random(seed)
    notes = []
    for beat in range(128):
        busy, leaps = beat // 4 % 2 == 0, beat % 8 in (2, 4)
        pitch = 48 if beat % 8 in (2, 3) else 36
        off = dice.gauss(-rush if busy else 0.0, 8)
        notes.append(JudgedNote("right", float(beat), None, pitch, 0.5 * beat, off, "bass"))
        for place in (0.0, 0.5) if busy else (0.0,):
            off = dice.gauss(0, 8 + stiff if leaps else 8)
            notes.append(JudgedNote("right", beat + place, 72, 72, 0.5 * (beat + place), off, "melody"))
    return notes


def test_a_bass_that_rushes_where_the_right_hand_is_busy_is_told_with_its_uncertainty() -> None:
    first, _ = hands_figures(both_hands(rush=14), 128.0)
    assert first.startswith("hands: the bass comes 1") and "earlier where the right hand is busy" in first
    assert "± 1 ms" in first or "± 2 ms" in first


def test_a_melody_that_scatters_where_the_left_hand_leaps_is_told() -> None:
    _, second = hands_figures(both_hands(stiff=25), 128.0)
    assert "less even where the left hand leaps" in second


def test_what_chance_would_show_is_not_told() -> None:
    for seed in range(10):
        lines = hands_figures(both_hands(seed=seed), 128.0)
        assert not any("earlier" in line or "less even" in line for line in lines)
        assert lines[0].startswith("hands: the bass keeps its place where the right hand is busy (±")


def test_of_one_hand_nothing_is_said() -> None:
    assert hands_figures([note for note in both_hands() if note.part == "bass"], 128.0) == []


KEPT = "hands: the bass keeps its place where the right hand is busy (± 1 ms)"
EVEN = "hands: the melody is as even where the left hand leaps (± 1 ms)"


@pytest.mark.parametrize(
    ("played", "lines"),
    [
        (both_hands(), [KEPT, EVEN]),
        (both_hands(rush=14),
         ["hands: the bass comes 14 ms earlier where the right hand is busy (± 1 ms)", EVEN]),
        (both_hands(rush=-14), ["hands: the bass comes 14 ms later where the right hand is busy (± 1 ms)", EVEN]),
        (both_hands(rush=4.5), ["hands: the bass comes 5 ms earlier where the right hand is busy (± 1 ms)", EVEN]),
        (both_hands(rush=3), [KEPT, EVEN]),  # told from chance, but nobody hears it
        (both_hands(stiff=25),
         [KEPT, "hands: the melody is 22 ms less even where the left hand leaps (± 3 ms)"]),
    ],
)  # fmt: skip
def test_what_the_hands_do_to_each_other_is_said_in_milliseconds(played: list[JudgedNote], lines: list[str]) -> None:
    assert hands_figures(played, 128.0) == lines


def counted(leap: int, off: float = 20.0, ahead: float = 0.0) -> list[str]:
    """What is said where a fifth of the melody is far off, all of it over leaps of the bass by so many semitones.

    ``ahead``: quarters by which the melody is written before the beat.
    """
    notes = []
    for beat in range(80):
        pitch = 36 + leap * (beat % 10 == 5)
        leaps = beat % 10 in (5, 6)
        notes.append(JudgedNote("right", beat % 40.0, None, pitch, beat / 2, 0.0, "bass", chorus=1 + beat // 40))
        late = off * (-1) ** beat if leaps else float(beat % 3)
        at = beat % 40.0 - ahead
        notes.append(JudgedNote("right", at, 72, 72, beat / 2, late, "melody", chorus=1 + beat // 40))
    return hands_figures(notes, 40.0)


@pytest.mark.parametrize(
    ("leap", "off", "said"),
    [
        (7, 20.0, ["hands: the melody is 19 ms less even where the left hand leaps (± 0 ms)"]),
        (-7, 20.0, ["hands: the melody is 19 ms less even where the left hand leaps (± 0 ms)"]),
        (6, 20.0, []),  # less than a fifth is no leap
        (7, 100.0, ["hands: the melody is 99 ms less even where the left hand leaps (± 0 ms)"]),
        (7, 100.1, []),  # so far off it is a slip, and not the hand's habit
    ],
)
def test_a_hand_leaps_by_a_fifth_and_more_through_all_choruses(leap: int, off: float, said: list[str]) -> None:
    assert counted(leap, off) == said
    assert counted(leap, off, ahead=0.09) == said, "up to a tenth of a beat before it a note is over it"
    assert not said or counted(leap, off, ahead=0.11) != said


@pytest.mark.parametrize(
    ("ahead", "by", "said"),
    [
        (0.0, -4.0, "comes 4 ms earlier"), (0.0, 4.0, "comes 4 ms later"), (0.0, -3.9, "keeps its place"),
        (0.09, -4.0, "comes 4 ms earlier"), (0.11, -4.0, None),
        (-0.496, -4.0, None), (-0.48, -4.0, "comes 4 ms earlier"),  # keys of one chord are one onset
    ],
)  # fmt: skip
def test_a_key_a_tenth_of_a_beat_ahead_is_of_its_beat_and_four_milliseconds_are_minded(
    ahead: float, by: float, said: str | None
) -> None:
    """Two keys of the right hand in each fourth quarter, the first of them so much ahead of it; one in the third."""
    notes = []
    for beat in range(80):
        notes.append(JudgedNote("right", float(beat), None, 36, beat / 2, by if beat % 4 == 0 else 0.0, "bass"))
        for place in {0: (-ahead, 0.5), 2: (0.0,)}.get(beat % 4, ()):
            notes.append(JudgedNote("right", beat + place, None, 72, (beat + place) / 2, 0.0, "chords"))
    lines = [] if said is None else [f"hands: the bass {said} where the right hand is busy (± 0 ms)"]
    assert hands_figures(notes, 80.0) == lines
