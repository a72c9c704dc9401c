"""Where the chart's course is left: leaps in time and out of it, stops, and what is neither."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.chart.model import Form
from companion.load import load
from companion.practice.departures import Departure, departures, floor_to
from companion.practice.expected import Expected
from companion.practice.placing import TakePlace
from companion.resources import chart_path

QUARTER = 0.5


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ovens-at-five")).unfold()


OVENS = load(chart_path("ovens-at-five")).unfold()
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


# Where the limits lie: sixteen beats at 120, and then


def gone_on(beat: float, after: float, leapt: bool = False) -> list[tuple[float, float, float]]:
    """Departures of one who goes on at a beat so many beats' time after their sixteenth note (on beat 15)."""
    start = 1.0 + (15 + after) * QUARTER
    later = [TakePlace(beat + n, beat + n, start + n * QUARTER, leapt and n == 0) for n in range(16)]
    found = departures(OVENS, [*run(0, 16, 1.0, True), *later], EVERY_QUARTER)
    return [(one.leave, one.land, round(one.pause, 3)) for one in found if one.after == 15]


@pytest.mark.parametrize(
    ("beat", "after", "leapt", "found"),
    [
        (16, 1.0, False, []),
        (16, 3.3, False, []),  # a beat and more late, but not for 1.2 seconds
        (16, 3.5, False, [(16.0, 16.0, 1.25)]),
        (16.5, 4.0, False, [(16.0, 16.0, 1.25)]),
        (15.5, 4.0, False, [(15.5, 15.5, 1.75)]),  # within the beat of the last note
        (24, 9.9, False, []),  # after nine beats nobody is sure of one
        (24, 7.95, False, []),
        (24, 6.35, False, []),  # early, and nothing skipped
        (24, 6.25, False, [(16.0, 24.0, 2.625)]),
        (24, 1.0, False, [(16.0, 24.0, 0.0)]),  # in time, at the next beat
        (24, 1.3, False, [(16.0, 24.0, 0.0)]),
        (24, 1.45, False, [(16.0, 24.0, 0.0)]),
        (17, 1.05, False, []),
        (17, 1.0, False, [(16.0, 17.0, 0.0)]),  # a beat early
        (17, 0.95, False, [(16.0, 17.0, 0.0)]),
        (18, 1.0, False, [(16.0, 18.0, 0.0)]),
        (8, 1.0, True, [(16.0, 8.0, 0.0)]),
        (8, 2.1, True, [(16.0, 8.0, 0.0)]),  # half a second isn't a stop
        (8, 2.3, True, [(16.0, 8.0, 0.65)]),
        (10, 3.0, True, [(16.0, 10.0, 1.0)]),
        (8, 8.0, True, [(16.0, 8.0, 3.5)]),
        (8, 1.4, True, [(16.0, 8.0, 0.0)]),
        (16, 1.0, True, []),
        (16, 4.0, True, [(16.0, 16.0, 1.5)]),
        (8.5, 3.4, True, [(16.0, 8.0, 0.95)]),  # the off-beat was due half a beat after the place gone back to
        (15, 1.0, True, [(16.0, 15.0, 0.0)]),
        (15, 0.2, False, [(16.0, 15.0, 0.0)]),  # the same place again, and in no time
        (40, 9.0, True, [(16.0, 40.0, 4.0)]),
    ],
)  # fmt: skip
def test_from_what_the_notes_before_and_after_tell_one_stopped_or_leapt(
    beat: float, after: float, leapt: bool, found: list[tuple[float, float, float]]
) -> None:
    assert gone_on(beat, after, leapt) == found


# A note on each downbeat alone: where in the silence the leap was


@pytest.mark.parametrize(
    ("last", "first", "passed", "without", "found"),
    [
        (12, 8, 6, (), (16.0, 6.0, 0.0)),  # at a bar line, and leaving out nothing
        (12, 8, 5, (), (16.0, 7.0, 0.0)),
        (12, 8, 4, (), (16.0, 8.0, 0.0)),
        (12, 12, 4, (), (16.0, 12.0, 0.0)),
        (12, 0, 3, (), (15.0, 0.0, 0.0)),
        (12, 8, 8, (), (13.0, 8.0, 3.5)),  # some note would have been left out: who was silent had stopped
        (12, 8, 8, (4, 16), (20.0, 8.0, 0.0)),  # but not where there is none: as late as may be
        (12, 8, 6, (4, 16), (18.0, 8.0, 0.0)),
        (24, 64, 6, (), (28.0, 62.0, 0.0)),
        (24, 64, 8, (60, 28), (32.0, 64.0, 0.0)),
        (24, 64, 7.9, (60, 28), (32.0, 64.0, 0.0)),
        (24, 64, 8.3, (60, 28), (25.0, 64.0, 3.65)),  # after two bars of silence nobody knows of a pulse
        (12, 8, 6.33, (), (16.0, 6.0, 0.0)),  # a third of a beat beside the pulse is in time
        (12, 8, 5.67, (), (16.0, 6.0, 0.0)),
        (12, 8, 6.38, (), (13.0, 8.0, 2.69)),  # and more has let it go
        (12, 8, 5.62, (), (13.0, 8.0, 2.31)),
        (124, 64, 8, (), (125.0, 64.0, 3.5)),  # the next time through has its downbeat, too
        (140, 136, 6, (), (144.0, 134.0, 0.0)),
        (140, 136, 8, (), (141.0, 136.0, 3.5)),
    ],
)
def test_a_leap_lies_where_it_leaves_out_least_at_a_bar_line_and_late(
    last: int, first: int, passed: float, without: tuple[int, ...], found: tuple[float, float, float]
) -> None:
    downbeats = [one for one in EVERY_QUARTER if one.beat % 4 == 0 and one.beat not in without]
    before = [TakePlace(float(n), float(n), 1 + n * QUARTER, n == 0) for n in range(0, last + 1, 4)]
    start = before[-1].seconds + passed * QUARTER
    after = [
        TakePlace(float(n), float(n), start + (n - first) * QUARTER, n == first) for n in range(first, first + 24, 4)
    ]
    (one,) = departures(OVENS, [*before, *after], downbeats)
    assert (one.after, one.leave, one.land) == (last // 4, *found[:2])
    assert one.pause == pytest.approx(found[2])


WHEEL = load(chart_path("mill-wheel-at-rest")).unfold()


@pytest.mark.parametrize(
    ("form", "quarter", "late", "stopped"),
    [
        (OVENS, 1.5, 0.9, False),
        (OVENS, 1.5, 1.0, False),
        (OVENS, 1.5, 1.1, True),
        (WHEEL, 1.0, 1.4, False),  # a beat is a dotted quarter
        (WHEEL, 1.0, 1.6, True),
    ],
)
def test_at_slow_tempi_a_stop_is_longer_than_a_beat(form: Form, quarter: float, late: float, stopped: bool) -> None:
    """A note that many quarters late, each a second or longer."""
    pulse = float(form.metre.pulse)
    placed = [TakePlace(n * pulse, n * pulse, n * pulse * quarter, n == 0) for n in range(12)]
    after = [replace(place, seconds=place.seconds + late * quarter) for place in placed[8:]]
    found = departures(form, [*placed[:8], *after], EVERY_QUARTER)
    assert [(one.leave, one.pause) for one in found] == [(8 * pulse, pytest.approx(late * quarter))] * stopped


@pytest.mark.parametrize(
    ("passed", "found"), [(4.5, (16.5, 6.0, 0.0)), (4.9, (16.5, 6.0, 0.0)), (5.1, (13.5, 6.0, 1.8))]
)
def test_in_six_eight_a_leap_keeps_the_dotted_beat(passed: float, found: tuple[float, float, float]) -> None:
    """From beat 12 to 6 with a note in every other bar: up to a third of a dotted quarter beside it is in time."""
    placed = [TakePlace(6.0 * n, 6.0 * n, 3.0 * n, n == 0) for n in range(3)]
    placed += [TakePlace(6.0 * n, 6.0 * n, 6.0 + passed / 2 + 3.0 * (n - 1), n == 1) for n in range(1, 4)]
    every_other = [Expected(6.0 * n, 6.0 * n, 6.0 * n, 60, "melody") for n in range(16)]
    (one,) = departures(WHEEL, placed, every_other)
    assert (one.leave, one.land, round(one.pause, 3)) == found
