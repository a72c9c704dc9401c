"""Even beats and chart beats are one order, and each spot has its pace."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.follow.even_time import EvenTime
from companion.follow.shape import MOST, TempoShape

WALTZ = TempoShape(6.0, (0.0, 1.0, 2.5, 4.0), (0.0, 0.3, -0.2, 0.1), (0.05, 0.02, 0.1, 0.05))
STRETCHES = st.lists(st.floats(-MOST, MOST), min_size=1, max_size=12)


@given(stretches=STRETCHES, beats=st.lists(st.floats(-20, 60), min_size=1, max_size=20), offset=st.integers(0, 9))
def test_every_chart_beat_comes_back_from_its_even_one(stretches: list[float], beats: list[float], offset: int) -> None:
    many = len(stretches)
    shape = TempoShape(float(many), tuple(map(float, range(many))), tuple(stretches), (0.1,) * many).moved(
        float(offset)
    )
    even = EvenTime(shape)
    found = even.chart(even.even(np.array(beats)))
    assert found == pytest.approx(beats, abs=1e-6)


def test_the_form_is_as_long_in_even_beats_and_goes_round() -> None:
    there = EvenTime(WALTZ).even(np.array([0.0, 6.0, 12.0, 7.0]))
    assert there[:3] == pytest.approx([0.0, 6.0, 12.0])
    assert there[3] == pytest.approx(6.0 + EvenTime(WALTZ).even(np.array([1.0]))[0])


def test_a_stretched_segment_is_gone_through_more_slowly() -> None:
    slow, fast = EvenTime(WALTZ).pace(np.array([1.5, 3.0]))
    assert slow / fast == pytest.approx(np.exp(-0.2 - 0.3))
    first, last = EvenTime(WALTZ).even(np.array([1.0, 2.5]))
    assert (last - first) * slow == pytest.approx(1.5)


def test_before_the_first_downbeat_the_time_is_even() -> None:
    assert EvenTime(WALTZ).even(np.array([-4.0, -1.0])) == pytest.approx([-4.0, -1.0])
    assert EvenTime(WALTZ).pace(np.array([-0.5])) == pytest.approx([1.0])


def test_in_bars_that_are_counted_later_every_spot_lies_later() -> None:
    beats = np.array([1.5, 3.0, 4.5])
    assert EvenTime(WALTZ.moved(12.5)).pace(beats + 12.5) == pytest.approx(EvenTime(WALTZ).pace(beats))
    assert EvenTime(WALTZ.moved(12.5)).straying(beats + 12.5) == pytest.approx(EvenTime(WALTZ).straying(beats))


TWO = TempoShape(4.0, (0.0, 1.0), (0.0, float(np.log(2))), (0.1, 0.2))
"""A beat as usual, then three at half the speed: one and six parts of seven, so that the whole is four beats long."""


def test_a_shape_of_two_speeds_is_laid_out_by_hand() -> None:
    even = EvenTime(TWO)
    assert even.even(np.array([0.0, 0.5, 1.0, 2.5, 4.0])) == pytest.approx(np.array([0.0, 0.5, 1.0, 4.0, 7.0]) * 4 / 7)
    assert even.pace(np.array([0.0, 0.99, 1.0, 3.99])) == pytest.approx([7 / 4, 7 / 4, 7 / 8, 7 / 8])
    assert even.chart(np.array([0.0, 4 / 7, 16 / 7, 4.0, 4 + 4 / 7])) == pytest.approx([0.0, 1.0, 2.5, 4.0, 5.0])


@pytest.mark.parametrize(
    ("beat", "segment"), [(0.0, 0), (0.99, 0), (1.0, 1), (3.99, 1), (4.0, 0), (5.0, 1), (-0.5, 1), (-3.5, 0)]
)
def test_a_segment_begins_on_its_first_beat_in_every_chorus(beat: float, segment: int) -> None:
    """Each adds its spread, squared, for each of its quarters."""
    straying = (0.1**2 * 1.0, 0.2**2 * 3.0)[segment]
    assert EvenTime(TWO).straying(np.array([beat])) == pytest.approx([straying])
    if beat >= 0:
        assert EvenTime(TWO).pace(np.array([beat])) == pytest.approx([(7 / 4, 7 / 8)[segment]])


def test_the_time_is_even_up_to_where_the_shape_begins() -> None:
    later = EvenTime(TWO.moved(8.0))
    assert later.pace(np.array([7.99, 8.0])) == pytest.approx([1.0, 7 / 4])
    assert later.even(np.array([7.0, 8.0, 9.0, 12.0])) == pytest.approx([-1.0, 0.0, 4 / 7, 4.0])
    assert later.chart(np.array([-1.0, 0.0, 4.0, 8.0])) == pytest.approx([7.0, 8.0, 12.0, 16.0])
