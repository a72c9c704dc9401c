"""Bars that swing otherwise than the rest of a take, from quavers of which everything is known."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from companion.practice.swing_played import OffBeat, other_swing, ratio_of

QUARTER, SURE, LEAST = 0.45, 4.0, 0.05


def quavers(place: Callable[[int], float], *, seed: int = 1, spread: float = 0.008) -> list[OffBeat]:
    """Three off-beat quavers in each of 32 bars."""
    dice = random.Random(seed)
    return [OffBeat(n, place(n) + dice.gauss(0, spread / QUARTER)) for n in range(32) for _ in range(3)]


@pytest.mark.parametrize("seed", range(5))
def test_four_bars_of_even_quavers_are_told(seed: int) -> None:
    (one,) = other_swing(quavers(lambda n: 0.5 if 8 <= n < 12 else 0.615, seed=seed), QUARTER, SURE, LEAST)
    assert (one.first, one.last) == (8, 11)
    assert ratio_of(one.place) == pytest.approx(1.0, abs=0.1) and ratio_of(one.usual) == pytest.approx(1.6, abs=0.1)


def test_of_a_steady_swing_nothing_is_told() -> None:
    assert not [
        one for seed in range(40) for one in other_swing(quavers(lambda n: 0.6, seed=seed), QUARTER, SURE, LEAST)
    ]


def test_who_swings_each_phrase_otherwise_is_not_told_off() -> None:
    phrases = [0.56, 0.64, 0.6, 0.54, 0.66, 0.58, 0.62, 0.55]
    for seed in range(5):
        assert not other_swing(quavers(lambda n: phrases[n // 4], seed=seed, spread=0.015), QUARTER, SURE, LEAST)


def test_too_few_quavers_tell_nothing() -> None:
    few = quavers(lambda n: 0.5 if n == 1 else 0.615)
    assert not other_swing(few[:7], QUARTER, SURE, LEAST)
    assert not other_swing([OffBeat(1, 0.5), *few[6:]], QUARTER, SURE, LEAST)
