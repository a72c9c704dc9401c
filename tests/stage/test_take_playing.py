"""A kept take sounds again: what is sent when, and what is told meanwhile; on a clock that only waiting moves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from companion.chart.toml.read import parse_toml
from companion.messages import Heard, Order
from companion.stage import take_playing
from companion.stage.settings import Settings
from companion.stage.take import read_take
from companion.stage.take_playing import AFTER, BEFORE, STEP, play_take
from companion.stage.take_writer import TakeWriter

CHART = 'format = 1\ntitle = "Back Stairs"\ntempo = 120\n[section.A]\nchords = "| Cm7 | G7 |"\n'
PLAYED = [
    Heard(1.0, 0xB0, 64, 127), Heard(1.0, 0x90, 60, 80), Heard(1.5, 0x80, 60, 40), Heard(1.5, 0x90, 62, 70),
    Heard(3.0, 0x80, 62, 40), Heard(3.0, 0xB0, 64, 0),
]  # fmt: skip
ORDERED = [
    Order(1.5, "bass", 0x90, 36, 70), Order(2.0, "bass", 0x80, 36, 0),
    Order(1.5, "chords", 0x90, 52, 60), Order(2.5, "chords", 0x80, 52, 0),
]  # fmt: skip


class Sound:
    """What was sent and when it was handed over, in seconds from the first note."""

    def __init__(self) -> None:
        self.clock = 100.0
        self.sent: list[tuple[float, tuple[int, ...]]] = []

    def order(self, due: float, message: tuple[int, ...]) -> None:
        assert due == pytest.approx(self.clock), "each at its moment"
        self.sent.append((round(due - 100.0 - BEFORE, 3), message))

    def wait_until(self, moment: float) -> None:
        self.clock = max(self.clock, moment)


@pytest.fixture
def play(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[Sound, list[float]]]:
    writer = TakeWriter(parse_toml(CHART), Settings(), tmp_path)
    for event in sorted([*PLAYED, *ORDERED], key=lambda one: one.seconds):
        writer.add(event)
    folder = writer.close("ended")
    assert folder is not None

    def playing(**more: Any) -> tuple[Sound, list[float]]:
        sound, told = Sound(), list[float]()
        monkeypatch.setattr(take_playing, "now", lambda: sound.clock)
        channels = {"bass": 2, "chords": 16}
        play_take(read_take(folder), sound, channels, watch=told.append, **more)  # type: ignore[arg-type]
        return sound, told

    return playing


def test_both_hands_sound_at_their_moments_and_what_ends_comes_first(play: Callable[..., Any]) -> None:
    sound, told = play()
    assert sound.sent[:3] == [(1.0, (0xB0, 64, 127)), (1.0, (0x90, 60, 80)), (1.5, (0x80, 60, 40))]
    assert sorted(sound.sent[3:6]) == [(1.5, (0x90, 62, 70)), (1.5, (0x91, 36, 70)), (1.5, (0x9F, 52, 60))]
    assert sound.sent[6:] == [
        (2.0, (0x81, 36, 0)), (2.5, (0x8F, 52, 0)), (3.0, (0x80, 62, 40)), (3.0, (0xB0, 64, 0)),
    ]  # fmt: skip
    assert sound.clock - 100.0 == pytest.approx(BEFORE + 3.0 + AFTER)
    assert told == sorted(told) and told[-1] == 3.0
    assert all(later - before <= STEP for before, later in zip([0.0, *told], told, strict=False))


def test_from_the_middle_nothing_is_struck_that_had_begun_but_the_pedals_are_as_they_were(
    play: Callable[..., Any],
) -> None:
    sound, told = play(begin=1.75)
    assert sound.sent == [
        (0.0, (0xB0, 64, 127)), (0.25, (0x81, 36, 0)), (0.75, (0x8F, 52, 0)),
        (1.25, (0x80, 62, 40)), (1.25, (0xB0, 64, 0)),
    ]  # fmt: skip
    assert told[0] == 1.75 and sound.clock - 100.0 == pytest.approx(BEFORE + 1.25 + AFTER)
    at_a_note, _ = play(begin=1.5)
    assert [message[0] & 0xF0 for _, message in at_a_note.sent].count(0x90) == 3, "what begins there is struck"


def test_at_one_moment_everything_that_ends_comes_before_what_is_struck(monkeypatch: pytest.MonkeyPatch) -> None:
    """A note-on without velocity ends a note (MIDI 1.0); the first sound comes 0.3 seconds after the command."""
    orders = [Order(2.0, "bass", 0x80, 36, 0), Order(2.0, "chords", 0x90, 52, 0), Order(2.0, "chords", 0x90, 53, 1)]
    take = SimpleNamespace(heard=lambda: [Heard(2.0, 0x90, 60, 80)], sounded=lambda: orders, seconds=2.0)
    sound = Sound()
    monkeypatch.setattr(take_playing, "now", lambda: 100.0)
    play_take(take, sound, {"bass": 2, "chords": 3})  # type: ignore[arg-type]
    assert [message for _, message in sound.sent] == [(0x81, 36, 0), (0x92, 52, 0), (0x90, 60, 80), (0x92, 53, 1)]
    assert sound.clock == pytest.approx(100.0 + 0.3 + 2.0 + 1.0)


def test_while_nothing_sounds_the_place_is_told_four_times_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """A part that has no channel of its own sounds on the first."""
    keys = [Heard(0.25, 0x90, 60, 80), Heard(1.0, 0x80, 60, 0)]
    orders = [Order(1.0, "melody", 0x90, 72, 64)]
    take = SimpleNamespace(heard=lambda: keys, sounded=lambda: orders, seconds=1.5)
    waited: list[float] = []
    told: list[float] = []

    class Waiting(Sound):
        def wait_until(self, moment: float) -> None:
            waited.append(moment - 100.3)
            super().wait_until(moment)

    sound = Waiting()
    monkeypatch.setattr(take_playing, "now", lambda: 100.0)
    play_take(take, sound, {}, watch=told.append)  # type: ignore[arg-type]
    assert told == [0.25, 0.5, 0.75, 1.0, 1.0, 1.5]
    assert waited == pytest.approx([0.25, 0.5, 0.75, 1.0, 1.0, 2.0])
    assert sound.sent[-1] == (1.0, (0x90, 72, 64))


@pytest.mark.parametrize(
    ("parts", "channels"),
    [({"you"}, {0}), ({"bass"}, {1}), ({"chords", "bass"}, {1, 15}), ({"melody"}, set()), ({"you", "bass"}, {0, 1})],
)
def test_only_the_parts_asked_for_sound(play: Callable[..., Any], parts: set[str], channels: set[int]) -> None:
    sound, told = play(parts=frozenset(parts))
    assert {message[0] & 0x0F for _, message in sound.sent} == channels
    assert told[-1] == 3.0, "to the end of the take"
