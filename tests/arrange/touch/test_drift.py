"""A hand's drift is that of people who keep time: close to 1/f.

Values: Gilden, Thornton & Mallon, Science 267, 1995, and Hennig et al., PLoS ONE 6(10), 2011 (from memory): the power
of people's deviations falls with the frequency as 1/f^b, b between about 0.5 and 1.5; without memory b is 0. The
correlation of an autoregression is a half after its half-life (any text on time series).
"""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from companion.arrange.touch.drift import drift

OCTAVES = (0.25, 1.0, 4.0, 16.0)


def slope(half_lives: tuple[float, ...]) -> float:
    """By what power of the frequency the power falls, between a stroke in two beats and one in 64."""
    beats, power = [float(n) for n in range(256)], np.zeros(129)
    for seed in range(60):
        power += np.abs(np.fft.rfft(drift(beats, half_lives, Random(seed)))) ** 2
    chosen = slice(4, 128)
    return -float(np.polyfit(np.log(np.arange(129)[chosen]), np.log(power[chosen]), 1)[0])


def test_the_power_falls_with_the_frequency_as_it_does_for_people() -> None:
    assert 0.5 < slope(OCTAVES) < 1.5


def test_without_memory_every_note_is_on_its_own() -> None:
    assert abs(slope(())) < 0.15
    assert abs(slope((0.0,))) < 0.15


def test_after_its_half_life_half_of_a_drift_is_left() -> None:
    steps = [4.0 * n for n in range(20_000)]
    found = np.array(drift(steps, (4.0,), Random(1)))
    assert float(np.corrcoef(found[:-1], found[1:])[0, 1]) == pytest.approx(0.5, abs=0.03)


def test_its_standard_deviation_is_one_however_close_the_notes_lie() -> None:
    for step in (0.25, 1.0, 3.0):
        found = [x for seed in range(400) for x in drift([step * n for n in range(64)], OCTAVES, Random(seed))]
        assert float(np.std(found)) == pytest.approx(1.0, abs=0.06)


def test_two_notes_at_one_moment_drift_together() -> None:
    one, two = drift([1.0, 1.0], OCTAVES, Random(5))
    assert one == pytest.approx(two)
