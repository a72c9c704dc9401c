"""What of a keyboard's messages is the player's playing."""

from __future__ import annotations

import pytest

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


def test_notes_and_pedals_are_playing_and_the_rest_is_not(keyboard):
    messages = [(0x90, 60, 80), (0xB0, 64, 127), (0xE0, 0, 64), (0xC0, 5), (0xD0, 60), (0x80, 60, 64), (0xFE,)]
    assert heard(keyboard, *messages) == [(0x90, 60, 80), (0xB0, 64, 127), (0x80, 60, 64)]


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
