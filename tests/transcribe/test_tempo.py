"""The beats of a recording without a click: which tempi are tried, and how each is weighed."""

from __future__ import annotations

import math

import pytest

from companion.music.meter import Metre
from companion.music.played import KeyPress
from companion.transcribe.tempo import _likely, _rarity, find_beats


@pytest.mark.parametrize(
    ("tempo", "rarer"),
    [(125.0, 0.0), (125 * math.exp(0.6), 2.0), (125 * math.exp(-0.6), 2.0), (125 * math.exp(1.2), 8.0), (62.5, 2.669)],
)
def test_a_tempo_is_the_rarer_the_further_it_is_from_the_preferred_one(tempo: float, rarer: float) -> None:
    """A normal distribution of the logarithm (Parncutt 1994, from memory), at twice its weight."""
    assert _rarity(tempo) == pytest.approx(rarer, abs=1e-3)


def test_the_three_best_tempi_are_looked_at_none_near_a_better_one() -> None:
    glanced = [(5.0, 100.0), (4.0, 105.0), (6.0, 107.5), (7.0, 120.0), (8.0, 60.0), (9.0, 240.0)]
    assert _likely(glanced) == [(4.0, 105.0), (7.0, 120.0), (8.0, 60.0)], "within 6 % is near"
    assert _likely([(1.0, 100.0), (2.0, 106.0), (3.0, 106.3)]) == [(1.0, 100.0), (3.0, 106.3)]


def at(tempo: float, beats: list[float]) -> list[KeyPress]:
    """Keys on beats, a little uneven."""
    beside = (0.0, 0.006, -0.008, 0.004, -0.003)
    moments = [2.0 + beat * 60 / tempo + beside[n % 5] for n, beat in enumerate(beats)]
    return [KeyPress(on, on + 0.15, 60 + n % 7) for n, on in enumerate(moments)]


TUNE = [0.0, 1.0, 1.5, 2.0, 3.0, 3.5, 4.0, 6.0, 7.0, 7.5, 8.0, 9.0, 9.5, 10.0, 11.0, 12.0]


def test_the_tempo_of_a_tune_is_found_within_two_in_a_hundred() -> None:
    """As it is today for one played at 131."""
    beats = find_beats(at(131.0, TUNE))
    assert beats.tempo(0.0) == pytest.approx(130.8101, abs=1e-3)
    assert beats.seconds(0.0) == 2.0, "its first note is on a beat"


def test_of_three_notes_nothing_is_found() -> None:
    assert find_beats(at(90.0, [0.0, 1.0, 2.0])).tempo(0.0) == pytest.approx(120.0)
    assert find_beats([]).seconds(0.0) == 0.0
    assert find_beats(at(90.0, [0.0, 1.0, 2.0, 3.0]), Metre(3, 4)).tempo(0.0) != pytest.approx(120.0)
