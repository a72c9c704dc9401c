"""What is pressed at any keyboard, as the page is told it; and the ports let go of in time.

Controllers are those of MIDI 1.0: 64 the damper pedal, 67 the soft pedal, 7 the volume.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from companion.page.port_watch import PortsTold, PressesHeard, PressTold, Watched, watch
from companion.stage.keyboard import PlayerMessage

if TYPE_CHECKING:
    from tests.conftest import Instrument


def pressed(*messages: tuple[int, int, int]) -> list[PressTold]:
    heard = PressesHeard("upright", frozenset({1}))
    found = [heard.hear(PlayerMessage(float(n), message)) for n, message in enumerate(messages)]
    return [one for one in found if one is not None]


def test_a_key_is_told_by_its_name_as_it_goes_down_and_never_as_it_comes_up() -> None:
    (told,) = pressed((0x90, 61, 70), (0x80, 61, 0))
    assert (told.words, told.key, told.signal, told.listened) == ("C♯4", 61, {"key": 61}, True)


def test_a_keyboard_on_a_channel_that_is_not_the_players_says_so() -> None:
    (told,) = pressed((0x92, 60, 70))
    assert (told.channel, told.listened) == (3, False)


def test_the_damper_lights_once_a_press_and_can_tell_nothing() -> None:
    told = pressed(*[(0xB0, 64, value) for value in (127, 127, 0, 127)])
    assert [(one.words, one.pedal, one.signal, one.half) for one in told] == [("damper pedal", 64, None, False)] * 2


def test_a_pedal_that_rests_between_up_and_down_is_told_to_know_half_positions() -> None:
    told = pressed(*[(0xB0, 64, value) for value in (5, 30, 50, 80, 127, 90, 40, 0)])
    assert [one.half for one in told] == [True, True]


def test_a_pedal_of_the_left_foot_can_tell_something_and_the_volume_cannot() -> None:
    (told,) = pressed((0xB0, 7, 100), (0xB0, 67, 127), (0xB0, 67, 0))
    assert told.signal == {"controller": 67}


@pytest.mark.jack
def test_a_keyboard_that_is_plugged_in_later_is_listened_to_and_let_go_of_at_the_end(
    instrument: Callable[[str], Instrument],
) -> None:
    told: list[Watched] = []
    over = threading.Event()
    thread = threading.Thread(target=watch, args=(told.append, over))
    thread.start()

    def until(condition: Callable[[], object]) -> None:
        end = time.monotonic() + 20
        while not condition():
            assert time.monotonic() < end, told
            time.sleep(0.01)

    try:
        until(lambda: told)
        piano = instrument("upright")
        until(lambda: isinstance(told[-1], PortsTold) and any("upright" in name for name in told[-1].inputs))

        def heard() -> bool:
            piano.play(0x90, 60, 70)  # what is played before JACK has joined the ports is lost
            return any(isinstance(one, PressTold) and "upright" in one.input for one in told)

        until(heard)
        piano.close()
        until(lambda: isinstance(told[-1], PortsTold) and not any("upright" in name for name in told[-1].inputs))
    finally:
        over.set()
        thread.join(10)
    assert not thread.is_alive()
