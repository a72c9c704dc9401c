"""The lead: the mean of the hypotheses of one place, how sure it is, and when a beat is due by it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from companion.follow.belief import Crowd, Filter, Manner
from companion.follow.even_time import EvenTime
from companion.follow.lead import Lead, lead_of
from companion.follow.roles import readings_for
from companion.follow.shape import TempoShape

SHAPE = TempoShape(64.0, (0.0, 8.0), (0.0, math.log(2)), (0.05, 0.05))
"""Eight beats as usual, then all at half the speed: 120 usual beats are stretched over the 64."""


@pytest.fixture(scope="module")
def sieve(stand: Any) -> Filter:
    return Filter(readings_for(stand.tune().unfold(), frozenset({"melody"})), Manner())


def crowd(x: list[float], v: list[float], way: list[int], read: list[int]) -> Crowd:
    return Crowd.of(np.array(x), v, 0.01, 0.0, 0.04, [4.0, 5.0, 6.0, 70.0, 6.0][: len(x)], way, read, 0.0)


FIVE = [8.0, 8.2, 71.9, 30.0, 7.6], [2.0, 2.2, 1.9, 1.0, 2.3], [0, 1, 2, 2, 0], [0, 0, 0, 0, 1]
"""A place; one a little on; one a form later; one elsewhere; one in another reading, and more than 12 % faster."""


def test_the_place_and_tempo_are_the_mean_of_those_of_one_reading_and_tempo(sieve: Filter) -> None:
    weight = np.array([0.4, 0.2, 0.1, 0.1, 0.2])
    chosen = np.array([True, True, True, False, True])
    lead = lead_of(crowd(*FIVE), weight, chosen, 12.0, sieve)
    beat = 8.0 + (0.2 * 0.2 - 0.1 * 0.1) / 0.7
    speed = (0.4 * 2.0 + 0.2 * 2.2 + 0.1 * 1.9) / 0.7
    assert (lead.seconds, lead.beat, lead.speed) == (12.0, pytest.approx(beat), pytest.approx(speed))
    shares = {8.0: (4 / 9, 2.0), 8.2: (2 / 9, 2.2), 7.9: (1 / 9, 1.9), 7.6: (2 / 9, 2.3)}
    assert lead.spread == pytest.approx(math.sqrt(sum(s * (0.01 + (x - beat) ** 2) for x, (s, _) in shares.items())))
    assert lead.speed_spread == pytest.approx(
        math.sqrt(sum(s * (0.04 + (v - speed) ** 2) for s, v in shares.values()))
    ), "of how sure it is, the others tell as well"
    assert lead.mass == pytest.approx(0.9) and lead.free == pytest.approx(0.2) and lead.stopped == 0.0
    assert (lead.heard, lead.reading) == (4, sieve.readings.each[0]), "of the likeliest"


@pytest.mark.parametrize(("speed", "same"), [(2.23, True), (2.25, False), (1.77, True), (1.75, False)])
def test_a_tempo_more_than_an_eighth_off_is_another(sieve: Filter, speed: float, same: bool) -> None:
    two = crowd([8.0, 8.1], [2.0, speed], [0, 0], [0, 0])
    lead = lead_of(two, np.array([0.6, 0.4]), np.array([True, True]), 0.0, sieve)
    assert lead.speed == pytest.approx(0.6 * 2.0 + 0.4 * speed if same else 2.0)
    assert lead.beat == pytest.approx(8.04 if same else 8.0)


def test_of_hypotheses_without_any_weight_left_each_counts_alike(sieve: Filter) -> None:
    two = crowd([8.0, 8.2], [2.0, 2.0], [0, 0], [0, 0])
    lead = lead_of(two, np.zeros(2), np.array([True, True]), 0.0, sieve)
    assert (lead.mass, lead.beat) == (0.0, pytest.approx(8.1))
    assert lead.spread == pytest.approx(math.sqrt(0.01 + 0.1**2))


@pytest.fixture
def lead(sieve: Filter) -> Lead:
    return Lead(10.0, 4.0, 2.0, 1.0, 0.1, 0.1, 0.0, 0.0, 3, sieve.readings.each[0])


def test_a_beat_is_due_at_the_tempo_that_is_gone_by(lead: Lead) -> None:
    assert [lead.when(beat) for beat in (4.0, 5.0, 12.0, 2.0)] == [10.0, 10.5, 14.0, 9.0]


@pytest.mark.parametrize(("shaped", "due"), [(0.0, 14.0), (1.0, 16.0), (0.25, 14.5)])
def test_a_beat_in_a_stretch_known_from_earlier_is_due_the_later(lead: Lead, shaped: float, due: float) -> None:
    """From beat 4 at two a second to beat 12, of which four are stretched to twice their length; 15/8 chart beats are
    one even one before the stretch: four take 4 · 8/15 even beats, and the stretched ones 4 · 16/15."""
    usual = 2.0 * 8 / 15  # even beats a second
    shapely = replace(lead, shaped=shaped, usual=usual, even_time=EvenTime(SHAPE))
    assert shapely.when(12.0) == pytest.approx(due)
    assert shapely.when(4.0) == pytest.approx(10.0)


def test_how_far_the_tune_is_shaped_as_before_is_told_with_the_usual_speed(stand: Any) -> None:
    manner = Manner().shaped_by(SHAPE)
    sieve = Filter(readings_for(stand.tune().unfold(), frozenset({"melody"})), manner)
    way = next(n for n, one in enumerate(manner.freedoms) if one.shaped)
    some = crowd([4.0, 4.1, 4.0], [1.1, 2.0, 1.0], [way, 0, way], [0, 0, 0])
    found = lead_of(some, np.array([0.5, 0.3, 0.2]), np.ones(3, bool), 1.0, sieve)
    pace = 15 / 8  # chart beats in an even one before the stretch
    assert found.speed == pytest.approx(0.5 * 1.1 * pace + 0.3 * 2.0 + 0.2 * 1.0 * pace)
    assert (found.shaped, found.usual) == (pytest.approx(0.7), pytest.approx((0.5 * 1.1 + 0.2 * 1.0) / 0.7))
    strict = lead_of(some, np.array([0.0, 1.0, 0.0]), np.array([False, True, False]), 1.0, sieve)
    assert (strict.shaped, strict.even_time) == (0.0, None)
