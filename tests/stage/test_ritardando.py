"""How an ending slows down by itself.

A. Friberg and J. Sundberg, J. Acoust. Soc. Am. 105(3), 1999 (from memory): v(x) = (1 + (w^q - 1) x)^(1/q), q = 3.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from companion.arrange.events import order
from companion.chart.model import Event
from companion.stage.ritardando import Ritardando, ritardando_of


@pytest.mark.parametrize(
    ("to", "x", "tempo"),
    [(0.5, 0.0, 1.0), (0.5, 0.5, 0.8255), (0.5, 1.0, 0.5), (0.8, 0.5, 0.9110), (0.8, 1.0, 0.8)],
)
def test_the_tempo_falls_as_a_runner_stops(to: float, x: float, tempo: float) -> None:
    """Worked by hand from the formula: half way to half the tempo, the cube root of 1 - 7/16."""
    assert Ritardando(100.0, 108.0, to).tempo(100 + 8 * x) == pytest.approx(tempo, abs=1e-4)


def test_before_it_nothing_changes_and_after_it_nothing_more() -> None:
    slows = Ritardando(100.0, 108.0, 0.5)
    assert slows.tempo(3.0) == 1.0 and slows.tempo(200.0) == pytest.approx(0.5)
    assert slows.slower(50.0, 1.0) == 1.0


def test_beat_by_beat_it_comes_to_the_same() -> None:
    slows, tempo = Ritardando(100.0, 108.0, 0.55), 1.0
    for beat in range(90, 108):
        tempo *= slows.slower(float(beat), 1.0)
    assert tempo == pytest.approx(slows.tempo(107.5))


def test_an_ending_without_one_keeps_the_tempo() -> None:
    assert Ritardando(108.0, 108.0, 0.55).slower(107.0, 1.0) == 1.0


@pytest.mark.parametrize(
    ("pulse", "steps"),
    [
        # On each pulse the tempo half a pulse later: by the formula at 1/8, 3/8, 5/8 and 7/8 of the way to a half.
        (2.0, [(100.0, 0.9621), (102.0, 0.8759), (104.0, 0.7681), (106.0, 0.6166), (108.0, 0.5)]),
        (4.0, [(100.0, 0.9210), (104.0, 0.7005), (108.0, 0.5)]),
        (8.0, [(100.0, 0.8255), (108.0, 0.5)]), (20.0, []),
    ],
)  # fmt: skip
def test_where_the_tempo_changes_in_a_file(pulse: float, steps: list[tuple[float, float]]) -> None:
    found = Ritardando(100.0, 108.0, 0.5).steps(pulse)
    assert [beat for beat, _ in found] == [beat for beat, _ in steps]
    assert [tempo for _, tempo in found] == pytest.approx([tempo for _, tempo in steps], abs=1e-4)


def test_where_nothing_slows_down_nothing_changes_in_a_file() -> None:
    assert Ritardando(100.0, 108.0, 1.0).steps(1.0) == [] == Ritardando(108.0, 108.0, 0.5).steps(1.0)


def test_a_beat_is_slower_than_the_one_before_by_the_tempi_at_their_middles() -> None:
    slows = Ritardando(100.0, 108.0, 0.5)
    for beat, pulse in ((100.0, 1.0), (104.0, 1.0), (106.0, 2.0), (108.0, 1.0)):
        assert slows.slower(beat, pulse) == slows.tempo(beat + pulse / 2) / slows.tempo(beat - pulse / 2)
    assert slows.slower(104.0, 2.0) == pytest.approx(0.7681 / 0.8759, abs=1e-4)


def test_it_can_be_moved_to_a_later_chorus() -> None:
    assert Ritardando(16.0, 32.0, 0.5).moved(64.0) == Ritardando(80.0, 96.0, 0.5)


@pytest.mark.parametrize(
    ("how", "metre", "slows"),
    [("ritardando", "4/4", 16), ("ritardando", "3/4", 12), ("tag", "4/4", 8), ("held", "4/4", 0)],
)
def test_from_how_many_bars_before_the_last_chord_an_ending_slows_down(
    stand: Any, how: str, metre: str, slows: float
) -> None:
    """Four bars where it is asked for by name, two in a tag, none before a chord that is held (configs/order.toml)."""
    bar = "c8" if metre == "4/4" else "c6"
    chart = stand.chart(("| C6 " * 8 + "|", f"| {bar} " * 8 + "|"), metre=metre)
    plan = order(replace(chart, events=(Event("head"), Event("ending", how=how))))
    found = ritardando_of(plan[-1])
    assert ritardando_of(plan[0]) is None and found is not None
    assert (found.high - found.low, found.high, found.to) == (slows, plan[-1].hold, 0.55)
