"""What of a keyboard's messages is the player's playing."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from companion.ports.echo import EchoFilter
from companion.stage.keyboard import Keyboard, Raw

pytestmark = pytest.mark.jack


@pytest.fixture
def keyboard(instrument):
    instrument("upright")
    board = Keyboard("jack", "upright:keys", frozenset(range(1, 17)) - {10}, EchoFilter(0.1), lambda raw: None, 60.0)
    yield board
    board.close()


def heard(keyboard, *messages):
    """Messages a tenth of a second apart, as (status, data1, data2); those that are no playing left out."""
    played = [keyboard.hear(Raw(0.1, 100 + 0.1 * n, m)) for n, m in enumerate(messages)]
    return [p.message for p in played if p]


def test_notes_and_pedals_and_the_programs_of_a_footswitch_are_the_players_and_the_rest_is_not(keyboard):
    messages = [(0x90, 60, 80), (0xB0, 64, 127), (0xE0, 0, 64), (0xC0, 5), (0xD0, 60), (0x80, 60, 64), (0xFE,)]
    assert heard(keyboard, *messages) == [(0x90, 60, 80), (0xB0, 64, 127), (0xC0, 5, 0), (0x80, 60, 64)]


def test_a_note_on_with_velocity_0_is_a_note_off(keyboard):  # MIDI 1.0
    assert heard(keyboard, (0x90, 60, 80), (0x90, 60, 0)) == [(0x90, 60, 80), (0x80, 60, 0)]


def test_the_instruments_drums_are_not_the_player(keyboard):
    assert heard(keyboard, (0x99, 42, 80)) == []


def test_a_key_that_sounds_two_layers_on_two_channels_is_heard_once(keyboard):
    both = [(0x90, 60, 80), (0x91, 60, 80), (0x80, 60, 64), (0x81, 60, 64), (0x91, 62, 80)]
    assert heard(keyboard, *both) == [(0x90, 60, 80), (0x80, 60, 64), (0x91, 62, 80)]


def test_a_key_that_was_down_when_the_keyboard_went_away_is_let_go(keyboard):
    heard(keyboard, (0x90, 60, 80), (0x90, 64, 80), (0x80, 64, 64))
    assert [p.message for p in keyboard.let_go()] == [(0x80, 60, 64), (0xB0, 64, 0)]
    assert [p.message for p in keyboard.let_go()] == [(0xB0, 64, 0)]


MALFORMED = [
    (0x90, 60, 200),
    (0xB0, 64, 255),
    (0x90, 200, 64),
    (0x80, 128, 64),
    (0x90, 60),
    (0x90,),
    (0x3C, 0x40, 0x40),
    (),
    (0xE0, 128, 0),
    (0x90, 60, 64, 64),
]
"""Data bytes are 0 to 127, and each kind of message has its length (MIDI 1.0, table of status bytes)."""


def test_a_message_that_is_no_midi_is_passed_over_and_counted(keyboard):
    assert heard(keyboard, *MALFORMED, (0x90, 60, 80)) == [(0x90, 60, 80)]
    assert keyboard.malformed == len(MALFORMED)


def test_messages_that_are_no_playing_are_not_counted_as_malformed(keyboard):
    heard(keyboard, (0xE0, 0, 64), (0xC0, 5), (0xD0, 60), (0xA0, 60, 5), (0xFE,), (0xF8,), (0xF2, 1, 1))
    assert keyboard.malformed == 0


BYTES = st.lists(st.integers(0, 255), max_size=5)
PLAYING = st.tuples(st.sampled_from([0x80, 0x90, 0x91, 0xB0]), st.integers(0, 255), st.integers(0, 255))


@given(messages=st.lists(BYTES | PLAYING, max_size=20))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_bytes_come_what_is_heard_is_playing(keyboard, messages):
    for status, data1, data2 in heard(keyboard, *map(tuple, messages)):
        assert status & 0xF0 in (0x80, 0x90, 0xB0) and data1 < 128 and data2 < 128
