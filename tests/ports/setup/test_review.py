"""The last step: shown, and kept only when the player says so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from companion.ports.setup.review import Writing, review
from companion.preferences.own_file import OwnFile
from companion.preferences.reading import forget

from .simulated import Evening, Person, SimulatedPiano, a_desk, driven, key, typed

SetUp = Callable[..., Evening]


@pytest.mark.parametrize(("does", "kept"), [("", True), ("y", True), ((60,), True), ("n", False), (None, False)])
def test_a_key_or_enter_keeps_it_and_silence_does_not(
    set_up: SetUp, does: str | tuple[int, ...] | None, kept: bool
) -> None:
    evening = set_up(person=Person({"keep": does}))
    assert evening.over and (evening.dialogue.kept is not None) == kept


def test_every_value_is_shown_before_anybody_says_yes(set_up: SetUp) -> None:
    evening = set_up()
    for name, value in evening.values().items():
        assert f"     {name} = {value}" in evening.text.splitlines()


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


# the question alone

PLAN = Writing((OwnFile(Path("instruments.toml"), "listen = [1]", ("listen = [1]",)),), "Latency: as it was.")


@pytest.mark.parametrize(
    ("events", "kept", "after"),
    [
        ((), False, 30.0),
        ((key(29.0),), True, 29.0),
        ((key(1.0, port="other:out"),), False, 30.0),
        ((typed(2.0, "yes"),), True, 2.0),
        ((typed(2.0, "no"),), False, 2.0),
        ((typed(20.0, "12"),), False, 50.0),  # it is asked anew
        ((typed(20.0, "what"), key(49.0)), True, 49.0),
    ],
)
def test_half_a_minute_to_look_at_it_and_again_after_each_line(events: tuple, kept: bool, after: float) -> None:  # type: ignore[type-arg]
    desk = a_desk()
    desk.found.setup = "piano"
    assert driven(desk, review(desk, lambda found: PLAN), *events) == (PLAN if kept else None, after)
    assert desk.lines[:3] == ["7  Latency: as it was.", "   instruments.toml", "     listen = [1]"]


@pytest.mark.parametrize(
    ("word", "latency"),
    [("0", 0.0), ("12", 12.0), ("12ms", 12.0), ("12,5 ms", 12.5), ("1000", 1000.0), ("1001", None), ("-1", None),
     ("inf", None), ("a few", None)],
)  # fmt: skip
def test_a_latency_is_up_to_a_second_in_milliseconds(word: str, latency: float | None) -> None:
    desk = a_desk()
    desk.found.setup = "piano"
    driven(desk, review(desk, lambda found: PLAN), typed(1.0, word))
    assert desk.found.latency_ms == latency
    told = "   Keep it?" if latency is not None else desk.lines[-1]
    assert desk.lines[-1] == told and ("a number is the latency" in told) == (latency is None)
    unheard = a_desk()
    driven(unheard, review(unheard, lambda found: PLAN), typed(1.0, word))
    assert unheard.found.latency_ms is None, "of what sounds nowhere"
    assert not any("If you know your sound's latency" in line for line in unheard.lines)


def test_the_way_there_and_back_is_known_from_two_notes_on() -> None:
    for milliseconds, found in (((20,), (None, None)), ((20, 30), (20.0, 30.0)), ((20, 22, 90), (22.0, 90.0))):
        desk = a_desk()
        for one in milliseconds:
            desk.echo.returns.add(one / 1000)
        driven(desk, review(desk, lambda found: Writing((), "What was found:")))
        assert (desk.found.there_and_back_ms, desk.found.latest_copy_ms) == found


def test_who_cannot_type_is_told_of_keys_alone() -> None:
    for typing, asked in (
        (True, "   Keep this? Any key or Enter is yes; silence, or n, leaves everything as it was."),
        (False, "   Keep this? Any key is yes; silence leaves everything as it was."),
    ):
        desk = a_desk(typing=typing)
        driven(desk, review(desk, lambda found: PLAN))
        assert asked in desk.lines
