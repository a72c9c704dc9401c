"""Local control: controller 122, 0 off and 127 on (MIDI 1.0)."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.ports.setup.desk import FromPort, Opened, ToPort, Typed
from companion.ports.setup.local import offer_local

from .simulated import EARS, Evening, Person, SimulatedPiano, a_desk, driven, key, typed

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


# by its moments

ON, OFF = ToPort((0xB0, 122, 127)), ToPort((0xB0, 122, 0))


@pytest.mark.parametrize(
    ("events", "sent", "said", "after"),
    [
        ((), [], "   left as it is", 4.0),
        ((typed(1.0, "n"),), [], "   left as it is", 1.0),
        ((typed(1.0, ""),), [], "   left as it is", 1.0),
        ((key(3.0),), [ON], "   turned on", 3.0),
        ((key(3.0, port="other:out"),), [], "   left as it is", 4.0),
        ((typed(1.0, "y"),), [ON], "   turned on", 1.0),
        ((typed(1.0, "off"),), [OFF, ON], "   on again", 1.0 + 0.5 + 6.0),
        ((typed(1.0, "off"), key(1.2)), [OFF, ON], "   on again", 7.5),  # sooner nobody has decided
        ((typed(1.0, "off"), key(7.0)), [OFF], "   off, until the piano is switched off: many forget it then", 7.0),
    ],
)
def test_four_seconds_to_decide_and_six_to_confirm(
    events: tuple[FromPort | Typed, ...], sent: list[ToPort], said: str, after: float
) -> None:
    desk = a_desk()
    desk.output = desk.found.output = EARS
    desk.found.channels, desk.found.setup = {1}, "piano"
    assert driven(desk, offer_local(desk), *events) == (None, after)
    assert desk.deeds == sent and desk.lines[-1] == said
    assert desk.owes_local == (sent == [OFF])


def test_beside_a_module_the_piano_is_opened_to_be_parted_from_its_keys() -> None:
    opened = Opened(11.4, EARS)
    for events, through, after in (((), None, 4.0), ((key(1.0), opened, key(5.0)), True, 5.0),
                                   ((key(1.0), opened), None, 1.4 + 6.5), ((key(1.0),), None, 21.0)):  # fmt: skip
        desk = a_desk()
        desk.output = desk.found.output = "module:ears"
        desk.found.channels, desk.found.setup = {1}, "module"
        assert driven(desk, offer_local(desk), *events) == (None, after)
        assert desk.found.through is through


@pytest.mark.parametrize("missing", ["output", "channels", "input"])
def test_where_the_piano_cannot_be_reached_nothing_is_asked(missing: str) -> None:
    desk = a_desk()
    desk.found.output, desk.found.channels, desk.found.setup = EARS, {1}, "piano"
    setattr(desk.found, missing, set() if missing == "channels" else None)
    assert driven(desk, offer_local(desk)) == (None, 0.0) and desk.lines == []
