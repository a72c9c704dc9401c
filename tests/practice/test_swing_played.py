"""Bars that swing otherwise than the rest of a take, from quavers of which everything is known."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import pytest

from companion.practice.swing_played import OffBeat, _usual, other_swing, ratio_of

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


WOBBLE = (0, 0.012, -0.01, 0.004, -0.006, 0.016, -0.014, 0.008)


def wobbling(place: Callable[[int], float], *, each: int = 3, bars: int = 32) -> list[OffBeat]:
    """Off-beat quavers of a hand that wobbles the same way each time."""
    return [OffBeat(n, place(n) + WOBBLE[(3 * n + 5 * k) % 8]) for n in range(bars) for k in range(each)]


def even_in(first: int, end: int, place: float = 0.5) -> Callable[[int], float]:
    return lambda n: place if first <= n < end else 0.615


@pytest.mark.parametrize(
    ("played", "sure", "told"),
    [
        (wobbling(even_in(8, 12)), SURE, [(8, 11, 0.5015, 0.615)]),
        (wobbling(lambda n: 0.7 if 20 <= n < 23 else even_in(8, 12)(n)), SURE,
         [(8, 11, 0.5015, 0.615), (20, 22, 0.69978, 0.619)]),
        (wobbling(even_in(4, 20), bars=64), SURE, [(4, 19, 0.50125, 0.609)]),
        (wobbling(even_in(4, 21), bars=64), SURE, [(4, 19, 0.50125, 0.609)]),  # sixteen bars at most
        (wobbling(even_in(8, 10, 0.55)), SURE, []),
        (wobbling(even_in(8, 10, 0.545)), SURE, [(8, 9, 0.54933, 0.615)]),
        (wobbling(even_in(8, 10, 0.565)), 2.0, []),  # no listener would care
        (wobbling(even_in(8, 10, 0.56)), 2.0, [(8, 9, 0.56433, 0.615)]),
        (wobbling(even_in(8, 12), each=1), SURE, [(8, 11, 0.5005, 0.615)]),
        (wobbling(even_in(8, 11), each=1), SURE, []),  # three quavers tell nothing
        (wobbling(lambda n: even_in(8, 12)(n) + 0.01 * (n % 5 - 2)), SURE, [(8, 11, 0.5015, 0.611)]),
        (wobbling(even_in(0, 2), each=2, bars=4), SURE, []),
        (wobbling(even_in(0, 2), each=2, bars=5), SURE, [(0, 1, 0.505, 0.601)]),
    ],
)  # fmt: skip
def test_where_and_how_otherwise_a_stretch_swings(
    played: list[OffBeat], sure: float, told: list[tuple[int, int, float, float]]
) -> None:
    found = other_swing(played, QUARTER, sure, LEAST)
    assert [(one.first, one.last) for one in found] == [(first, last) for first, last, *_ in told]
    places = [figure for one in found for figure in (one.place, one.usual)]
    assert places == pytest.approx([figure for *_, place, usual in told for figure in (place, usual)], abs=1e-5)


@pytest.mark.parametrize(("by", "told"), [(0.02, True), (0.04, False)])
def test_of_quavers_that_are_phrased_each_in_its_own_way_nothing_is_said(by: float, told: bool) -> None:
    quavers = wobbling(even_in(8, 12), each=4)
    phrased = [OffBeat(one.bar, one.place + by * (-1) ** n * (8 <= one.bar < 12)) for n, one in enumerate(quavers)]
    assert bool(other_swing(phrased, QUARTER, SURE, LEAST)) is told


@pytest.mark.parametrize(
    ("place", "ratio"), [(0.5, 1.0), (2 / 3, 2.0), (0.2, 0.25), (0.1, 0.25), (0.85, 17 / 3), (0.95, 17 / 3)]
)
def test_a_place_in_the_beat_is_a_ratio_of_long_to_short_within_reason(place: float, ratio: float) -> None:
    assert ratio_of(place) == pytest.approx(ratio)


def exactly(*bars: tuple[int, tuple[float, ...]]) -> list[OffBeat]:
    return [OffBeat(bar, place) for bar, places in bars for place in places]


def around(middle: float) -> tuple[float, float, float]:
    return middle - 0.02, middle, middle + 0.03


@pytest.mark.parametrize(
    ("bars", "quarter", "usual", "own", "between"),
    [
        ([around(0.5), around(0.55), around(0.6), around(0.65), around(0.7)], 0.5, 0.6, 1.4826 * 0.02,
         math.sqrt((1.4826 * 0.05) ** 2 - (1.4826 * 0.02) ** 2 / 3)),
        ([around(0.5), around(0.6), around(0.7)], 0.5, 0.6, 1.4826 * 0.02, 0.02),  # three bars tell nothing of bars
        ([around(0.6), around(0.6), around(0.6)], 0.2, 0.6, 0.04, 0.02),  # 8 ms at a fast tempo
        ([around(0.6), around(0.6)], 0.5, 0.6, 0.016, 0.02),  # six tell nothing
        ([(0.58, 0.6, 0.62, 0.6), (0.6, 0.64, 0.6, 0.56)], 0.5, 0.6, 1.4826 * 0.01, 0.02),
        ([(0.5, 0.7)] * 6, 0.5, 0.6, 0.016, 0.02),  # nor do bars of two
    ],
)  # fmt: skip
def test_how_far_quavers_and_bars_differ_is_told_by_medians(
    bars: list[tuple[float, ...]], quarter: float, usual: float, own: float, between: float
) -> None:
    """1.4826 makes a standard deviation of a median absolute deviation (Hampel, 1974; from memory)."""
    own = max(own, 0.008 / quarter)
    assert _usual(exactly(*enumerate(bars)), quarter) == pytest.approx((usual, own, between))


@pytest.mark.parametrize(
    ("quarter", "by", "told"), [(0.45, 0.0265, True), (0.45, 0.0275, False), (0.2, 0.053, True), (0.2, 0.055, False)]
)
def test_quavers_of_a_stretch_lie_within_a_twenty_fifth_of_a_beat_or_twice_as_far_apart_as_usual(
    quarter: float, by: float, told: bool
) -> None:
    otherwise = (0.5 - by, 0.5 + by, 0.5 - by, 0.5 + by)
    played = exactly(*((n, otherwise if 8 <= n < 12 else (0.615,) * 4) for n in range(32)))
    found = [(one.first, one.last) for one in other_swing(played, quarter, SURE, LEAST)]
    assert (found == [(8, 11)]) is told


@pytest.mark.parametrize(("second", "told"), [(4, 1), (3, 0)])
def test_of_eight_quavers_the_half_may_swing_otherwise(second: int, told: int) -> None:
    found = other_swing(exactly((0, (0.5,) * 4), (1, (0.615,) * second)), QUARTER, 2.0, LEAST)
    assert len(found) == told


def test_a_stretch_is_sixteen_bars_long_at_most_whether_each_shows_its_swing_or_not() -> None:
    """Off-beats in every other bar: from bar 4 to bar 18 are eight of them, and fifteen bars."""
    played = exactly(*((n, (0.5,) * 3 if 4 <= n < 24 else (0.615,) * 3) for n in range(0, 64, 2)))
    assert [(one.first, one.last) for one in other_swing(played, QUARTER, SURE, LEAST)] == [(4, 18), (20, 22)]
