"""The last step: shown, and kept only when the player says so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from companion.preferences.reading import forget

from .simulated import Evening, Person, SimulatedPiano

SetUp = Callable[..., Evening]


@pytest.mark.parametrize(("does", "kept"), [("", True), ("y", True), ((60,), True), ("n", False), (None, False)])
def test_a_key_or_enter_keeps_it_and_silence_does_not(
    set_up: SetUp, does: str | tuple[int, ...] | None, kept: bool
) -> None:
    evening = set_up(person=Person({"keep": does}))
    assert evening.over and (evening.dialogue.kept is not None) == kept


def test_every_value_is_shown_before_anybody_says_yes(set_up: SetUp) -> None:
    evening = set_up()
    for key, value in evening.values().items():
        assert f"     {key} = {value}" in evening.text.splitlines()


def test_a_latency_that_the_player_knows_is_taken(set_up: SetUp) -> None:
    evening = set_up(person=Person({"keep": "23,5 ms"}))
    assert "[piano] latency-ms = 23.5" in evening.text
    assert evening.dialogue.kept is None, "it was asked again, and nobody said yes"


@pytest.mark.parametrize("word", ["-3", "4000", "quick", "nan"])
def test_what_can_be_no_latency_is_none(set_up: SetUp, word: str) -> None:
    evening = set_up(person=Person({"keep": word}))
    assert "latency-ms" not in evening.text and "a number is the latency in milliseconds" in evening.text


def test_what_isnt_kept_leaves_the_sounds_as_they_were(set_up: SetUp, upright: SimulatedPiano) -> None:
    set_up(upright, person=Person({"keep": "n"}))
    assert upright.program(2) == 1
    kept = SimulatedPiano()
    set_up(kept)
    assert kept.program(2) == 33


def test_set_up_again_only_what_is_new_is_written(set_up: SetUp, own_folder: Path) -> None:
    first = set_up(person=Person(left=(43, 50, 55)))
    assert first.dialogue.kept
    for file in first.dialogue.kept.files:
        file.write()
    forget()
    again = set_up(person=Person(left=(43, 50, 55)))
    assert again.dialogue.kept is None and "Nothing was found that isn't so already." in again.text
    wider = set_up(person=Person(left=(43, 50, 59), right=(60, 67, 76)))
    assert wider.values() == {"[hand] span": "16"}
