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
