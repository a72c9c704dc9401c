"""Local control: controller 122, 0 off and 127 on (MIDI 1.0)."""

from __future__ import annotations

from collections.abc import Callable

from .simulated import Evening, Person, SimulatedPiano

SetUp = Callable[..., Evening]


def local_messages(piano: SimulatedPiano) -> list[int]:
    return [message[2] for message in piano.received if message[0] & 0xF0 == 0xB0 and message[1] == 122]


def test_left_alone_it_is_never_touched(set_up: SetUp, upright: SimulatedPiano) -> None:
    set_up(upright)
    assert local_messages(upright) == []


def test_silent_keys_are_turned_on_by_one_of_them(set_up: SetUp) -> None:
    piano = SimulatedPiano(local=False)
    set_up(piano, person=Person({"local": (60,)}))
    assert piano.local and local_messages(piano) == [127]


def test_turned_off_and_not_confirmed_the_keys_sound_again(set_up: SetUp, upright: SimulatedPiano) -> None:
    evening = set_up(upright, person=Person({"local": "off", "keep local": None}))
    assert upright.local and local_messages(upright) == [0, 127] and "on again" in evening.text


def test_turned_off_and_confirmed_it_stays_off(set_up: SetUp, upright: SimulatedPiano) -> None:
    set_up(upright, person=Person({"local": "off", "keep local": (60,)}))
    assert not upright.local


def test_what_isnt_kept_in_the_end_is_put_back(set_up: SetUp, upright: SimulatedPiano) -> None:
    evening = set_up(upright, person=Person({"local": "off", "keep local": (60,), "keep": "n"}))
    assert upright.local and evening.dialogue.kept is None


def test_a_split_keyboard_gets_it_on_both_channels(set_up: SetUp) -> None:
    piano = SimulatedPiano(low_channel=2)
    set_up(piano, person=Person({"local": "on"}))
    assert [message for message in piano.received if message[1:2] == (122,)] == [(0xB0, 122, 127), (0xB1, 122, 127)]


def test_with_a_module_the_keys_may_sound_there_alone(set_up: SetUp) -> None:
    silent = SimulatedPiano(sounds=False)
    module = SimulatedPiano(input="", output="module:ears")
    evening = set_up(silent, module, person=Person({"local": (60,), "keep local": (62,)}))
    assert not silent.local and evening.values()["[module] through"] == "true"
    assert local_messages(module) == []
