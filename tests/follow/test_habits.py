"""What a player has shown is expected of them again, and what they leave off is forgotten."""

from __future__ import annotations

import numpy as np
import pytest

from companion.follow.habits import LEAST, MOST_HESITANT, OCTAVES, REMEMBERED, Habits


def test_of_an_unknown_player_nothing_is_thought_but_that_they_play_as_written() -> None:
    habits = Habits()
    assert habits.displaces(0.0) == habits.hesitates(0.0) == pytest.approx(1.0)
    assert habits.shares.sum() == pytest.approx(1.0)
    assert OCTAVES[int(habits.shares.argmax())] == 0 and habits.shares.max() > 0.9


@pytest.mark.parametrize("octave", [0, 2])
def test_a_melody_an_octave_lower_or_higher_is_expected_there_after_a_few_notes(octave: int) -> None:
    habits, heard = Habits(), np.eye(3)[octave]
    for _ in range(6):
        habits = habits.in_octaves(heard)
    assert habits.shares[octave] > 0.5
    for _ in range(60):
        habits = habits.in_octaves(np.eye(3)[1])
    assert habits.shares[1] > 0.9, "and back"


def test_habits_stay_within_bounds() -> None:
    assert Habits(notes=10.0).hesitates(10.0) == MOST_HESITANT
    assert Habits(notes=1e6).displaces(0.0) == LEAST


def test_the_last_few_returns_are_remembered_the_newest_first() -> None:
    habits = Habits()
    for beat in range(5):
        habits = habits.going(float(beat), -16.0)
    assert [left for left, _ in habits.returns] == [4.0, 3.0, 2.0][:REMEMBERED]


@pytest.mark.parametrize(
    ("notes", "times", "factor"),
    [
        (0, 0, 1.0),  # unknown
        (50, 1, 1.0),  # as often as an unknown player
        (0, 1, 2.0),
        (50, 0, 0.5),
        (50, 3, 2.0),
        (100, 5, 2.0),
        (0, 5, 6.0),  # the most
        (0, 9, 6.0),
        (1000, 0, 0.3),  # the least
    ],
)
def test_how_readily_a_phrase_is_displaced_is_what_was_heard_weighed_against_a_phrase_in_fifty_notes(
    notes: float, times: float, factor: float
) -> None:
    """The mean of a gamma distribution after Poisson counts: (prior count + times) / (prior notes + notes)."""
    assert Habits(notes=notes).displaces(times) == pytest.approx(factor)


@pytest.mark.parametrize(
    ("notes", "times", "factor"),
    [
        (0, 0, 1.0),
        (30, 0.12, 1.0),
        (0, 0.12, 2.0),
        (30, 0, 0.5),
        (0, 1.2, 11.0),
        (0, 2.28, 20.0),
        (0, 3.0, 20.0),
        (300, 0, 0.3),
    ],
)
def test_how_readily_a_beat_is_held_back_is_weighed_against_an_eighth_of_a_beat_in_thirty_notes(
    notes: float, times: float, factor: float
) -> None:
    assert Habits(notes=notes).hesitates(times) == pytest.approx(factor)
    assert Habits(notes=notes).hesitates(np.array([times, times])) == pytest.approx([factor, factor])


def test_a_note_in_another_octave_counts_one_and_a_twentieth_of_it_is_forgotten_with_each_note() -> None:
    """Prior counts of 0.15, 4 and 0.15 notes, worked by hand."""
    below, as_written = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    assert Habits().shares == pytest.approx(np.array([0.15, 4.0, 0.15]) / 4.3)
    once = Habits().in_octaves(below)
    assert once.octaves == pytest.approx((1.15, 4.0, 0.15))
    assert once.shares == pytest.approx(np.array([1.15, 4.0, 0.15]) / 5.3)
    assert once.in_octaves(as_written).octaves == pytest.approx((0.15 + 0.95, 5.0, 0.15))
    assert OCTAVES == (-12, 0, 12)


@pytest.mark.parametrize("count", [0, 1, 2, 3, 4])
def test_three_returns_are_remembered_and_no_more(count: int) -> None:
    """Practising repeats the same few bars."""
    habits = Habits()
    for n in range(count):
        habits = habits.going(4.0 * n, -8.0)
    assert habits.returns == tuple((4.0 * n, -8.0) for n in reversed(range(count)))[:3]
