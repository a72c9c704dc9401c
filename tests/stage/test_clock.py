"""Stamps that only tell the time since the one before are laid on the live clock."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.stage.clock import StampClock


def through_clock(moments, latenesses, drift=0.0):
    """Lay true moments on the clock: the driver's deltas run fast by ``drift``, Python gets to each so much later."""
    clock, last, laid = StampClock(), None, []
    for moment, late in zip(moments, latenesses, strict=True):
        delta = 0.0 if last is None else (moment - last) * (1 + drift)
        last = moment
        laid.append(clock.seconds(delta, moment + late))
    return laid


def test_a_message_that_python_gets_to_late_keeps_its_moment():
    dice = random.Random(1)
    moments = [100 + 0.25 * n for n in range(200)]
    late = [dice.choice([0.0001, 0.0001, 0.004, 0.012]) for _ in moments]
    laid = through_clock(moments, late)
    assert max(abs(a - b) for a, b in zip(laid[8:], moments[8:], strict=True)) < 0.0005


@pytest.mark.parametrize("drift", [1e-4, -1e-4])
def test_an_hour_with_a_clock_that_runs_fast_or_slow_costs_no_more_than_two_milliseconds(drift):
    moments = [1.0 * n for n in range(3600)]
    laid = through_clock(moments, [0.0002] * len(moments), drift)
    assert max(abs(a - b) for a, b in zip(laid, moments, strict=True)) < 0.0025


def test_deltas_that_a_driver_counts_twice_are_made_good_at_once():
    # Messages of one packet may each bring the time since the packet before.
    clock = StampClock()
    clock.seconds(0.0, 10.0)
    assert [clock.seconds(0.5, 10.5), clock.seconds(0.5, 10.5001)] == pytest.approx([10.5, 10.5001])
    assert clock.seconds(0.5, 11.0) == pytest.approx(11.0)


def test_a_message_shortly_after_another_keeps_its_moment():
    clock = StampClock()
    laid = [clock.seconds(delta, arrival) for delta, arrival in ((0.0, 100.0), (0.05, 100.05), (0.05, 100.112))]
    assert laid == pytest.approx([100.0, 100.05, 100.1])
    assert clock.seconds(-1.0, 100.2) == pytest.approx(100.1), "a step back is none"


@pytest.mark.parametrize(
    ("apart", "last"),
    [
        (1.0, 19),  # for twenty seconds
        (0.25, 63),  # as one of the last 64
        (30.0, 3),  # as one of the last four, however old
    ],
)
def test_how_long_a_message_that_came_at_once_tells_how_late_the_others_are(apart, last):
    """All but the first are ten milliseconds late."""
    clock = StampClock()
    clock.seconds(0.0, 100.0)
    late = [clock.seconds(apart, 100.01 + n * apart) - (100.0 + n * apart) for n in range(1, last + 3)]
    assert late == pytest.approx([0.0] * last + [0.01, 0.01], abs=1e-6)


def test_a_message_just_twenty_seconds_old_still_tells():
    clock = StampClock()
    clock.seconds(0.0, 100.0)
    for n in range(1, 6):
        clock.seconds(1.0, 100.02 + n)
    assert clock.seconds(14.99, 120.0) == pytest.approx(119.99)


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 0.5)), max_size=100))
def test_a_moment_is_never_after_the_arrival_nor_before_the_last(steps):
    clock, arrival, last = StampClock(), 0.0, float("-inf")
    for delta, wait in steps:
        arrival += wait
        seconds = clock.seconds(delta, arrival)
        assert last <= seconds <= arrival
        last = seconds
