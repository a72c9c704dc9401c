"""What a player presses to teach it: keys, pedals and switches as they really send.

Controllers are those of MIDI 1.0: 0 and 32 select a bank before a program, 1 is the modulation wheel, 7 the volume.
"""

from __future__ import annotations

import threading
from typing import Any

import pytest

from companion.messages import Heard
from companion.preferences.signals import TaughtPress
from companion.stage.teaching import Demonstration, KeyWatch


def shown(*events: Heard) -> list[TaughtPress]:
    demonstration = Demonstration()
    return [press for event in events if (press := demonstration.hear(event)) is not None]


def pedal(seconds: float, *values: int, number: int = 66) -> list[Heard]:
    return [Heard(seconds + 0.01 * n, 0xB0, number, value) for n, value in enumerate(values)]


def test_a_key_is_taught_as_it_goes_down() -> None:
    assert shown(Heard(1.0, 0x90, 21, 70), Heard(1.4, 0x80, 21, 0)) == [TaughtPress(key=21)]


def test_a_pedal_that_sends_its_way_down_and_up_is_taught_once() -> None:
    way = [*pedal(1.0, 3, 30, 64, 90, 127), *pedal(2.0, 127, 90, 70, 64, 30, 0)]
    assert shown(*way) == [TaughtPress(controller=66)]


def test_a_switch_that_sends_a_bank_and_a_program_is_taught_by_its_program() -> None:
    switch = [Heard(1.0, 0xB0, 0, 127), Heard(1.0, 0xB0, 32, 64), Heard(1.001, 0xC0, 4, 0)]
    assert shown(*switch) == [TaughtPress(program=5)]


@pytest.mark.parametrize("number", [1, 7, 11, 64, 123])
def test_wheels_the_volume_and_the_damper_are_for_playing(number: int) -> None:
    assert shown(*pedal(1.0, 0, 127, number=number)) == []


def test_what_bounces_belongs_to_the_press_before() -> None:
    bounce = [Heard(1.0 + 0.05 * n, 0x90, key, 60) for n, key in enumerate((21, 22, 21))]
    assert shown(*bounce, Heard(2.0, 0x90, 23, 60)) == [TaughtPress(key=21), TaughtPress(key=23)]


@pytest.mark.jack
def test_a_keyboard_is_listened_to_until_something_is_pressed(instrument: Any) -> None:
    piano, never = instrument(), threading.Event()
    listener = KeyWatch()
    try:
        pressed = None
        for _ in range(10):  # what is played before JACK has joined the ports is lost
            piano.play(0xB0, 64, 127)
            piano.play(0xB0, 67, 127)
            if (pressed := listener.press(1.0, never)) is not None:
                break
        assert pressed == TaughtPress(controller=67)
        assert listener.press(0.3, never) is None
        never.set()
        assert listener.press(5.0, never) is None
    finally:
        listener.close()
