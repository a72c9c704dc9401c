"""A key, a pedal or a switch that tells something: done once, heard as a note by nobody, and never made of playing.

Status bytes and controllers are those of MIDI 1.0. How fast hands are is common practice: a glissando takes 20 to 80 ms
a key, a trill about 100 ms a note, a key struck twice in haste comes again within half a second.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.messages import Heard, Wish
from companion.stage.signal_keys import SignalTable
from companion.stage.signals import Signals, sifted

TABLE = SignalTable(
    keys={21: "last time", 22: "slower", 23: "again", 25: "faster", 26: "stop", 108: "last time", 107: "again"},
    controllers={66: "keep"},
    programs={4: "next"},
)


def on(seconds: float, key: int, velocity: int = 70) -> Heard:
    return Heard(seconds, 0x90, key, velocity)


def off(seconds: float, key: int) -> Heard:
    return Heard(seconds, 0x80, key, 0)


def struck(seconds: float, key: int, length: float = 0.1, velocity: int = 70) -> list[Heard]:
    return [on(seconds, key, velocity), off(seconds + length, key)]


def in_time(*groups: list[Heard]) -> list[Heard]:
    return sorted((event for group in groups for event in group), key=lambda event: event.seconds)


def told(events: list[Heard], table: SignalTable = TABLE) -> list[str]:
    return [event.name for event in sifted(events, Signals(table)) if isinstance(event, Wish)]


def played(events: list[Heard], table: SignalTable = TABLE) -> list[Heard]:
    return [event for event in sifted(events, Signals(table)) if isinstance(event, Heard)]


@pytest.mark.parametrize("length", [0.01, 0.1, 4.0])
def test_a_key_struck_alone_tells_however_long_it_is_held_and_is_no_note(length: float) -> None:
    assert sifted(struck(1.0, 23, length), Signals(TABLE)) == [Wish(1.15, "again")]


def test_a_key_that_never_comes_up_tells_all_the_same() -> None:
    assert told([on(1.0, 23)]) == ["again"]


def test_it_tells_in_the_midst_of_playing_with_the_pedal_down_and_a_chord_held() -> None:
    music = in_time([Heard(0.0, 0xB0, 64, 127)], *(struck(0.1 * n, 60 + n % 12, 0.3) for n in range(40)))
    music = in_time(music, [on(0.05, note) for note in (52, 55, 59)])
    events = in_time(music, struck(2.03, 23), struck(3.2, 107))
    assert told(events) == ["again", "again"]
    assert played(events) == music


@pytest.mark.parametrize("apart", [0.06, 0.12, 0.2, 0.5, 0.9])
def test_struck_twice_in_haste_it_is_done_once(apart: float) -> None:
    events = in_time(struck(1.0, 21, 0.05), struck(1.0 + apart, 21, 0.05))
    assert told(events) == ["last time"] and not played(events)


def test_struck_again_later_it_is_done_again() -> None:
    assert told(in_time(struck(1.0, 21), struck(2.5, 21))) == ["last time", "last time"]


def test_faster_may_be_meant_three_times_in_a_second() -> None:
    assert told(in_time(*(struck(1.0 + 0.3 * n, 25) for n in range(3)))) == ["faster"] * 3
    assert told(in_time(struck(1.0, 25, 0.03), struck(1.09, 25))) == ["faster"]


def test_two_wishes_one_after_the_other_are_two() -> None:
    assert told(in_time(struck(1.0, 22), struck(1.3, 23))) == ["slower", "again"]


@pytest.mark.parametrize("step", [0.015, 0.03, 0.06, 0.1])
@pytest.mark.parametrize("keys", [range(50, 20, -1), range(21, 50), (50, 48, 47, 45, 43, 41, 40, 38, 36, 35, 33, 31, 29,
                                  28, 26, 24, 23, 21), (108, 107, 105, 103, 101, 100, 98)], ids=str)  # fmt: skip
def test_a_glissando_over_the_end_of_the_keyboard_tells_nothing_and_is_heard_whole(
    keys: tuple[int, ...], step: float
) -> None:
    events = in_time(*(struck(1.0 + step * n, key, 0.8 * step) for n, key in enumerate(keys)))
    assert told(events) == []
    heard = played(events)
    assert [event.data1 for event in heard if event.is_note_on] == list(keys)
    assert sorted(event.data1 for event in heard if not event.is_note_on) == sorted(keys)
    assert [event.seconds for event in heard] == sorted(event.seconds for event in heard)


def test_a_run_of_semiquavers_down_to_the_lowest_key_tells_nothing() -> None:
    """At 80 to 160 a minute; the scale comes from the player's own region."""
    for tempo in (80, 120, 160):
        scale = [40, 38, 36, 35, 33, 31, 29, 28, 26, 24, 23, 21]
        events = in_time(*(struck(1.0 + 15 / tempo * n, key) for n, key in enumerate(scale)))
        assert told(events) == [] and [e.data1 for e in played(events) if e.is_note_on] == scale


def test_a_forearm_on_the_lowest_keys_tells_nothing() -> None:
    assert told([on(1.0 + 0.004 * n, 21 + n, 60 + n) for n in range(8)]) == []


def test_a_neighbour_brushed_along_is_passed_over_whichever_comes_first() -> None:
    for first, second in (((23, 80), (22, 20)), ((22, 20), (23, 80))):
        events = [on(1.0, *first), on(1.01, *second), off(1.1, first[0]), off(1.1, second[0])]
        assert told(events) == ["again"] and not played(events)


def test_two_neighbours_struck_alike_are_not_understood() -> None:
    events = [on(1.0, 22, 70), on(1.01, 23, 75), off(1.1, 22), off(1.1, 23)]
    assert told(events) == [] and not played(events)


def test_a_key_that_is_only_touched_tells_nothing() -> None:
    assert told(struck(1.0, 26, velocity=5)) == []


def test_both_ends_at_once_are_two_hands() -> None:
    assert told(in_time(struck(1.0, 26), struck(1.02, 107))) == ["stop", "again"]


def test_a_pedal_tells_as_it_goes_down_and_its_way_is_one_press() -> None:
    way = [
        Heard(1.0 + 0.01 * n, 0xB0, 66, v) for n, v in enumerate((5, 40, 63, 64, 62, 66, 100, 127, 90, 64, 63, 30, 0))
    ]
    assert sifted(way, Signals(TABLE)) == [Wish(1.03, "keep")]
    again = [replace(event, seconds=event.seconds + 2) for event in way]
    assert told(way + again) == ["keep", "keep"]


def test_a_footswitch_that_sends_a_program_tells_and_any_other_program_is_no_playing() -> None:
    assert told([Heard(1.0, 0xC0, 4, 0)]) == ["next"]
    assert sifted([Heard(1.0, 0xC0, 5, 0)], Signals(TABLE)) == []


def test_pedals_that_tell_nothing_are_playing() -> None:
    events = [Heard(1.0, 0xB0, number, 127) for number in (1, 7, 11, 64, 67)]
    assert played(events) == events


def test_without_a_table_all_is_playing() -> None:
    events = in_time(struck(1.0, 21), struck(2.0, 108), [Heard(3.0, 0xB0, 66, 127)])
    assert sifted(events, Signals()) == events


def test_a_note_held_as_a_key_goes_by_ends() -> None:
    """A key that was playing when it went down ends as playing."""
    run = in_time(*(struck(1.0 + 0.05 * n, key, 2.0) for n, key in enumerate((28, 26, 24, 23))))
    assert [e.data1 for e in played(run) if not e.is_note_on] == [28, 26, 24, 23]


KEYS = st.integers(19, 32) | st.integers(100, 110) | st.integers(60, 64)


@st.composite
def hammering(draw: st.DrawFn) -> list[Heard]:
    """Keys about the ends struck in any rhythm, each let go before it is struck again."""
    events, busy = list[Heard](), dict[int, float]()
    now = 0.0
    for _ in range(draw(st.integers(1, 30))):
        now += draw(st.sampled_from((0.0, 0.01, 0.04, 0.09, 0.2, 0.4, 1.1)))
        key, length = draw(KEYS), draw(st.sampled_from((0.005, 0.05, 0.3)))
        begin = max(now, busy.get(key, 0.0) + 0.001)
        busy[key] = begin + length
        events += struck(begin, key, length, draw(st.sampled_from((5, 30, 90))))
    return sorted(events, key=lambda event: event.seconds)


@given(hammering())
def test_whatever_is_hammered_a_note_is_passed_on_with_its_end_or_not_at_all(events: list[Heard]) -> None:
    found = sifted(events, Signals(TABLE))
    assert [event.seconds for event in found] == sorted(event.seconds for event in found)
    down: set[int] = set()
    for event in found:
        if isinstance(event, Wish):
            continue
        assert (event.data1 in down) != event.is_note_on
        down = down | {event.data1} if event.is_note_on else down - {event.data1}
    assert not down
    free = [event for event in events if event.data1 not in TABLE.keys]
    assert [event for event in found if isinstance(event, Heard) and event.data1 not in TABLE.keys] == free


def test_what_is_told_up_to_a_moment_depends_on_nothing_later() -> None:
    events = in_time(struck(1.0, 23), struck(1.12, 60), struck(2.0, 26), struck(2.1, 27, velocity=90))
    whole = sifted(events, Signals(TABLE))
    for until in (0.9, 1.0, 1.1, 1.149, 1.15, 1.2, 2.05, 2.2):
        assert sifted(events, Signals(TABLE), until) == [event for event in whole if event.seconds <= until]


def test_asked_at_the_moment_that_it_names_it_says_the_same_as_a_replay() -> None:
    events = in_time(struck(1.0, 23), struck(1.5, 60), struck(3.0, 22), struck(3.4, 23, velocity=30))
    signals, live = Signals(TABLE), list[Heard | Wish]()
    for event in events:
        while (due := signals.due) is not None and due <= event.seconds:
            live += signals.ripen(due)
        live += signals.hear(event)
    while (due := signals.due) is not None:
        live += signals.ripen(due)
    assert live == sifted(events, Signals(TABLE))


def test_a_wish_from_elsewhere_stays_where_it_is() -> None:
    assert sifted([*struck(1.0, 60, 0.1), Wish(2.0, "stop")], Signals(TABLE))[-1] == Wish(2.0, "stop")


# Moments, distances and values exactly on a limit, as they stand in configs/signals.toml


@pytest.mark.parametrize(("value", "told_again"), [(39, True), (40, False), (63, False)])
def test_a_pedal_has_come_up_below_40_and_goes_down_again_from_64(value: int, told_again: bool) -> None:
    way = [Heard(1.0 + 2.0 * n, 0xB0, 66, v) for n, v in enumerate((63, 64, value, 64))]
    assert told(way) == ["keep"] * (1 + told_again)
    assert sifted(way, Signals(TABLE))[0] == Wish(3.0, "keep")


@pytest.mark.parametrize(("velocity", "tells"), [(11, False), (12, True), (127, True)])
def test_a_key_is_struck_from_a_velocity_of_twelve(velocity: int, tells: bool) -> None:
    assert (told(struck(1.0, 26, velocity=velocity)) == ["stop"]) == tells


@pytest.mark.parametrize(("brushed", "tells"), [(40, True), (41, False)])
def test_a_neighbour_is_brushed_with_half_the_velocity_at_most(brushed: int, tells: bool) -> None:
    assert told([on(1.0, 23, 80), on(1.01, 22, brushed)]) == (["again"] if tells else [])


@pytest.mark.parametrize(("key", "near"), [(27, True), (29, True), (30, True), (31, False)])
def test_playing_within_four_semitones_makes_a_key_part_of_a_run(key: int, near: bool) -> None:
    """The key for stop is 26."""
    assert (told(in_time(struck(1.0, key), struck(1.2, 26))) == []) == near


@pytest.mark.parametrize(("before", "in_a_run"), [(0.1, True), (0.34, True), (0.36, False), (1.0, False)])
def test_playing_a_third_of_a_second_before_makes_a_key_part_of_a_run(before: float, in_a_run: bool) -> None:
    assert (told(in_time(struck(2.0 - before, 28), struck(2.0, 26))) == []) == in_a_run


@pytest.mark.parametrize(("after", "in_a_run"), [(0.01, True), (0.14, True), (0.16, False)])
def test_playing_within_a_seventh_of_a_second_after_it_takes_a_signal_back(after: float, in_a_run: bool) -> None:
    events = in_time(struck(2.0, 26), struck(2.0 + after, 28))
    assert (told(events) == []) == in_a_run
    assert len([e for e in played(events) if e.is_note_on]) == (2 if in_a_run else 1)


@pytest.mark.parametrize(("key", "apart", "times"), [(23, 0.98, 1), (23, 1.02, 2), (25, 0.17, 1), (25, 0.22, 2)])
def test_the_same_wish_is_another_after_a_second_and_a_step_after_a_fifth_of_one(
    key: int, apart: float, times: int
) -> None:
    assert len(told(in_time(struck(1.0, key, 0.05), struck(1.0 + apart, key, 0.05)))) == times


@pytest.mark.parametrize(("keys", "heard"), [((21, 22), 0), ((21, 22, 23), 3), ((21, 22, 23, 25), 4)])
def test_three_neighbours_at_once_are_a_hand_and_two_are_a_slip(keys: tuple[int, ...], heard: int) -> None:
    events = [on(1.0 + 0.01 * n, key) for n, key in enumerate(keys)] + [off(2.0, key) for key in keys]
    assert told(events) == []
    assert [e.data1 for e in played(events) if e.is_note_on] == list(keys)[:heard]
    assert len([e for e in played(events) if not e.is_note_on]) == heard


def test_it_names_the_moment_at_which_it_will_know() -> None:
    signals = Signals(TABLE)
    assert signals.due is None and signals.hear(on(1.0, 26)) == []
    assert signals.due == pytest.approx(1.15) and signals.ripen(1.14) == []
    signals.hear(on(1.1, 107))
    assert signals.due == pytest.approx(1.15), "the first of two"
    assert signals.ripen(signals.due) == [Wish(1.15, "stop")]
    assert signals.due == pytest.approx(1.25)


def test_of_two_keys_of_one_hand_it_waits_for_what_comes_after_the_second() -> None:
    signals = Signals(TABLE)
    for seconds, key in ((1.0, 26), (1.1, 25)):
        assert signals.hear(on(seconds, key)) == []
    assert signals.due == pytest.approx(1.25, abs=1e-6)


def test_what_is_wished_for_from_elsewhere_comes_after_what_was_clear_before_it() -> None:
    page = Wish(1.5, "stop")
    assert sifted([on(1.0, 25), page], Signals(TABLE)) == [Wish(1.15, "faster"), page]
    assert sifted([on(1.0, 25), page], Signals(TABLE), until=1.15) == [Wish(1.15, "faster")]
    assert sifted([on(1.0, 25), page], Signals(TABLE), until=1.1) == []


@pytest.mark.parametrize(("key", "near"), [(103, True), (102, False)])
def test_playing_four_semitones_below_the_highest_keys_makes_a_run_of_them_too(key: int, near: bool) -> None:
    """The key for once again is 107."""
    assert (told(in_time(struck(1.0, key), struck(1.2, 107))) == []) == near


@pytest.mark.parametrize(
    ("signal", "key", "taken_back"), [(26, 30, True), (26, 31, False), (107, 103, True), (107, 102, False)]
)
def test_playing_within_four_semitones_just_after_it_takes_a_signal_back(
    signal: int, key: int, taken_back: bool
) -> None:
    assert (told(in_time(struck(2.0, signal), struck(2.1, key))) == []) == taken_back


@pytest.mark.parametrize(("apart", "times"), [(0.75, 1), (1.0, 2)])
def test_the_same_wish_after_exactly_a_second_is_another(apart: float, times: int) -> None:
    assert len(told(in_time(struck(1.0, 23), struck(1.0 + apart, 23)))) == times


@pytest.mark.parametrize("moment", [1.9, 2.05])
@pytest.mark.parametrize("near", [51, 54, 57, 59])
def test_a_key_close_to_what_they_play_tells_in_the_midst_of_playing(near: int, moment: float) -> None:
    far, close = SignalTable(keys={55: "again"}), SignalTable(keys={55: "again"}, close=frozenset({55}))
    events = in_time(struck(moment, near), struck(2.0, 55))
    assert (told(events, close), told(events, far)) == (["again"], [])


def test_two_keys_close_to_what_they_play_are_no_slip_of_one_hand() -> None:
    keys, events = {55: "again", 57: "stop"}, in_time(struck(2.0, 55), struck(2.01, 57))
    assert told(events, SignalTable(keys=keys, close=frozenset(keys))) == ["again", "stop"]  # type: ignore[arg-type]
    assert told(events, SignalTable(keys=keys)) == []  # type: ignore[arg-type]
