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
