"""The ladder of a drill: up after good rounds, down after bad ones, and when the goal is reached."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import UseError
from companion.practice.ladder import Ladder, Rung
from companion.preferences.drills import LadderRules

RULES = LadderRules(up_after=2, down_after=2, hold=2)


def tempi(ladder: Ladder, rounds: str) -> list[float]:
    """The tempo of each round, '+' good and '-' bad, and of the one after them."""
    found = [ladder.rung.tempo]
    for outcome in rounds:
        ladder.take(good=outcome == "+")
        found.append(ladder.rung.tempo)
    return found


def test_two_good_rounds_go_a_step_up_and_two_bad_ones_a_step_down() -> None:
    # The staircase of Levitt 1971 (two up, two down), worked by hand.
    assert tempi(Ladder(RULES, 60, 120, 10), "++++--++") == [60, 60, 70, 70, 80, 80, 70, 70, 80]


def test_one_good_round_between_two_bad_ones_counts_for_nothing() -> None:
    assert tempi(Ladder(RULES, 60, 120, 10), "++-+-+-") == [60, 60, 70, 70, 70, 70, 70, 70]


def test_it_never_comes_down_below_where_it_began() -> None:
    assert set(tempi(Ladder(RULES, 60, 120, 10), "-" * 9)) == {60}


def test_the_last_step_is_no_longer_than_the_way_that_is_left() -> None:
    ladder = Ladder(RULES, 60, 65, 4)
    assert tempi(ladder, "++++") == [60, 60, 64, 64, 65]


def test_the_goal_is_reached_with_as_many_good_rounds_there_as_are_asked_for() -> None:
    ladder = Ladder(RULES, 60, 64, 4)
    for outcome, reached in zip("+++-++", (False, False, False, False, False, True), strict=True):
        ladder.take(good=outcome == "+")
        assert ladder.reached is reached


def test_one_tempo_is_a_ladder_too() -> None:
    ladder = Ladder(RULES, 80, 80, 4)
    assert tempi(ladder, "+-++") == [80] * 5
    assert ladder.reached


def test_a_goal_below_the_start_is_refused() -> None:
    with pytest.raises(UseError, match="lies below"):
        Ladder(RULES, 120, 60, 5)


def test_from_memory_less_is_given_before_it_gets_faster_and_more_again_when_it_fails() -> None:
    ladder = Ladder(RULES, 60, 64, 4, memory=2)
    rungs = [ladder.rung]
    for _ in range(4):
        tempi(ladder, "++")
        rungs.append(ladder.rung)
    assert rungs == [Rung(60, 0), Rung(60, 1), Rung(60, 2), Rung(64, 2), Rung(64, 2)]
    tempi(ladder, "----")
    assert ladder.rung == Rung(60, 1)


def test_a_player_who_asks_for_it_goes_beyond_the_goal_and_below_the_start() -> None:
    ladder = Ladder(RULES, 60, 64, 4)
    ladder.hurry(3)
    assert ladder.rung.tempo == 72 and ladder.last
    ladder.hurry(-4)
    assert ladder.rung.tempo == 56
    assert tempi(ladder, "--") == [56, 56, 56]


def test_who_stays_on_a_rung_neither_climbs_nor_arrives() -> None:
    ladder = Ladder(RULES, 60, 64, 4)
    ladder.stay()
    assert set(tempi(ladder, "++++--")) == {60}
    ladder.stay()
    assert tempi(ladder, "++") == [60, 60, 64]


@given(st.text("+-", max_size=60), st.integers(40, 200), st.integers(0, 80), st.integers(1, 20))
def test_it_stays_between_start_and_goal_and_moves_by_one_step_at_most(
    rounds: str, start: int, rise: int, step: int
) -> None:
    found = tempi(Ladder(RULES, start, start + rise, step), rounds)
    assert all(start <= tempo <= start + rise for tempo in found)
    assert all(abs(b - a) <= step for a, b in pairwise(found))


# Counts and tempi exactly on a limit


@pytest.mark.parametrize("up", [1, 2, 3])
@pytest.mark.parametrize("down", [1, 2, 3])
def test_it_goes_up_and_down_after_as_many_rounds_as_the_player_set(up: int, down: int) -> None:
    ladder = Ladder(LadderRules(up_after=up, down_after=down, hold=1), 60, 120, 10)
    assert tempi(ladder, "+" * up) == [60] * up + [70]
    assert tempi(ladder, "-" * down) == [70] * down + [60]
    assert (ladder.good_in_a_row, ladder.bad_in_a_row) == (0, 0)


@pytest.mark.parametrize("hold", [1, 2, 4])
def test_the_goal_is_held_for_as_many_rounds_as_the_player_set(hold: int) -> None:
    ladder = Ladder(LadderRules(up_after=1, down_after=9, hold=hold), 60, 60, 10)
    for n in range(hold):
        assert not ladder.reached, n
        ladder.take(good=True)
    assert ladder.reached and ladder.last


@pytest.mark.parametrize(
    ("steps", "tempo"), [(0, 60), (1, 70), (-1, 50), (-5, 10), (-6, 10), (53, 590), (54, 600), (99, 600)]
)
def test_who_hurries_or_slows_stays_within_what_can_be_played(steps: int, tempo: float) -> None:
    """From 10 to 600 quarters a minute."""
    ladder = Ladder(RULES, 60, 64, 10)
    ladder.hurry(steps)
    assert ladder.rung.tempo == tempo
    assert ladder.last == (tempo >= 64)
    if tempo >= 64:
        assert tempi(ladder, "+++")[-1] == tempo, "that is the goal now"
    assert not ladder.bad_in_a_row


def test_rounds_before_a_tempo_was_asked_for_do_not_count_at_the_new_one() -> None:
    ladder = Ladder(RULES, 60, 120, 10)
    assert tempi(ladder, "+") == [60, 60]
    ladder.hurry(1)
    assert tempi(ladder, "++") == [70, 70, 80]
    ladder.stay()
    assert tempi(ladder, "+-") == [80] * 3 and (ladder.good_in_a_row, ladder.bad_in_a_row) == (0, 1)
    ladder.stay()
    assert (ladder.good_in_a_row, ladder.bad_in_a_row) == (0, 0)


def test_the_rungs_next_to_a_rung_are_a_step_away_and_end_with_the_ladder() -> None:
    ladder = Ladder(RULES, 60, 75, 10, memory=1)
    assert (ladder.above(), ladder.below()) == (Rung(60, 1), Rung(60, 0))
    ladder.rung = Rung(60, 1)
    assert (ladder.above(), ladder.below()) == (Rung(70, 1), Rung(60, 0))
    ladder.rung = Rung(70, 1)
    assert (ladder.above(), ladder.below(), ladder.last) == (Rung(75, 1), Rung(60, 1), False)
    ladder.rung = Rung(75, 1)
    assert (ladder.above(), ladder.below(), ladder.last) == (Rung(75, 1), Rung(65, 1), True)
    ladder.rung = Rung(75, 0)
    assert not ladder.last


def test_a_goal_that_is_the_start_but_for_a_sum_of_fractions_is_no_goal_below_it() -> None:
    ladder = Ladder(RULES, 60.0, 60.0 - 1e-7, 10)
    assert ladder.last
