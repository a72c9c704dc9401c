"""A distribution of lateness, by counting."""

from __future__ import annotations

import pickle
import statistics

from hypothesis import given
from hypothesis import strategies as st

from companion.ports.lateness import Lateness


def tallied(milliseconds: list[float]) -> Lateness:
    late = Lateness()
    for one in milliseconds:
        late.add(one / 1000)
    return late


def test_median_and_99th_percentile_of_a_hundred_and_one_are_the_51st_and_the_100th():
    figures = tallied([float(n) for n in reversed(range(101))]).figures()
    assert figures == {"count": 101, "median_ms": 50.0, "p99_ms": 99.0, "worst_ms": 100.0}


@given(st.lists(st.floats(-3, 5000), min_size=1, max_size=50))
def test_it_is_the_median_of_the_standard_library_to_the_thousandth(milliseconds):
    figures = tallied(milliseconds).figures()
    assert abs(figures["median_ms"] - statistics.median_low(milliseconds)) < 0.0011
    assert abs(figures["worst_ms"] - max(milliseconds)) < 0.0011


def test_of_nothing_it_says_no_more_than_that():
    assert Lateness().figures() == {"count": 0}


def test_a_hundred_thousand_take_no_more_room_than_a_thousand():
    few, many = ([n % 997 / 100 for n in range(size)] for size in (1_000, 100_000))
    assert len(pickle.dumps(tallied(many))) < len(pickle.dumps(tallied(few))) * 1.2
