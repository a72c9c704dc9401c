"""Ports, channels, the ends of the keyboard and the reach of a hand, as people play them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.errors import DeviceError
from companion.ports.choice import Ports
from companion.ports.setup.desk import Desk, FromPort
from companion.ports.setup.keys import channels_text, find_keyboard, find_range, find_span

from .simulated import EARS, KEYS, Evening, Person, SimulatedPiano, a_desk, driven, key, let_go, typed

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


# one question alone, by its moments


@pytest.mark.parametrize(
    ("after", "port", "channels"),
    [(0.2, KEYS, {1, 4}), (0.26, KEYS, {1}), (0.2, "other:out", {1})],
)
def test_one_key_arrives_by_all_its_channels_within_a_quarter_of_a_second(
    after: float, port: str, channels: set[int]
) -> None:
    desk = a_desk()
    first, again = key(2.0), key(2.0 + after, port=port, channel=4)
    assert driven(desk, find_keyboard(desk), first, key(2.1, 61, channel=7), again) == (None, 2.25)
    assert (desk.found.input, desk.found.channels, desk.found.first_channel) == (KEYS, channels, 1)
    assert ("   other:out sends the same, and is left out" in desk.lines) == (port == "other:out")


def test_the_channel_of_the_first_key_is_counted_from_1() -> None:
    desk = a_desk()
    driven(desk, find_keyboard(desk), key(2.0, channel=16))
    assert desk.found.first_channel == 16 and desk.lines[-1] == f"   {KEYS}, channel 16"


@pytest.mark.parametrize(("after", "port"), [(1.4, KEYS), (1.6, "other:out"), (None, "other:out")])
def test_a_port_that_sent_before_anybody_was_asked_comes_second_for_a_second_and_a_half(
    after: float | None, port: str
) -> None:
    desk = a_desk()
    desk.found.input = None
    box = [key(at, 36, "other:out") for at in (0.5, 1.5, 1.7)]
    piano = [key(1.5 + after)] if after else []
    driven(desk, find_keyboard(desk), *box, *piano)
    assert desk.found.input == port
    quiet = a_desk()
    driven(quiet, find_keyboard(quiet), key(1.1, 36, "other:out"))
    assert quiet.found.input == "other:out", "who plays as soon as they are asked is no box"


def test_the_first_key_is_waited_for_twice_half_a_minute() -> None:
    desk = a_desk()
    assert driven(desk, find_keyboard(desk), key(60.9)) == (None, 61.15)
    assert f"   Nothing heard yet from: {KEYS}, other:out." in desk.lines
    desk = a_desk()
    with pytest.raises(DeviceError, match="no key was heard, and nothing is changed"):
        driven(desk, find_keyboard(desk), key(61.1))
    desk = a_desk()
    assert driven(desk, find_keyboard(desk), typed(2.0, "")) == (None, 2.0)
    assert desk.found.input == KEYS and desk.found.channels == set()


KEYBOARDS = {25, 32, 37, 44, 49, 54, 61, 64, 72, 73, 76, 85, 88, 97}
"""Numbers of keys that are built (common practice)."""


@pytest.mark.parametrize("count", sorted({n + more for n in KEYBOARDS for more in (-1, 0, 1)} - {24}))
def test_a_number_of_keys_that_is_built_is_believed_and_any_other_played_again(count: int) -> None:
    desk = a_desk()
    low, high = 20, 20 + count - 1
    driven(desk, find_range(desk), key(1.0, low), key(2.0, high), key(5.0, low), key(6.0, high))
    assert desk.found.keys == (low, high)
    assert any("an unusual number" in line for line in desk.lines) == (count not in KEYBOARDS)


def test_the_ends_of_a_keyboard_lie_two_octaves_apart_and_there_is_time_to_walk() -> None:
    desk = a_desk()
    assert driven(desk, find_range(desk), key(19.0, 36), key(38.0, 60)) == (None, 39.2)
    assert desk.found.keys == (36, 60) and desk.lines[-1] == "   25 keys, C2 to C4"
    desk = a_desk()
    assert driven(desk, find_range(desk), key(1.0, 36), key(2.0, 59)) == (None, 22.0)
    assert desk.found.keys is None
    desk = a_desk()
    desk.found.channels = {1}
    driven(desk, find_range(desk), key(1.0, 36, channel=2), key(2.0, 96), key(3.0, 97, "other:out"))
    assert desk.found.keys == (36, 96) and desk.lines[-1] == "   the keys come on channels 1 and 2"


def test_channels_are_said_as_one_reads_them() -> None:
    said = [channels_text(channels) for channels in ({3}, {1, 2}, {4, 1, 16}, {10}, {1, 10})]
    assert said == ["channel 3", "channels 1 and 2", "channels 1, 4 and 16", "channel 10 (the drums')",
                    "channels 1 and 10"]  # fmt: skip


SPANS = (
    "a fourth", "a tritone", "a fifth", "a minor sixth", "a major sixth", "a minor seventh", "a major seventh",
    "an octave", "a minor ninth", "a ninth", "a minor tenth", "a tenth", "an eleventh", "an augmented eleventh",
    "a twelfth",
)  # fmt: skip
"""Intervals from five semitones on (common practice)."""


@pytest.mark.parametrize("semitones", range(4, 21))
def test_a_hand_holds_a_fourth_at_the_least_and_a_twelfth_at_the_most(semitones: int) -> None:
    desk = a_desk()
    chord = [key(1.0, 40), key(1.1, 43), key(1.1, 40 + semitones)]
    _, after = driven(desk, find_span(desk, "right"), *chord, *(let_go(1.6, one.message[1]) for one in chord))
    assert desk.step == "right hand" and desk.lines[0] == "   Right hand: the widest chord it holds, all at once."
    if semitones < 5:
        assert desk.lines[-1] == "   no chord heard: it stays as it was" and after == 13.1
    elif semitones > 19:
        assert desk.lines[-1] == "   20 semitones are more than one hand holds: it stays as it was"
    else:
        assert desk.found.hands == {"right": semitones} and after == 2.0
        assert desk.lines[-1] == f"   {SPANS[semitones - 5]} ({semitones} semitones)"


@pytest.mark.parametrize(("held", "span"), [(0.16, 12), (0.14, None)])
def test_keys_are_held_together_for_a_moment_and_not_in_passing(held: float, span: int | None) -> None:
    desk = a_desk()
    driven(desk, find_span(desk, "left"), key(1.0, 40), key(1.2, 52), let_go(1.2 + held, 40), let_go(2.0, 52))
    assert desk.found.hands.get("left") == span


def test_a_better_chord_may_begin_soon_after_the_first_and_each_key_gives_time() -> None:
    first = [key(1.0, 40), key(1.0, 47), let_go(1.5, 40), let_go(1.5, 47)]
    desk = a_desk()
    better = [key(1.8, 40), key(1.8, 52), let_go(2.3, 40), let_go(2.3, 52)]
    assert driven(desk, find_span(desk, "left"), *first, *better) == (None, 2.7)
    assert desk.found.hands == {"left": 12}
    desk = a_desk()
    assert driven(desk, find_span(desk, "left"), key(11.5, 40), key(23.0, 52)) == (None, 35.0)
    assert desk.found.hands == {"left": 12}, "still held"


def test_other_ports_say_nothing_of_a_hand() -> None:
    desk = a_desk()
    driven(desk, find_span(desk, "left"), key(1.0, 40), key(1.0, 52, "other:out"), let_go(2.0, 40))
    assert desk.found.hands == {} and desk.partner(KEYS) == EARS


def test_a_pedal_before_the_first_key_makes_no_port_noisy() -> None:
    desk = a_desk()
    pedal = FromPort(10.5, KEYS, (0xB0, 64, 127))
    assert driven(desk, find_keyboard(desk), pedal, key(2.0)) == (None, 2.25)
    assert desk.found.input == KEYS


def test_a_chord_on_another_port_is_no_hand_of_the_players() -> None:
    desk = a_desk()
    driven(desk, find_span(desk, "left"), *(key(0.5, note, port="other:out") for note in (40, 47, 52)))
    assert desk.found.hands == {} and desk.lines[-1] == "   no chord heard: it stays as it was"
