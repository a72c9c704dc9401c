"""What all steps share: what a message is (MIDI 1.0), and how long each way of waiting waits."""

from __future__ import annotations

import pytest

from companion.ports.setup.desk import (
    NOTE_OFF,
    NOTE_ON,
    Findings,
    FromPort,
    Opened,
    OpenOutput,
    Skipped,
    ToPort,
    Typed,
    channel_of,
    is_release,
    is_stroke,
)
from companion.ports.sound import NAME as COMPUTER

from .simulated import EARS, a_desk, driven, key, let_go, typed


@pytest.mark.parametrize(
    ("message", "stroke", "release"),
    [
        ((0x90, 60, 64), True, False),
        ((0x9F, 60, 1), True, False),
        ((0x90, 60, 0), False, True),
        ((0x9F, 60, 0), False, True),
        ((0x80, 60, 64), False, True),
        ((0x8F, 60, 0), False, True),
        ((0x80, 60), False, False),
        ((0x90, 60), False, False),
        ((0xA0, 60, 64), False, False),
        ((0xA0, 60, 0), False, False),
        ((0xB0, 64, 0), False, False),
        ((0xC0, 60), False, False),
    ],
)
def test_a_note_on_with_velocity_0_is_a_note_off(message: tuple[int, ...], stroke: bool, release: bool) -> None:
    assert (is_stroke(message), is_release(message)) == (stroke, release)


def test_channels_are_counted_from_1() -> None:
    assert [channel_of((status, 60, 1)) for status in (0x90, 0x93, 0x8F, 0xBF)] == [1, 4, 16, 16]


def test_an_output_is_open_when_it_is_told_and_not_after_twenty_seconds() -> None:
    desk = a_desk()
    assert driven(desk, desk.open(EARS), key(0.2), Opened(10.3, "other", ""), Opened(10.4, EARS, "")) == (True, 0.4)
    assert desk.output == EARS and desk.deeds == [OpenOutput(EARS)] and desk.step == "open"
    desk = a_desk()
    assert driven(desk, desk.open(EARS), Opened(10.4, EARS, "it is in use")) == (False, 0.4)
    assert desk.output is None and desk.lines == ["   it is in use"]
    desk = a_desk()
    assert driven(desk, desk.open(EARS)) == (False, 20.0) and desk.output is None


def test_what_sounds_on_one_output_ends_before_another_is_opened() -> None:
    desk = a_desk()
    desk.send(NOTE_ON, 1, 60, 30)
    assert desk.deeds == [], "nothing is open"
    desk.output = EARS
    for kind, channel, note in ((NOTE_ON, 10, 76), (NOTE_ON, 1, 60), (NOTE_ON, 1, 64), (NOTE_OFF, 1, 60)):
        desk.send(kind, channel, note, 30)
    desk.deeds.clear()
    next(desk.open("module:ears"))
    assert desk.deeds == [ToPort((0x80, 64, 64)), ToPort((0x89, 76, 64)), OpenOutput("module:ears")]
    desk.end_notes()
    assert len(desk.deeds) == 3


def test_local_control_is_switched_on_every_channel_of_the_keys() -> None:
    # MIDI 1.0: controller 122, 0 off and 127 on
    desk = a_desk()
    desk.output, desk.found = EARS, Findings(channels={16, 1})
    desk.switch_local(True)
    desk.switch_local(False)
    assert desk.deeds == [ToPort((status, 122, value)) for value in (127, 0) for status in (0xB0, 0xBF)]


@pytest.mark.parametrize(
    ("events", "struck"),
    [((), False), ((key(0.1),), True), ((typed(0.1, "y"),), True), ((typed(0.1, "n"),), False),
     ((key(0.1, port="other:out"),), False), ((typed(0.1, "yes"), typed(0.2, "no")), True)],
)  # fmt: skip
def test_a_pause_lasts_as_long_as_it_does_and_tells_whether_somebody_answered(
    events: tuple[FromPort | Typed, ...], struck: bool
) -> None:
    desk = a_desk()
    assert driven(desk, desk.pause(0.5), *events) == (struck, 0.5)


@pytest.mark.parametrize(
    ("strokes", "ends"), [((), 0.5), ((0.3,), 0.8), ((0.4, 0.8, 1.2), 1.7), ((0.4, 0.8, 1.2, 1.6, 1.9), 2.0)]
)
def test_it_is_quiet_when_no_key_has_gone_down_for_so_long_or_at_last(strokes: tuple[float, ...], ends: float) -> None:
    desk = a_desk()
    assert driven(desk, desk.quiet(0.5, 2.0), *map(key, strokes)) == (None, ends)


def test_another_port_s_keys_are_no_noise() -> None:
    desk = a_desk()
    assert driven(desk, desk.quiet(0.5, 2.0), key(0.3, port="other:out")) == (None, 0.5)


@pytest.mark.parametrize(
    ("events", "answer", "after"),
    [
        ((), False, 3.5),
        ((key(1.0),), True, 1.0),
        ((let_go(1.0),), False, 3.5),
        ((key(1.0, port="other:out"),), False, 3.5),
        ((typed(1.0, "y"),), True, 1.0),
        ((typed(1.0, "yes"),), True, 1.0),
        ((typed(1.0, "n"),), False, 1.0),
        ((typed(1.0, "no"),), False, 1.0),
        ((typed(1.0, "maybe"), key(2.0)), True, 2.0),
    ],
)
def test_any_key_is_yes_and_silence_is_no(events: tuple[FromPort | Typed, ...], answer: bool, after: float) -> None:
    desk = a_desk()
    assert driven(desk, desk.answer(3.5), *events) == (answer, after)
    assert desk.lines == ["   (Enter skips; y and n answer.)"] * (len(events) > 1)


@pytest.mark.parametrize("way", ["pause", "quiet", "answer"])
def test_enter_goes_on_to_the_next_step(way: str) -> None:
    desk = a_desk()
    talk = desk.quiet(0.5, 2.0) if way == "quiet" else getattr(desk, way)(0.5)
    with pytest.raises(Skipped):
        driven(desk, talk, typed(0.1, ""))


def test_before_the_piano_is_known_every_port_may_be_it() -> None:
    desk = a_desk()
    desk.found.input = None
    assert desk.is_key(key(0.0, port="other:out")) and not desk.is_key(typed(0.0, "y"))
    assert desk.outputs == ["module:ears", EARS]


def test_the_pianos_own_output_comes_first_and_the_computer_last() -> None:
    assert a_desk(computer=True).outputs == [EARS, "module:ears", COMPUTER]
    assert a_desk().outputs == [EARS, "module:ears"]


def test_what_is_to_be_typed_is_said_only_to_whoever_can() -> None:
    for typing in (True, False):
        desk = a_desk(typing=typing)
        desk.say_typist("Type off.")
        assert desk.lines == ["Type off."] * typing
    assert Findings().first_channel == 1
