"""Ports, channels, the ends of the keyboard and the reach of a hand, as people play them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.ports.midi import Ports
from companion.ports.setup.desk import Desk, FromPort
from companion.ports.setup.keys import find_span

from .simulated import Evening, Person, SimulatedPiano

SetUp = Callable[..., Evening]


def test_of_several_ports_that_send_the_same_the_one_that_can_be_played_on_is_taken(set_up: SetUp) -> None:
    piano = SimulatedPiano(input="upright:keys", also=("mirror:out",))
    mirror_first = SimulatedPiano(input="mirror:out", output=None, also=("upright:keys",))
    assert set_up(piano).dialogue.found.input == "upright:keys"
    evening = set_up(mirror_first, SimulatedPiano())
    assert evening.dialogue.found.input == "upright:keys"
    assert "mirror:out sends the same, and is left out" in evening.text


def test_a_number_of_keys_that_nobody_builds_is_asked_for_once_more(set_up: SetUp) -> None:
    """The pianist misses the last key by one: 87 keys."""
    evening = set_up(SimulatedPiano(keys=(21, 107)))
    assert evening.text.count("87 keys, A0 to B7") == 2 and "an unusual number" in evening.text
    assert evening.dialogue.found.keys == (21, 107), "played again, it is believed"


@pytest.mark.parametrize(("lowest", "highest", "keys"), [(21, 108, 88), (28, 103, 76), (28, 100, 73), (36, 96, 61)])
def test_the_usual_keyboards_are_believed_at_once(set_up: SetUp, lowest: int, highest: int, keys: int) -> None:
    evening = set_up(SimulatedPiano(keys=(lowest, highest)))  # common practice
    assert f"{keys} keys" in evening.text and "unusual" not in evening.text


def test_two_keys_in_the_middle_are_no_ends(set_up: SetUp) -> None:
    evening = set_up(person=Person({"range": (60, 72)}))
    assert evening.dialogue.found.keys is None and "lowest-key" not in evening.values()


def test_the_highest_may_come_first(set_up: SetUp) -> None:
    assert set_up(person=Person({"range": (108, 21)})).dialogue.found.keys == (21, 108)


@pytest.mark.parametrize(
    ("left", "right", "span"),
    [((40, 47, 56), (60, 67, 76), 16), ((43, 50, 55), (60, 67, 74), 12), ((43, 53), (60, 71), 10)],
)
def test_the_narrower_hand_counts_for_both(
    set_up: SetUp, left: tuple[int, ...], right: tuple[int, ...], span: int
) -> None:
    assert set_up(person=Person(left=left, right=right)).values()["[hand] span"] == str(span)


@pytest.mark.parametrize("chord", [(36, 40, 43, 60, 64, 72), (60,), (60, 61, 62)])
def test_two_hands_or_a_key_or_two_are_no_span(set_up: SetUp, chord: tuple[int, ...]) -> None:
    evening = set_up(person=Person(left=chord, right=chord))
    assert evening.dialogue.found.hands == {}


def test_a_chord_that_is_taken_late_was_held_as_long_as_its_stamps_say() -> None:
    """Whoever drives was busy: the whole chord comes at once, after the moment had moved on."""
    desk = Desk(Ports("virtual", ("upright:keys",), ()), computer=False, partner=lambda port: None)
    desk.found.input, desk.now = "upright:keys", 10.0
    talk = find_span(desk, "left")
    next(talk)
    desk.now = 12.0
    chord = [FromPort(11.0, "upright:keys", (0x90, key, 70)) for key in (40, 47, 52)]
    for event in [*chord, *(FromPort(11.4, "upright:keys", (0x80, one.message[1], 0)) for one in chord)]:
        talk.send(event)
    with pytest.raises(StopIteration):
        talk.send(None)
    assert desk.found.hands == {"left": 12}


def test_keys_that_are_never_down_together_are_no_chord(set_up: SetUp) -> None:
    evening = set_up(SimulatedPiano(), person=Person({"left hand": None, "right hand": None}))
    assert evening.dialogue.found.hands == {} and "no chord heard" in evening.text


def test_without_a_key_no_port_is_written(set_up: SetUp) -> None:
    nothing = {"key": "", "range": None, "sound": None}
    evening = set_up(person=Person(nothing))  # type: ignore[arg-type]
    assert "is taken, the first there is" in evening.text
    assert not {"in", "listen"} & evening.values().keys()
