"""The beat clock alone: told moments, asked which beat comes next and when what lies between two beats sounds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.stage.beat_clock import CLOSEST, BeatClock


def running(pulse: float = 1.0, beats: int = 1, speed: float = 2.0) -> BeatClock:
    """A clock that has sounded so many beats from 0 on in time, and knows when the next is due."""
    clock = BeatClock(pulse)
    clock.begin(0.0, 0.0)
    for n in range(beats):
        clock.sound(n * pulse / speed)
    clock.foresee(beats * pulse / speed, 0.0, speed)
    return clock


def test_before_anything_is_known_nothing_is_next_or_due() -> None:
    clock = BeatClock(1.0)
    assert (clock.next, clock.last, clock.sounded_at, clock.due, clock.closes) == (None,) * 5
    assert clock.moment(3.0) == float("inf") and clock.place(1.0, 2.0) is None


@pytest.mark.parametrize(
    ("pulse", "lead", "first"),
    [(1.0, 4.0, -4.0), (1.0, 0.5, -1.0), (1.5, 6.0, -6.0), (1.5, 5.0, -6.0), (1.0, 0.0, 0.0)],
)
def test_it_begins_whole_beats_before_the_first_downbeat(pulse: float, lead: float, first: float) -> None:
    """A pickup of a quaver is counted in from the beat before it, in dotted quarters in 6/8."""
    clock = BeatClock(pulse)
    assert clock.begin(0.0, lead) == clock.next == first
    assert clock.last is None and clock.place(0.0, 2.0) is None


def test_two_beats_are_a_quarter_of_a_beat_apart_at_least() -> None:
    clock = running(1.5)
    clock.sound(10.0)
    clock.foresee(9.0, 9.5, 2.0)
    assert clock.due == pytest.approx(10.0 + 0.25 * 1.5 / 2)


@pytest.mark.parametrize(
    ("pulse", "place", "goes_to"), [(1.5, 3.2, 4.5), (1.5, 4.5, 4.5), (1.5, 0.1, 1.5), (2.0, 4.1, 6.0), (1.0, 3.2, 4.0)]
)
def test_elsewhere_it_goes_on_with_the_next_beat_of_the_metre(pulse: float, place: float, goes_to: float) -> None:
    clock = running(pulse)
    clock.go_to(place, 10.0, 2.0)
    assert (clock.next, clock.last) == (goes_to, goes_to - pulse)
    assert clock.sounded_at == pytest.approx(10.0 - pulse / 2)


def test_beats_follow_one_another_a_pulse_apart() -> None:
    clock = running(1.5, beats=3)
    assert clock.sound(9.0) == clock.next == 6.0
    assert (clock.last, clock.sounded_at) == (4.5, 9.0)


def test_an_off_beat_lies_between_the_beat_that_sounded_and_the_one_foreseen() -> None:
    clock = running(beats=1)
    clock.foresee(0.5, 0.0, 2.0)
    assert clock.moment(0.5) == pytest.approx(0.25)
    clock.foresee(0.8, 0.0, 2.0)  # the player slows down
    assert clock.moment(0.5) == pytest.approx(0.4)
    assert clock.moment(0.0) == 0.0 and clock.moment(1.0) == pytest.approx(0.8)


def test_of_a_dotted_beat_each_quaver_is_a_third_and_before_the_first_beat_nothing_has_a_moment() -> None:
    clock = running(1.5)
    clock.foresee(0.9, 0.0, 2.0)
    assert [clock.moment(beat) for beat in (0.5, 1.0, 1.5)] == pytest.approx([0.3, 0.6, 0.9])
    clock = BeatClock(1.5)
    clock.begin(0.0, 0.0)
    assert clock.moment(0.0) == float("inf")


def test_what_lies_after_a_last_chord_without_length_sounds_with_it() -> None:
    clock = running(beats=5)
    clock.close(4.0, 2.0)
    assert clock.closes == clock.moment(4.5) == 2.0


def test_while_nothing_is_foreseen_what_lies_between_waits() -> None:
    clock = running()
    clock.wait()
    assert clock.due is None and clock.moment(0.5) == float("inf")


def test_what_lies_on_the_beat_that_sounds_sounds_with_it_though_the_next_is_not_foreseen() -> None:
    clock = running(beats=1)
    clock.wait()
    assert clock.moment(0.0) == 0.0 and clock.moment(0.01) == float("inf")


@pytest.mark.parametrize(
    ("waits_at", "due", "moments"),
    [(1.01, 0.5, (0.0, 0.25, 0.5)), (1.0, "waits", (0.0, 0.25, "waits")), (0.5, "waits", (0.0, "waits", "waits"))],
)
def test_up_to_the_note_that_is_waited_for_all_sounds_in_time_and_from_there_on_nothing(
    waits_at: float, due: float | str, moments: tuple[float | str, ...]
) -> None:
    clock = running(beats=1)
    clock.foresee(0.5, 0.0, 2.0, waits_at)
    told = [float("inf") if one == "waits" else one for one in (due, *moments)]
    assert [clock.due, *map(clock.moment, (0.0, 0.5, 1.0))] == pytest.approx(told)
    clock.foresee(7.0, 7.0, 2.0)  # it was struck
    assert clock.due == 7.0 and clock.moment(0.5) == 3.5


def test_no_beat_comes_before_now_or_on_the_heels_of_the_last() -> None:
    clock = running(beats=1, speed=2.0)
    clock.foresee(0.1, 0.2, 2.0)
    assert clock.due == 0.2
    clock.foresee(0.05, 0.05, 2.0)
    assert clock.due == CLOSEST / 2.0
    clock.foresee(3.0, 0.2, 2.0)
    assert clock.due == 3.0


def test_beats_that_get_other_numbers_sound_at_the_same_moments() -> None:
    clock = running(beats=2)
    moments = [clock.moment(1.0 + part) for part in (0.0, 0.25, 0.5, 1.0)]
    clock.renumber(-16.0)
    assert (clock.last, clock.next) == (-15.0, -14.0)
    assert [clock.moment(-15.0 + part) for part in (0.0, 0.25, 0.5, 1.0)] == moments


def test_numbers_are_for_beats_that_there_are() -> None:
    clock = BeatClock(1.0)
    clock.renumber(4.0)
    assert clock.next is None and clock.last is None


@pytest.mark.parametrize(("place", "beat"), [(7.2, 8.0), (8.0, 8.0), (8.0 + 1e-9, 8.0), (-0.5, 0.0)])
def test_elsewhere_it_goes_on_with_the_first_beat_from_there(place: float, beat: float) -> None:
    clock = running(beats=3)
    clock.go_to(place, 20.0, 2.0)
    assert (clock.next, clock.last, clock.sounded_at) == (beat, beat - 1.0, 19.5)


def test_between_two_beats_the_place_goes_with_the_speed_and_no_farther_than_the_next() -> None:
    clock = running(beats=1)
    assert clock.place(0.1, 2.0) == pytest.approx(0.2)
    assert clock.place(7.0, 2.0) == 1.0  # a beat that waits for its note
    clock = running(beats=3)  # the beat 2 sounded at second 1
    assert [clock.place(at, 2.0) for at in (1.0, 1.2, 9.0)] == pytest.approx([2.0, 2.4, 3.0])


def test_the_last_chord_is_over_as_written_unless_the_player_lets_go() -> None:
    clock = running(beats=5)
    assert clock.closes is None
    clock.close(12.0, 2.0)
    assert clock.next == 12.0 and clock.closes == 2.0 + (12.0 - 4.0) / 2.0
    clock.let_go(3.0)
    assert clock.closes == 3.0
    clock.hold_on()
    assert clock.closes == 6.0


@given(
    gaps=st.lists(st.floats(0.0, 2.0), min_size=1, max_size=20),
    off=st.floats(-1.0, 1.0),
    speed=st.floats(0.5, 5.0),
)
def test_the_moments_never_fall(gaps: list[float], off: float, speed: float) -> None:
    """Whatever is foreseen, also what lies in the past, beats and what lies between them come in order."""
    clock, now, moments = BeatClock(1.0), 0.0, []
    clock.begin(0.0, 0.0)
    for gap in gaps:
        clock.foresee(now + gap + off, now, speed)
        due = clock.due
        assert due is not None and due >= now
        if clock.last is not None:
            moments += [clock.moment(clock.last + part) for part in (0.0, 0.3, 0.7)]
        clock.sound(due)
        now = due
    assert moments == sorted(moments)
