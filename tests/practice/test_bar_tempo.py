"""Bars rushed and dragged, against a beat that wanders, from onsets of which everything is known."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Collection
from dataclasses import replace
from itertools import accumulate

import pytest

from companion.practice.bar_tempo import BarTempo, BeatOnset, SweepOnsets, rushed_and_dragged

TOUCH, QUARTER, SURE = 0.008, 0.5, 4.0
BARS = tuple(4.0 * n for n in range(25))
CLEAN = 20


def played(
    late: Callable[[float], float] = lambda beat: 0.0, *, seed: int = 1, wander: float = 0.006, touch: float = TOUCH
) -> SweepOnsets:
    """Twenty-four bars of crotchets by a good player, some of them later than the beat."""
    dice = random.Random(seed)
    tempo = [0.0]
    for _ in range(95):
        tempo.append(0.98 * tempo[-1] + dice.gauss(0, wander))
    moments = [0.0, *accumulate(QUARTER * (1 + off) for off in tempo)]
    onsets = [BeatOnset(float(n), moments[n] + dice.gauss(0, touch) + late(float(n))) for n in range(96)]
    return SweepOnsets(tuple(onsets), BARS)


def told(take: SweepOnsets) -> list[BarTempo]:
    (found,) = rushed_and_dragged([take], 1.0, SURE)
    return found


def in_bar(by: float, low: float = 40.0, high: float = 44.0) -> Callable[[float], float]:
    """So many seconds a beat later through a bar, and what follows with it."""
    return lambda beat: by * min(max(beat - low, 0.0), high - low)


@pytest.mark.parametrize("by", [0.04, -0.04])
@pytest.mark.parametrize("seed", range(4))
def test_a_bar_by_40_ms_a_beat_is_told_and_no_other(by: float, seed: int) -> None:
    (one,) = told(played(in_bar(by), seed=seed))
    assert (one.low, one.high, one.beside) == (40.0, 44.0, False)
    assert one.late == pytest.approx(by, abs=0.012)


@pytest.mark.parametrize("seed", range(3))
def test_a_bar_that_was_caught_up_with_is_told(seed: int) -> None:
    (one,) = told(played(lambda beat: -0.04 * (beat - 39) if 40 <= beat < 44 else 0.0, seed=seed))
    assert one.low == 40.0 and one.late < -0.025


def few(take: SweepOnsets, beats: Collection[float]) -> SweepOnsets:
    """The same with fewer notes: downbeats and third beats, and in the tenth bar these."""
    kept = [one for one in take.onsets if (one.beat in beats if 40 <= one.beat < 44 else one.beat % 2 == 0)]
    return replace(take, onsets=tuple(kept))


@pytest.mark.parametrize("seed", [3, 4])
def test_a_bar_ahead_of_its_beat_with_two_notes_is_no_leap_ahead_and_no_breath_after_it(seed: int) -> None:
    (one,) = told(few(played(lambda beat: -0.04 if 40 <= beat < 44 else 0.0, seed=seed), (40, 42)))
    assert (one.low, one.beside) == (40.0, True)
    assert one.late == pytest.approx(-0.04, abs=0.015)


@pytest.mark.parametrize("seed", range(3))
def test_a_bar_behind_its_beat_is_told_as_such(seed: int) -> None:
    (one,) = told(played(lambda beat: 0.07 if 40 <= beat < 44 else 0.0, seed=seed))
    assert (one.low, one.beside) == (40.0, True)
    assert one.late == pytest.approx(0.07, abs=0.015)


def test_of_good_playing_nothing_is_told() -> None:
    worth_saying = [one for seed in range(CLEAN) for one in told(played(seed=seed)) if abs(one.late) >= 0.025]
    assert len(worth_saying) <= CLEAN * 24 / 500


def test_neither_a_breath_nor_one_note_off_nor_a_new_tempo_is_a_bar_rushed_or_dragged() -> None:
    for seed in range(3):
        assert not told(played(lambda beat: 0.25 if beat >= 42 else 0.0, seed=seed))
        assert not told(played(lambda beat: 0.12 if beat == 42 else 0.0, seed=seed))
        assert not told(played(lambda beat: 0.05 * max(beat - 42, 0.0), seed=seed))


def test_of_who_takes_the_tempo_freely_less_is_said() -> None:
    free = [one for seed in range(4) for one in told(played(in_bar(0.04), seed=seed, wander=0.05))]
    assert len(free) <= 1


def test_of_few_notes_nothing_is_said() -> None:
    take = played(in_bar(0.04))
    assert rushed_and_dragged([SweepOnsets(take.onsets[:5], BARS[:3]), SweepOnsets((), (0.0, 4.0))], 1.0, SURE) == [
        [],
        [],
    ]


@pytest.mark.parametrize("seed", range(3))
def test_a_bar_whose_first_beat_is_early_already_is_told_once(seed: int) -> None:
    take = played(lambda beat: -0.04 * min(max(math.floor(beat) - 39, 0), 4), seed=seed)
    (one,) = told(take)
    assert (one.low, one.beside) == (40.0, False)
    assert one.late == pytest.approx(-0.04, abs=0.012)


@pytest.mark.parametrize("seed", range(3))
def test_a_dragged_bar_that_is_made_good_over_the_next_is_the_one_that_is_told(seed: int) -> None:
    (one,) = told(played(lambda beat: 0.04 * max(min(beat - 40, 48 - beat), 0), seed=seed))
    assert (one.low, one.late > 0) == (40.0, True)
