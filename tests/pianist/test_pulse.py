"""The pulse of a human player: drift and unevenness as the models have them, hesitations, ritardandi."""

from __future__ import annotations

import math
from itertools import accumulate, pairwise
from random import Random

import pytest

from companion.pianist.pulse import free_pulses, hesitate, slowed, strict_pulses

EVEN = [0.5 * n for n in range(9)]


def test_a_player_without_drift_is_a_metronome() -> None:
    assert strict_pulses(8, 0.5, Random(1), drift=0.0, jitter=0.0) == pytest.approx(EVEN)


def test_the_tempo_wanders_as_a_random_walk_that_comes_home_by_a_two_hundredth_a_beat() -> None:
    """Wing & Kristofferson's two levels, worked with the same dice; the drift alone."""
    dice, wandering, periods = Random(5), 0.0, []
    for _ in range(12):
        wandering = 0.995 * wandering + dice.gauss(0.0, 0.03)
        periods.append(0.6 * math.exp(wandering))
    assert strict_pulses(12, 0.6, Random(5), drift=0.03, jitter=0.0) == pytest.approx(
        [0.0, *accumulate(periods)], rel=1e-9
    )


@pytest.mark.parametrize(
    ("period", "jitter", "size"),
    [(0.3, 0.02, 0.006), (0.5, 0.025, 0.009), (1.0, 0.025, 0.009)],  # 9 ms at most
)
def test_a_pulse_is_uneven_beside_the_tempo_by_a_share_of_it_and_nine_milliseconds_at_most(
    period: float, jitter: float, size: float
) -> None:
    dice = Random(2)
    for _ in range(5):
        dice.gauss(0.0, 0.0)
    uneven = [dice.gauss(0.0, size) for _ in range(5)]
    found = strict_pulses(5, period, Random(2), drift=0.0, jitter=jitter)
    assert [t - period * (n + 1) for n, t in enumerate(found[1:])] == pytest.approx(uneven)
    assert found[0] == 0.0


def test_no_pulse_is_further_beside_its_beat_than_a_fifth_of_it() -> None:
    found = strict_pulses(200, 0.01, Random(1), drift=0.0, jitter=0.5)
    beside = [t - 0.01 * n for n, t in enumerate(found)]
    assert (min(beside), max(beside)) == (pytest.approx(-0.002), pytest.approx(0.002))


def test_a_player_gains_evenly_from_the_end_of_the_count_in_to_the_last_beat() -> None:
    found = strict_pulses(6, 0.6, Random(1), drift=0.0, jitter=0.0, gain=0.5, steady=2)
    periods = [b - a for a, b in pairwise(found)]
    assert [0.6 / period for period in periods] == pytest.approx([1, 1, 1, 1 + 0.5 / 3, 1 + 1 / 3, 1.5])
    assert strict_pulses(2, 0.6, Random(1), drift=0.0, jitter=0.0, gain=0.5, steady=1) == pytest.approx([0, 0.6, 1.2])


FREE = [0.00000, 0.46459, 0.88608, 1.35932, 2.06263, 2.58555, 3.02337, 3.49601, 4.17123, 4.58147, 5.00000]
"""Seconds of pulses in two phrases of four and a bit: slow at their ends, slowest at the last beat."""


def test_each_phrase_in_free_time_is_an_arch_and_slowest_at_its_end() -> None:
    found = free_pulses(10, 0.5, Random(7), phrase=4, freedom=0.2)
    assert found == pytest.approx(FREE, abs=1e-5)
    periods = [b - a for a, b in pairwise(found)]
    mean = sum(periods) / 10
    assert mean == pytest.approx(0.5, rel=0.1)
    assert min(free_pulses(40, 0.5, Random(3), phrase=8, freedom=1.5)[1:]) > 0.0
    shortest = min(b - a for a, b in pairwise(free_pulses(40, 0.5, Random(3), phrase=8, freedom=1.5)))
    assert shortest == pytest.approx(0.3), "nobody is more than two thirds faster"
    assert free_pulses(0, 0.5, Random(1), phrase=4, freedom=0.2) == [0.0]
    assert free_pulses(1, 0.5, Random(1), phrase=4, freedom=0.2) == pytest.approx([0.0, 0.5])


def test_a_hesitation_makes_its_beat_longer_and_all_that_follows_later() -> None:
    dice = Random(4)
    first, second = (0.5 * (dice.uniform(1.3, 1.8) - 1.0) for _ in range(2))
    found = hesitate(EVEN, [0, 3, 6], Random(4))
    assert [late - even for late, even in zip(found, EVEN, strict=True)] == pytest.approx(
        [0, 0, 0, first, first, first, first + second, first + second, first + second]
    )


@pytest.mark.parametrize(("to", "last_share"), [(0.6, 0.92), (0.5, 0.90625)])
def test_a_ritardando_follows_the_square_root_of_a_falling_body(to: float, last_share: float) -> None:
    """Kronman and Sundberg: tempo² falls evenly from 1 to ``to``² (from memory); here within four beats, each by the
    tempo at its middle; what comes after keeps the last tempo."""
    found = slowed(EVEN, 2, 6, to)
    tempi = [0.5 / (b - a) for a, b in pairwise(found)]
    even = [math.sqrt(1 + (to * to - 1) * x) for x in (1 / 8, 3 / 8, 5 / 8, 7 / 8)]
    assert tempi == pytest.approx([1, 1, *even, to, to])
    assert even[0] ** 2 == pytest.approx(last_share)
    assert slowed(EVEN, 2, 6) == slowed(EVEN, 2, 6, 0.6)
