"""Bars in which the notes scatter far more than elsewhere."""

from __future__ import annotations

import random

import pytest

from companion.practice.steadiness import is_unsteady, usual_spread


def bar(spread: float, *, seed: int, notes: int = 6) -> list[float]:
    dice = random.Random(seed)
    return [dice.gauss(0, spread) for _ in range(notes)]


def test_of_a_good_players_bars_none_is_unsteady() -> None:
    bars = [bar(12.0, seed=seed) for seed in range(400)]
    usual = usual_spread([off for offs in bars for off in offs])
    assert usual == pytest.approx(12, abs=2)
    assert not [offs for offs in bars if is_unsteady(offs, usual, 4.0, 35.0) is not None]


def test_notes_early_and_late_by_60_ms_are_unsteady() -> None:
    spread = is_unsteady([-60.0, 55.0, -50.0, 65.0, 10.0], 10.0, 4.0, 35.0)
    assert spread == pytest.approx(52, abs=5)


def test_one_note_far_off_is_a_slip_and_a_few_notes_tell_nothing() -> None:
    assert is_unsteady([120.0, 5.0, -5.0, 3.0, 2.0], 10.0, 4.0, 35.0) is None
    assert is_unsteady([-60.0, 55.0], 10.0, 4.0, 35.0) is None


def test_who_is_uneven_throughout_is_not_told_so_of_one_bar() -> None:
    assert is_unsteady([-60.0, 55.0, -50.0, 65.0, 10.0], 50.0, 4.0, 35.0) is None


def test_without_notes_the_spread_is_a_good_players() -> None:
    assert usual_spread([]) == 8.0


@pytest.mark.parametrize(
    ("deviations", "usual", "least", "spread"),
    [
        # Four notes: mean 4, standard deviation the root of 8 (chi squared); 4 and 1.5 times 4 of them, 20.97.
        ((32.5, -32.5, 0, 0), 10.0, 1.0, 22.98),
        ((32.3, -32.3, 0, 0), 10.0, 1.0, None),
        ((100, -15.1, 0, 0), 10.0, 1.0, 45.90),  # to both sides, by half as much again as usual
        ((100, -14.9, 0, 0), 10.0, 1.0, None),
        ((-100, 15.1, 0, 0), 10.0, 1.0, 45.90),
        ((-100, 14.9, 0, 0), 10.0, 1.0, None),
        ((50, -50, 50, -50), 10.0, 50.0, 50.0),
        ((50, -50, 50, -50), 10.0, 50.1, None),
        ((50, -50, 50), 10.0, 1.0, None),  # three notes tell nothing
    ],
)
def test_a_bar_is_unsteady_from_where_chance_would_not_show_it(
    deviations: tuple[float, ...], usual: float, least: float, spread: float | None
) -> None:
    found = is_unsteady(deviations, usual, 4.0, least)
    assert found == (spread if spread is None else pytest.approx(spread, abs=0.02))


@pytest.mark.parametrize(
    ("deviations", "spread"), [((10.0, -10.0, 20.0), 14.826), ((1.0, -1.0, 2.0), 8.0), ((-6.0,), 8.8956)]
)
def test_the_usual_spread_is_told_by_the_median_deviation(deviations: tuple[float, ...], spread: float) -> None:
    """A normal distribution's standard deviation is 1.4826 median absolute deviations (any textbook of statistics)."""
    assert usual_spread(deviations) == pytest.approx(spread)
