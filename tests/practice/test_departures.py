"""Where the chart's course is left: leaps in time and out of it, stops, and what is neither."""

from __future__ import annotations

import pytest

from companion.chart.model import Form
from companion.load import load
from companion.practice.departures import Departure, departures, floor_to
from companion.practice.judging import Expected
from companion.practice.placing import TakePlace
from companion.resources import chart_path

QUARTER = 0.5


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ovens-at-five")).unfold()


EVERY_QUARTER = [Expected(float(n), float(n), float(n), 60, "melody") for n in range(128)]


def run(first: int, last: int, start: float, leapt: bool) -> list[TakePlace]:
    """One note a quarter."""
    return [
        TakePlace(float(n), float(n), start + (n - first) * QUARTER, leapt and n == first) for n in range(first, last)
    ]


def left(form: Form, *runs: list[TakePlace]) -> list[Departure]:
    return departures(form, [place for one in runs for place in one], EVERY_QUARTER)


def test_playing_on_is_no_departure(form: Form) -> None:
    assert left(form, run(0, 32, 1.0, True)) == []


def test_a_silence_counted_through_is_no_departure(form: Form) -> None:
    assert left(form, run(0, 16, 1.0, True), run(24, 40, 13.0, True)) == []


def test_a_leap_in_time_is_left_at_the_note_after_the_last_and_has_no_pause(form: Form) -> None:
    (one,) = left(form, run(0, 16, 1.0, True), run(8, 32, 9.0, True))
    assert (one.after, one.leave, one.land, one.pause) == (15, 16.0, 8.0, 0.0)


def test_going_on_after_three_seconds_is_a_stop_at_the_next_note(form: Form) -> None:
    (one,) = left(form, run(0, 16, 1.0, True), run(16, 32, 12.0, False))
    assert (one.leave, one.land) == (16.0, 16.0)
    assert one.pause == pytest.approx(3.0)


def test_going_back_after_a_silence_keeps_the_silence(form: Form) -> None:
    (one,) = left(form, run(0, 18, 1.0, True), run(16, 32, 13.0, True))
    assert (one.leave, one.land) == (18.0, 16.0)
    assert one.pause == pytest.approx(3.0)


def test_holding_back_for_half_a_second_is_no_departure(form: Form) -> None:
    assert left(form, run(0, 16, 1.0, True), run(16, 32, 9.5, False)) == []


def test_bars_left_out_without_losing_the_pulse_are_a_leap_on(form: Form) -> None:
    (one,) = left(form, run(0, 16, 1.0, True), run(24, 40, 9.0, False))
    assert (one.leave, one.land, one.pause) == (16.0, 24.0, 0.0)


def test_the_beat_of_a_grid_up_to_a_beat() -> None:
    assert [floor_to(beat, grid) for beat, grid in ((3.7, 1.0), (4.0, 1.5), (-0.5, 1.0))] == [3.0, 3.0, -1.0]
