"""Copies of our own notes that come back are not the player's; what the player plays always is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.ports.echo import EARLY, LATEST, LEARNT, MOST, EchoFilter

WINDOW = 0.06


def echo_of(*notes: tuple[float, int, int]) -> EchoFilter:
    """A filter that knows of notes sent on channel 1: (seconds, note, velocity)."""
    echo = EchoFilter(WINDOW)
    for seconds, note, velocity in notes:
        echo.sent(seconds, (0x90, note, velocity))
    return echo


def test_a_copy_within_the_window_is_ignored_once():
    echo = echo_of((1.0, 40, 90))
    assert echo.is_copy(1.004, (0x90, 40, 90))
    assert not echo.is_copy(1.010, (0x90, 40, 90))


def test_the_same_note_later_on_another_channel_or_another_note_is_the_players():
    assert not echo_of((1.0, 40, 90)).is_copy(1.0 + WINDOW + 0.001, (0x90, 40, 90))
    assert not echo_of((1.0, 40, 90)).is_copy(1.004, (0x91, 40, 90))
    assert not echo_of((1.0, 40, 90)).is_copy(1.004, (0x90, 41, 90))


def test_a_note_before_ours_is_sent_is_the_players():
    assert not echo_of((1.0, 40, 90)).is_copy(0.9, (0x90, 40, 90))


def test_a_returned_note_off_may_be_a_note_on_with_velocity_0():
    echo = EchoFilter(WINDOW)
    echo.sent(1.0, (0x80, 40, 64))
    assert echo.is_copy(1.003, (0x90, 40, 0))


def test_an_instrument_that_returns_notes_with_its_own_touch_is_understood():
    echo = echo_of(*((float(n), 40, 90) for n in range(20)))
    assert all(echo.is_copy(n + 0.004, (0x90, 40, 77)) for n in range(20))


def test_on_an_instrument_that_returns_nothing_the_player_may_double_our_note():
    echo = EchoFilter(WINDOW)
    for n in range(10):
        echo.sent(float(n), (0x90, 40 + n, 90))
        assert not echo.is_copy(n + 0.5, (0x90, 70, 60))
    echo.sent(10.0, (0x90, 45, 90))
    assert not echo.is_copy(10.01, (0x90, 45, 71))


# Later than the window


def returned_late(delay, velocity, notes=20, every=0.25):
    """Which of our notes, a bass line's, are taken for the player's when each comes back late with a velocity."""
    echo = EchoFilter(WINDOW)
    events = [(n * every, 0, n) for n in range(notes)] + [(n * every + delay, 1, n) for n in range(notes)]
    theirs = []
    for seconds, comes_back, n in sorted(events):
        if comes_back:
            theirs += [] if echo.is_copy(seconds, (0x90, 40 + n % 12, velocity)) else [n]
        else:
            echo.sent(seconds, (0x90, 40 + n % 12, 90))
    return echo, theirs


@pytest.mark.parametrize("delay", [0.1, 0.15, 0.2, 0.4])
def test_an_instrument_that_returns_notes_late_is_understood_by_the_second(delay):
    echo, theirs = returned_late(delay, velocity=90)
    assert theirs == [0]
    assert echo.taken_back() == [(0, 40)] and echo.taken_back() == []


@pytest.mark.parametrize("delay", [0.1, 0.2])
def test_an_instrument_that_returns_notes_late_with_its_own_touch_is_understood_by_the_sixth(delay):
    echo, theirs = returned_late(delay, velocity=77)
    assert theirs == [0, 1, 2, 3, 4]
    assert echo.taken_back() == [(0, 40 + n) for n in range(5)]


def test_a_player_who_now_and_then_strikes_our_note_after_us_is_not_taken_for_an_echo():
    echo = EchoFilter(WINDOW)
    for n in range(60):
        echo.sent(float(n), (0x90, 40 + n % 12, 90))
        if n % 4 == 0:
            assert not echo.is_copy(n + 0.3, (0x90, 40 + n % 12, 90 if n % 8 == 0 else 70))
    assert echo.taken_back() == []


def test_an_end_that_comes_late_is_let_pass_for_it_ends_what_was_mistaken():
    echo, _ = returned_late(0.15, velocity=90)
    echo.sent(10.0, (0x80, 40, 64))
    assert not echo.is_copy(10.15, (0x80, 40, 64))


def test_a_mistaken_key_that_came_up_meanwhile_is_not_taken_back():
    echo = EchoFilter(WINDOW)
    for n in range(6):
        echo.sent(float(n), (0x90, 40 + n, 90))
        echo.is_copy(n + 0.15, (0x90, 40 + n, 77))
        echo.is_copy(n + 0.35, (0x80, 40, 64))
    assert echo.taken_back() == [(0, 40 + n) for n in range(1, 5)]


def test_how_late_our_notes_come_back_is_counted_in_time_or_not():
    for delay in (0.004, 0.15):
        echo, theirs = returned_late(delay, velocity=90)
        figures = echo.returns.figures()
        assert figures["count"] == 20 - len(theirs)
        assert figures["median_ms"] == figures["worst_ms"] == pytest.approx(1000 * delay)


NOTES = st.lists(st.tuples(st.integers(0, 200), st.integers(28, 55), st.integers(1, 127)), max_size=40)


@given(NOTES, st.floats(0, 0.05))
def test_every_copy_of_what_was_sent_is_ignored_and_no_more(notes, delay):
    sent = sorted((n / 20, note, velocity) for n, note, velocity in notes)
    echo, copies = EchoFilter(WINDOW), 0
    for seconds, note, velocity in sent:
        echo.sent(seconds, (0x90, note, velocity))
        copies += echo.is_copy(seconds + delay, (0x90, note, velocity))
    assert copies == len(sent)
    assert not any(echo.is_copy(1000.0, (0x90, note, 64)) for note in range(128))


# Exactly on a limit


@pytest.mark.parametrize(
    ("seconds", "copy"),
    [(1.0 - EARLY - 0.001, False), (1.0 - EARLY, True), (1.0 + WINDOW, True), (1.0 + WINDOW + 0.001, False)],
)
def test_a_copy_comes_between_the_clocks_doubt_and_the_end_of_the_window(seconds: float, copy: bool) -> None:
    assert echo_of((1.0, 40, 90)).is_copy(seconds, (0x90, 40, 90)) == copy


@pytest.mark.parametrize(("silent", "copy"), [(LEARNT - 1, True), (LEARNT, False)])
def test_after_eight_notes_that_did_not_come_back_none_does(silent: int, copy: bool) -> None:
    echo = EchoFilter(WINDOW)
    for n in range(silent):
        echo.sent(float(n), (0x90, 40, 90))
    echo.sent(100.0, (0x90, 45, 90))
    assert echo.is_copy(100.01, (0x90, 45, 71)) == copy
    echo.sent(101.0, (0x90, 45, 90))
    assert echo.is_copy(101.01, (0x90, 45, 90))  # to the velocity: a copy all the same


@pytest.mark.parametrize(("after", "copies"), [(LATEST, 1), (LATEST + 0.01, 0)])
def test_half_a_second_after_a_note_nothing_is_its_copy(after: float, copies: int) -> None:
    """Of an instrument that is known to be late: its third note."""
    echo = EchoFilter(WINDOW)
    for n in range(2):
        echo.sent(4.0 * n, (0x90, 40 + n, 90))
        echo.is_copy(4.0 * n + 0.25, (0x90, 40 + n, 90))
    echo.sent(16.0, (0x90, 50, 90))
    assert echo.is_copy(16.0 + after, (0x90, 50, 90)) == copies


def test_of_what_was_sent_at_once_only_the_last_messages_are_remembered() -> None:
    for last, copy in ((MOST - 1, True), (MOST, False)):
        echo = echo_of((1.0, 40, 90), *((1.0, 60, 90) for _ in range(last)))
        assert echo.is_copy(1.01, (0x90, 40, 90)) == copy


def test_a_wide_window_holds_longer_than_half_a_second() -> None:
    echo = EchoFilter(0.75)
    echo.sent(1.0, (0x90, 40, 90))
    assert echo.is_copy(1.75, (0x90, 40, 90))


def test_an_end_or_a_pedal_that_comes_back_is_a_copy_whatever_its_value_and_no_late_stroke() -> None:
    echo = EchoFilter(WINDOW)
    echo.sent(1.0, (0x80, 40, 64))
    assert echo.is_copy(1.01, (0x80, 40, 0))
    for n in range(20):
        echo.sent(2.0 + n, (0xB0, 64, 127))
        assert not echo.is_copy(2.2 + n, (0xB0, 64, 127)), "a pedal that late is the player's"
    echo.sent(30.0, (0xC0, 5))
    assert echo.is_copy(30.01, (0xC0, 5)) and not echo.is_copy(30.02, (0xC0, 5))


def test_the_softest_stroke_is_a_stroke_and_one_without_velocity_an_end() -> None:
    echo = echo_of((1.0, 40, 1))
    assert not echo.is_copy(1.01, (0x90, 40, 0))
    assert echo.is_copy(1.02, (0x90, 40, 1))


@pytest.mark.parametrize("channel", [0, 1, 14, 15])
def test_a_late_copy_is_taken_back_on_its_channel(channel: int) -> None:
    echo = EchoFilter(WINDOW)
    for n in range(2):
        echo.sent(float(n), (0x90 | channel, 40 + n, 90))
        assert echo.is_copy(n + 0.2, (0x90 | channel, 40 + n, 90)) == (n == 1)
    assert echo.taken_back() == [(channel, 40)]


def test_a_late_note_of_the_players_is_held_against_the_stroke_with_its_velocity() -> None:
    """Two of ours on one key a moment apart: the second comes back, to the velocity, and the first is still owed."""
    echo = EchoFilter(WINDOW)
    echo.sent(0.0, (0x90, 30, 50))
    assert not echo.is_copy(0.2, (0x90, 30, 50))  # the first late one
    echo.sent(1.0, (0x90, 40, 90))
    echo.sent(1.1, (0x90, 40, 60))
    assert echo.is_copy(1.3, (0x90, 40, 60)) and echo.is_copy(1.35, (0x90, 40, 90))
    assert echo.returns.figures()["count"] == 2 and echo.returns.figures()["worst_ms"] == pytest.approx(350.0)


@pytest.mark.parametrize("message", [(0xC0, 5), (0xD0, 5)])
def test_a_message_of_two_bytes_comes_back_as_any_other(message: tuple[int, int]) -> None:
    silent = EchoFilter(WINDOW)
    for n in range(LEARNT):  # from which nothing has come back so far
        silent.sent(float(n), (0x90, 40, 90))
    silent.sent(100.0, message)
    assert silent.is_copy(100.01, message)
    echo = EchoFilter(WINDOW)
    echo.sent(1.0, message)
    echo.sent(1.0, (0x90, 40, 1))
    assert echo.is_copy(1.01, message) and echo.is_copy(1.01, (0x90, 40, 1))


def test_no_more_keys_are_taken_back_than_the_last_seven_that_may_have_been_copies() -> None:
    """Strokes that come back late with a touch of their own, so seldom that they are no echo, are forgotten in turn."""
    echo = EchoFilter(WINDOW)
    for n in range(60):
        echo.sent(float(n), (0x90, 20 + n, 90))
        if n % 4 == 0:
            assert not echo.is_copy(n + 0.3, (0x90, 20 + n, 70))
    for n in range(60, 62):
        echo.sent(float(n), (0x90, 20 + n, 90))
        copy = echo.is_copy(n + 0.3, (0x90, 20 + n, 90))
    assert copy and echo.taken_back() == [(0, 20 + n) for n in (*range(32, 60, 4), 60)]
