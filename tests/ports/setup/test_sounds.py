"""What is tried, how loud, and what is taken for heard."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.ports.setup.sounds import LOUDER, QUIET

from . import simulated
from .simulated import Evening, Person, SimulatedPiano

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
