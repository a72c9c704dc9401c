"""How an ending slows down by itself.

A. Friberg and J. Sundberg, J. Acoust. Soc. Am. 105(3), 1999 (from memory): v(x) = (1 + (w^q - 1) x)^(1/q), q = 3.
"""

from __future__ import annotations

import pytest

from companion.stage.ritardando import Ritardando


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
