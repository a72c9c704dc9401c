"""What a player tells with a pedal that goes on sounding, and what no gesture is.

Controllers 64 and 67 are the damper and the soft pedal, on from 64 (MIDI 1.0).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.messages import Heard
from companion.stage.gestures import Gestures


def pedal(value: int) -> Heard:
    return Heard(0.0, 0xB0, 67, value)


def test_a_pedal_that_comes_up_a_bar_line_later_tells() -> None:
    gestures = Gestures(on=True)
    assert not gestures.tells(pedal(127))
    gestures.bar_line()
    assert gestures.tells(pedal(0))


@pytest.mark.parametrize("lines", [0, 2, 5])
def test_a_pedal_held_for_a_passage_or_tapped_tells_nothing(lines: int) -> None:
    gestures = Gestures(on=True)
    gestures.tells(pedal(127))
    for _ in range(lines):
        gestures.bar_line()
    assert not gestures.tells(pedal(0))


def test_a_pedal_that_sends_its_way_down_and_up_is_one_gesture() -> None:
    gestures = Gestures(on=True)
    told = [gestures.tells(pedal(value)) for value in (10, 50, 64, 90, 127)]
    gestures.bar_line()
    told += [gestures.tells(pedal(value)) for value in (127, 90, 40, 10, 0)]
    assert told == [False] * 7 + [True] + [False] * 2


@pytest.mark.parametrize("controller", [0, 1])
def test_where_nothing_can_be_told_no_other_controller_tells(controller: int) -> None:
    gestures = Gestures(on=False)
    gestures.tells(Heard(0.0, 0xB0, controller, 127))
    gestures.bar_line()
    assert gestures.tells(Heard(0.0, 0xB0, controller, 0)) is False


def test_where_nothing_can_be_told_the_pedal_is_for_playing() -> None:
    gestures = Gestures(on=False)
    gestures.tells(pedal(127))
    gestures.bar_line()
    assert not gestures.tells(pedal(0))


def test_a_player_may_choose_another_pedal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = tmp_path / "configs" / "signals.toml"
    own.parent.mkdir()
    own.write_text("[last-time]\npedal = 66\n", encoding="utf-8")
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    gestures = Gestures(on=True)
    gestures.tells(Heard(0.0, 0xB0, 66, 127))
    gestures.bar_line()
    assert not gestures.tells(pedal(0)) and gestures.tells(Heard(1.0, 0xB0, 66, 0))


def test_a_player_holds_on_by_key_or_by_pedal() -> None:
    gestures = Gestures(on=True)
    gestures.tells(Heard(0.0, 0x90, 60, 64))
    gestures.tells(Heard(0.1, 0xB0, 64, 127))
    gestures.tells(Heard(0.2, 0x90, 60, 0))
    assert gestures.holding
    gestures.tells(Heard(0.3, 0xB0, 64, 0))
    assert not gestures.holding


@pytest.mark.parametrize(("value", "down"), [(0, False), (1, False), (63, False), (64, True), (65, True), (127, True)])
def test_a_switch_is_on_from_the_middle_of_its_values(value: int, down: bool) -> None:
    gestures = Gestures(on=True)
    gestures.tells(pedal(value))
    gestures.bar_line()
    assert gestures.tells(pedal(0)) == down
    gestures.tells(Heard(0.0, 0xB0, 64, value))
    assert gestures.holding == down


@pytest.mark.parametrize("other", [Heard(0.0, 0xB0, 66, 0), Heard(0.0, 0x90, 67, 0), Heard(0.0, 0x80, 67, 0)])
def test_only_its_own_pedal_tells(other: Heard) -> None:
    gestures = Gestures(on=True)
    gestures.tells(pedal(127))
    gestures.bar_line()
    assert not gestures.tells(other) and gestures.tells(pedal(0))
    assert not gestures.tells(pedal(0)), "it has come up already"


@pytest.mark.parametrize(("status", "number"), [(0xB0, 63), (0xB0, 65), (0xB0, 67), (0xE0, 64)])
def test_what_is_no_damper_holds_nothing(status: int, number: int) -> None:
    gestures = Gestures(on=False)
    gestures.tells(Heard(0.0, status, number, 127))
    assert not gestures.holding


def test_a_key_is_held_until_its_own_end_by_either_of_the_two_messages() -> None:
    """A note-on without velocity is a note-off (MIDI 1.0)."""
    gestures = Gestures(on=False)
    for status, velocity in ((0x80, 64), (0x90, 0)):
        gestures.tells(Heard(0.0, 0x90, 60, 1))
        gestures.tells(Heard(0.0, status, 61, velocity))
        assert gestures.holding
        gestures.tells(Heard(0.0, status, 60, velocity))
        assert not gestures.holding


def test_bar_lines_are_counted_from_when_the_pedal_went_down_at_any_time() -> None:
    gestures = Gestures(on=True)
    for _ in range(3):
        gestures.bar_line()
        gestures.tells(pedal(64))
        gestures.bar_line()
        assert gestures.tells(pedal(63))
