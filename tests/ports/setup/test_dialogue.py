"""The whole dialogue before pianos of several kinds, in virtual time."""

from __future__ import annotations

from collections.abc import Callable
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.ports.choice import Ports
from companion.ports.setup.desk import FromPort, Reply, Sent, SetupEvent, SetupStep, Typed
from companion.ports.setup.dialogue import SettingUp
from companion.ports.setup.review import Writing

from . import simulated
from .simulated import Evening, Person, SimulatedPiano

SetUp = Callable[..., Evening]
PORTS = Ports("virtual", ("upright:keys",), ("upright:ears",))
QUESTIONS = tuple(step for step in get_args(SetupStep) if step not in ("open", "over"))


def test_a_piano_with_everything_is_set_up_within_a_minute(set_up: SetUp, upright: SimulatedPiano) -> None:
    evening = set_up(upright, person=Person(left=(43, 50, 57), right=(60, 67, 74)))
    assert evening.over and evening.seconds < 60
    assert evening.values() == {
        "in": '"upright:keys"',
        "listen": "[1]",
        "lowest-key": "21",  # MIDI 1.0: A0 ...
        "highest-key": "108",  # ... and C8, the ends of 88 keys
        "pedals": "[64, 67]",  # MIDI 1.0: damper, soft
        "half-pedal": "true",
        "[piano.channels] bass": "2",
        "[piano.programs] bass": "33",  # General MIDI level 1: acoustic bass
    }
    assert not upright.sounding() and upright.local


@pytest.mark.parametrize("echo", [0.006, 0.09, 0.3])
def test_a_piano_that_sends_back_what_it_gets_is_told_from_its_player(
    set_up: SetUp, upright: SimulatedPiano, echo: float
) -> None:
    upright.echo, plain = echo, set_up(SimulatedPiano()).values()
    evening = set_up(upright)
    assert "sends back what it gets" in evening.text
    assert f"{1000 * echo:.1f} ms there and back" in evening.text
    more = {"echo-window-ms": "450", "[piano] latency-ms": "150"} if echo == 0.3 else {}
    more |= {"[piano] latency-ms": "45"} if echo == 0.09 else {}
    assert evening.values() == plain | more


def test_no_latency_is_invented_where_nothing_comes_back(set_up: SetUp) -> None:
    evening = set_up()
    assert "nothing comes back to measure it by" in evening.text
    assert not [key for key in evening.values() if "latency" in key]


def test_an_echo_alone_is_no_answer(set_up: SetUp, upright: SimulatedPiano) -> None:
    """Nobody presses a key: what comes back of our own notes says nothing."""
    upright.echo = 0.02
    evening = set_up(upright, person=Person(answers=False))
    assert "Nothing was heard." in evening.text


def test_a_keyboard_of_61_keys_has_its_own_ends(set_up: SetUp) -> None:
    values = set_up(SimulatedPiano(keys=(36, 96))).values()
    assert (values["lowest-key"], values["highest-key"]) == ("36", "96")  # common practice: C2 to C7


def test_a_stage_piano_on_channel_3_is_played_on_channel_3(set_up: SetUp) -> None:
    values = set_up(SimulatedPiano(channel=3, hears=(3,), drums=False)).values()
    assert values["listen"] == "[3]"
    assert {key: values[key] for key in values if "channels" in key} == {
        f"[piano.channels] {part}": "3" for part in ("melody", "chords", "bass", "solo", "click")
    }


def test_a_split_keyboard_is_heard_on_both_of_its_channels(set_up: SetUp) -> None:
    values = set_up(SimulatedPiano(channel=1, low_channel=2)).values()
    assert values["listen"] == "[1, 2]"
    assert values["[piano.channels] bass"] == "3", "the left hand has channel 2"


def test_layered_sounds_are_one_keyboard(set_up: SetUp) -> None:
    assert set_up(SimulatedPiano(channel=1, layered=(4,))).values()["listen"] == "[1, 4]"


def test_a_piano_that_ends_notes_by_velocity_0_is_set_up_alike(set_up: SetUp) -> None:
    """MIDI 1.0: a note-on with velocity 0 is a note-off."""
    assert set_up(SimulatedPiano(zero_velocity=True)).values() == set_up(SimulatedPiano()).values()


def test_a_silent_module_beside_a_piano_is_not_taken(set_up: SetUp) -> None:
    module = SimulatedPiano(input="", output="module:ears", sounds=False)
    keys = SimulatedPiano(output=None)
    evening = set_up(keys, module)
    assert "module:ears ..." in evening.text and "Nothing was heard." in evening.text
    assert "out" not in evening.values()
    assert not module.sounding()


def test_a_module_that_sounds_is_taken_for_a_keyboard_without_sound(set_up: SetUp) -> None:
    keys, module = SimulatedPiano(output=None), SimulatedPiano(input="", output="module:ears")
    values = set_up(keys, module).values()
    assert values["out"] == '"module:ears"'
    assert values["[module.channels] melody"] == "1" and not [key for key in values if key.startswith("[piano")]


def test_the_computer_sounds_where_nothing_else_does(set_up: SetUp) -> None:
    evening = set_up(SimulatedPiano(output=None), computer=True)
    assert evening.dialogue.found.setup == "synth" and "--no-sound" in evening.text
    assert evening.values()["computer"] == "true"


def test_a_device_that_only_sends_clock_is_not_the_piano(set_up: SetUp) -> None:
    """MIDI 1.0: timing clock, start, active sensing, and a time code's quarter frames."""
    messages = ((0xFA,), (0xF8,), (0xFE,), (0xF1, 0x23))
    noise = [FromPort(0.02 * n, "clock:out", messages[n % len(messages)]) for n in range(3000)]
    assert set_up(noise=noise).values()["in"] == '"upright:keys"'


def test_a_box_that_plays_by_itself_is_not_the_piano(set_up: SetUp) -> None:
    noise = [FromPort(0.25 * n, "box:out", (0x99 if n % 2 else 0x89, 36, 100)) for n in range(300)]
    assert set_up(noise=noise).values()["in"] == '"upright:keys"'


def test_nobody_there_is_told_kindly_and_nothing_changes(set_up: SetUp) -> None:
    evening = set_up(person=Person({"key": None}))
    assert evening.over and evening.dialogue.kept is None
    assert "Is the piano on" in evening.text
    assert "no key was heard, and nothing is changed" in str(evening.dialogue.trouble)


@pytest.mark.parametrize(
    "step", [step for step in QUESTIONS if step not in ("key", "keep", "other channels", "keep local")]
)
def test_every_step_can_be_skipped_at_the_computer(set_up: SetUp, step: SetupStep) -> None:
    evening = set_up(person=Person({step: ""}))
    assert evening.over and evening.dialogue.kept is not None


@pytest.mark.parametrize(
    "step", [step for step in QUESTIONS if step not in ("key", "keep", "other channels", "keep local")]
)
def test_every_step_passes_when_nobody_does_anything(set_up: SetUp, step: SetupStep) -> None:
    evening = set_up(person=Person({step: None}))
    assert evening.over and evening.dialogue.kept is not None


def test_somebody_who_does_nothing_but_press_one_key_changes_nothing(set_up: SetUp) -> None:
    nothing: dict[SetupStep, None] = dict.fromkeys(QUESTIONS[1:])
    evening = set_up(person=Person(dict(nothing), answers=False))
    assert evening.over and evening.dialogue.kept is None and evening.seconds < 180


@pytest.mark.parametrize("step", [step for step in get_args(SetupStep) if step not in ("other channels", "over")])
def test_breaking_off_leaves_no_note_and_no_silent_keys(
    set_up: SetUp, upright: SimulatedPiano, step: SetupStep
) -> None:
    does: dict[SetupStep, str | tuple[int, ...] | None] = {"local": "off"} if step == "keep local" else {}
    evening = set_up(upright, person=Person(does), leave_in=step)
    assert evening.dialogue.step == step
    evening.leave()
    assert not upright.sounding() and upright.local
    assert evening.dialogue.kept is None


def _heard(moments: list[tuple[float, int, int]]) -> list[SetupEvent]:
    """Keys, controllers and lines at moments, in order of time."""
    found: list[SetupEvent] = []
    for moment, kind, data in sorted(moments):
        if kind == 3:
            found.append(Typed(moment, ("", "y", "n", "12")[data % 4]))
        else:
            found.append(FromPort(moment, "upright:keys", ((0x90, 0x80, 0xB0)[kind], data, 80)))
    return found


MOMENTS = st.lists(st.tuples(st.floats(0, 120), st.integers(0, 3), st.integers(0, 127)), max_size=60)


@given(MOMENTS, st.lists(st.floats(0, 130), max_size=20))
def test_cutting_one_advance_in_two_changes_nothing(moments: list[tuple[float, int, int]], cuts: list[float]) -> None:
    events = _heard(moments)

    def run(cuts: list[float]) -> tuple[list[str], list[object], SetupStep]:
        dialogue = SettingUp(PORTS, lambda found: Writing((), "nothing"), lambda port: "upright:ears")
        replies: list[Reply] = [dialogue.advance(0.0)]
        begin = 0.0
        for end in [*sorted(cuts), 130.0]:
            replies.append(dialogue.advance(end, [event for event in events if begin <= event.seconds < end]))
            begin = end
        lines = [line for reply in replies for line in reply.lines]
        return lines, [deed for reply in replies for deed in reply.deeds], dialogue.step

    assert run(cuts) == run([])


def test_what_was_sent_is_known_by_the_moment_at_which_it_went_out() -> None:
    dialogue = SettingUp(PORTS, lambda found: Writing((), "nothing"), lambda port: "upright:ears")
    dialogue.advance(0.0)
    dialogue.advance(1.0, [Sent(0.9, (0x90, 60, 30)), FromPort(0.95, "upright:keys", (0x90, 60, 30))])
    assert dialogue.found.input is None, "a copy of ours is no key"


@pytest.mark.parametrize(
    ("message", "is_a_key"),
    [
        ((0x90, 60, 127), True),
        ((0x9F, 127, 1), True),
        ((0x90, 60), False),
        ((0x90, 60, 128), False),
        ((0x90, 128, 60), False),
        ((0xA0, 60, 64), False),
        ((0xE0, 60, 64), False),
        ((0xF8,), False),
        ((0xFF, 60, 64), False),
    ],
)
def test_the_first_key_is_a_whole_note_on_and_nothing_else(message: tuple[int, ...], is_a_key: bool) -> None:
    """MIDI 1.0: data bytes go up to 127; F0 and more is of the system."""
    dialogue = SettingUp(PORTS, lambda found: Writing((), "nothing"), lambda port: "upright:ears")
    dialogue.advance(0.0)
    dialogue.advance(2.0, [FromPort(1.5, "upright:keys", message)])
    assert (dialogue.found.input == "upright:keys") == is_a_key


def test_the_dialogue_begins_with_what_comes_first() -> None:
    dialogue = SettingUp(PORTS, lambda found: Writing((), "nothing"), lambda port: "upright:ears")
    reply = dialogue.advance(500.0, [Typed(499.9, "what"), Typed(499.95, "what")])
    assert reply.wake == pytest.approx(500.9), "a second to listen, from the first event on"


def test_who_an_instrument_is_stays_known_when_it_says_something_else() -> None:
    dialogue = SettingUp(PORTS, lambda found: Writing((), "nothing"), lambda port: "upright:ears")
    dialogue.advance(0.0)
    dialogue.advance(2.0, [FromPort(1.5, "upright:keys", (0x90, 60, 70))])
    dialogue.advance(2.3, [FromPort(2.1, "other:out", simulated.IDENTITY_REPLY)])
    assert dialogue.found.identity is None
    dialogue.advance(2.5, [FromPort(2.4, "upright:keys", simulated.IDENTITY_REPLY)])
    dialogue.advance(2.7, [FromPort(2.6, "upright:keys", (0xF0, 0x7E, 0xF7)), FromPort(2.6, "upright:keys", (0xF8,))])
    assert dialogue.found.identity is not None and dialogue.found.identity.member == 5
