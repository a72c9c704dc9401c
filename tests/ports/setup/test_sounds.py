"""What is tried, how loud, and what is taken for heard."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.ports.setup.desk import COMPUTER
from companion.ports.setup.sounds import ENOUGH, LOUDER, QUIET, _takes

from . import simulated
from .simulated import EARS, Evening, Person, SimulatedPiano, a_desk

SetUp = Callable[..., Evening]


def velocities(piano: SimulatedPiano) -> list[int]:
    return [message[2] for message in piano.received if message[0] & 0xF0 == 0x90]


def test_what_is_heard_quietly_is_never_played_louder_on_its_channel(set_up: SetUp, upright: SimulatedPiano) -> None:
    set_up(upright)
    assert velocities(upright)[0] == QUIET and max(velocities(upright)) <= LOUDER < 64  # MIDI 1.0: 64 is the middle


def test_what_isnt_heard_comes_once_more_a_little_louder(set_up: SetUp) -> None:
    silent = SimulatedPiano(sounds=False)
    set_up(silent)
    assert velocities(silent)[:6] == [QUIET] * 3 + [LOUDER] * 3


@pytest.mark.parametrize("channel", [5, 16])
def test_an_instrument_that_hears_one_channel_alone_is_found_on_it(set_up: SetUp, channel: int) -> None:
    values = set_up(SimulatedPiano(hears=(channel,), drums=False)).values()
    assert values["[piano.channels] melody"] == str(channel) == values["[piano.channels] bass"]


def test_a_slow_answer_still_finds_the_channel(set_up: SetUp, monkeypatch: pytest.MonkeyPatch) -> None:
    """The key comes when the next channel is being tried: the one before is tried once more as well."""
    monkeypatch.setattr(simulated, "REACTION", 1.4)
    assert set_up(SimulatedPiano(hears=(5,), drums=False)).values()["[piano.channels] melody"] == "5"


def test_where_every_channel_has_the_players_own_sound_the_bass_gets_none(set_up: SetUp) -> None:
    """The bass's program would change what the player hears of themselves."""
    piano = SimulatedPiano(one_sound=True)
    evening = set_up(piano)
    assert "programs" not in " ".join(evening.values())
    assert piano.program(1) == 1, "it was set back"


def test_without_drums_the_click_is_played_on_the_pianos_channel(set_up: SetUp) -> None:
    assert set_up(SimulatedPiano(drums=False)).values()["[piano.channels] click"] == "1"


def test_no_note_and_no_program_is_left_after_a_skip(set_up: SetUp, upright: SimulatedPiano) -> None:
    set_up(upright, person=Person({"bass sound": ""}))
    assert not upright.sounding() and upright.program(2) == 1


def test_an_output_that_cant_be_opened_is_passed_over(set_up: SetUp) -> None:
    evening = set_up(SimulatedPiano(opens=False), SimulatedPiano(input="", output="module:ears"))
    assert "can't be opened" in evening.text and evening.dialogue.found.output == "module:ears"


def test_of_many_silent_outputs_only_the_pianos_own_is_tried_on_every_channel(set_up: SetUp) -> None:
    others = [SimulatedPiano(input="", output=f"module:{n}", sounds=False) for n in range(4)]
    evening = set_up(SimulatedPiano(sounds=False), *others)
    assert "Nothing was heard." in evening.text and evening.seconds < 120
    assert {message[0] & 0x0F for message in others[0].received if message[0] & 0xF0 == 0x90} == {0}


def test_the_way_there_and_back_of_one_instrument_is_not_told_of_another(set_up: SetUp) -> None:
    silent = SimulatedPiano(sounds=False, echo=0.3)
    evening = set_up(silent, SimulatedPiano(input="", output="module:ears"))
    assert "nothing comes back" in evening.text
    assert evening.values()["[module.channels] melody"] == "1" and "[module] latency-ms" not in evening.values()


def test_with_no_output_at_all_the_rest_is_set_up(set_up: SetUp) -> None:
    evening = set_up(SimulatedPiano(output=None))
    assert "can only listen" in evening.text and evening.values()["in"] == '"upright:keys"'


@pytest.mark.parametrize("reaction", [0.05, 0.2, 0.8, 1.1])
def test_a_quick_answer_while_one_note_sounds_counts_on_each_channel(
    set_up: SetUp, monkeypatch: pytest.MonkeyPatch, reaction: float
) -> None:
    monkeypatch.setattr(simulated, "REACTION", reaction)
    evening = set_up(SimulatedPiano(hears=(7,), drums=False))
    assert evening.dialogue.found.parts["melody"] == 7 and "Channel 7 once more" in evening.text


def test_the_bass_has_the_first_channel_that_is_nobodys(set_up: SetUp) -> None:
    assert set_up(SimulatedPiano(channel=3)).dialogue.found.parts == {
        "bass": 1, "chords": 3, "melody": 3, "solo": 3, "click": 10,
    }  # fmt: skip
    assert set_up(SimulatedPiano(layered=(2, 3))).dialogue.found.parts["bass"] == 4


def test_where_nothing_is_heard_every_channel_is_tried_once_but_the_drums(set_up: SetUp) -> None:
    """General MIDI: the drums are channel 10. MIDI 1.0: there are sixteen, and 64 is a note-off's usual velocity."""
    silent = SimulatedPiano(sounds=False)
    set_up(silent)
    struck = [message[0] & 0x0F for message in silent.received if message[0] & 0xF0 == 0x90]
    assert struck == [0] * 6 + [*range(1, 9), *range(10, 16)]
    assert {message[2] for message in silent.received if message[0] & 0xF0 == 0x80} == {64}


def test_a_bass_of_its_own_has_the_sound_of_an_acoustic_bass(set_up: SetUp, upright: SimulatedPiano) -> None:
    """General MIDI level 1: program 33, which goes over the wire as 32."""
    set_up(upright)
    assert (0xC1, 32) in [tuple(message[:2]) for message in upright.received]


@pytest.mark.parametrize(
    ("port", "setup", "line"),
    [
        (COMPUTER, "synth", "   The companion plays here from then on; --no-sound leaves that out"),
        (EARS, "piano", None),
        ("module:ears", "module", None),
    ],
)
def test_who_sounds_is_the_computer_the_piano_itself_or_a_module(port: str, setup: str, line: str | None) -> None:
    desk = a_desk(computer=True)
    _takes(desk, port, 4)
    assert (desk.found.output, desk.found.setup) == (port, setup)
    assert desk.found.parts == {"melody": 4, "chords": 4, "bass": 4, "solo": 4, "click": 10}
    assert desk.lines[-1] == (line or "   heard, on channel 4")


@pytest.mark.parametrize(("came_back", "told"), [(ENOUGH - 1, False), (ENOUGH, True)])
def test_two_notes_that_came_back_tell_that_an_instrument_returns_them(came_back: int, told: bool) -> None:
    desk = a_desk()
    for _ in range(came_back):
        desk.echo.returns.add(0.004)
    _takes(desk, EARS, 1)
    assert (desk.lines[-1] == "   it sends back what it gets, which is told from your playing") == told
