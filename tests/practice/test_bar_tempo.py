"""Bars rushed and dragged, against a beat that wanders, from onsets of which everything is known."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Collection
from dataclasses import replace
from itertools import accumulate

import numpy as np
import pytest

from companion.practice.bar_tempo import (
    BarTempo,
    BeatOnset,
    CauseShape,
    SweepOnsets,
    _alone,
    _Cause,
    _known_around,
    _likelihood,
    _stretch,
    _Sweep,
    _sweep,
    rushed_and_dragged,
)

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


# What stands here is what is measured today: when it changes, see whether it is nearer to what was planted


def swung(
    late: Callable[[float], float], touch: float = 0.007, wander: float = 0.006, *, seed: int = 1, bars: int = 9
) -> SweepOnsets:
    """Some bars of crotchets, with swung quavers after the second and the third."""
    dice = random.Random(seed)
    tempo = [0.0]
    for _ in range(4 * bars):
        tempo.append(0.98 * tempo[-1] + dice.gauss(0, wander))
    moments = [0.0, *accumulate(QUARTER * (1 + off) for off in tempo)]
    onsets = []
    for n in range(4 * bars):
        onsets.append(BeatOnset(float(n), moments[n] + dice.gauss(0, touch) + late(float(n))))
        if n % 4 in (1, 2):
            at = moments[n] + 0.6 * (moments[n + 1] - moments[n]) + dice.gauss(0, touch) + late(n + 0.6)
            onsets.append(BeatOnset(n + 0.6, at, 0.02 * QUARTER, True))
    return SweepOnsets(tuple(onsets), tuple(4.0 * n for n in range(bars + 1)))


DRAGGED = in_bar(0.06, 16.0, 20.0)
HELD = replace(swung(lambda beat: in_bar(0.05, 16, 20)(beat) + 0.8 * (beat >= 8), seed=3), held=(8.0,))


def measured(*take: SweepOnsets) -> list[tuple[float, float, float, float, bool]]:
    """What is told of the sweeps of a take: from where to where, how late, how sure, and whether beside the beat."""
    return [
        (one.low, one.high, one.late, one.sure, one.beside)
        for told in rushed_and_dragged(take, 1.0, SURE)
        for one in told
    ]


@pytest.mark.parametrize(
    ("touch", "wander", "late", "sure"),
    [
        (0.004, 0.002, 0.05676, 19.2488), (0.009, 0.01, 0.04907, 9.5047), (0.02, 0.01, 0.08234, 7.7406),
        (0.04, 0.05, 0.21043, 6.378), (0.006, 0.05, 0.11822, 6.2739),
    ],
)  # fmt: skip
def test_how_sure_a_dragged_bar_is_depends_on_the_players_own_touch_and_freedom(
    touch: float, wander: float, late: float, sure: float
) -> None:
    by = max(0.06, 4 * touch + 2 * wander)
    ((low, high, found, errors, beside),) = measured(swung(in_bar(by, 16.0, 20.0), touch, wander))
    assert (low, high, beside) == (16.0, 20.0, False)
    assert (found, errors) == (pytest.approx(late, abs=2e-5), pytest.approx(sure, abs=2e-4))


@pytest.mark.parametrize(
    ("sweeps", "told"),
    [
        ([swung(lambda beat: -0.06 * min(max(math.floor(beat) - 15, 0), 4))], [(16, 20, -0.06752, 18.6965, False)]),
        ([swung(lambda beat: -0.07 * (beat - 15.5) * (16 <= beat < 20))], [(16, 20, -0.08029, 24.7019, False)]),
        ([swung(lambda beat: 0.06 * max(min(beat - 16, 24 - beat), 0))], [(16, 20, 0.05414, 17.6314, False)]),
        ([swung(lambda beat: 0.08 * (16 <= beat < 20))], [(16, 20, 0.08504, 14.9003, True)]),
        ([swung(in_bar(-0.06, 28, 32))], [(28, 32, -0.06174, 14.0152, False)]),
        ([swung(DRAGGED), swung(in_bar(-0.05, 16, 20), seed=2), HELD],
         [(16, 20, 0.05201, 11.9854, False), (16, 20, -0.05102, 12.1436, False), (16, 20, 0.05119, 11.8937, False)]),
        ([replace(HELD, held=())], [(16, 20, 0.05305, 7.8711, False)]),
    ],
    ids=["from its first beat", "caught up", "made good", "behind", "the last but one", "three sweeps", "held unsaid"],
)  # fmt: skip
def test_each_way_of_being_out_of_time_is_measured(
    sweeps: list[SweepOnsets], told: list[tuple[float, float, float, float, bool]]
) -> None:
    found = measured(*sweeps)
    assert [(low, high, beside) for low, high, _, _, beside in found] == [(a, b, beside) for a, b, _, _, beside in told]
    assert [late for _, _, late, _, _ in found] == pytest.approx([late for _, _, late, _, _ in told], abs=2e-5)
    assert [sure for *_, sure, _ in found] == pytest.approx([sure for *_, sure, _ in told], abs=2e-4)


@pytest.mark.parametrize(("before", "many"), [(2, 1), (1, 0)])
def test_two_notes_before_a_bar_tell_what_the_beat_was_and_one_does_not(before: int, many: int) -> None:
    take = swung(DRAGGED)
    assert len(measured(replace(take, onsets=take.onsets[24 - before :]))) == many


@pytest.mark.parametrize(("low", "by"), [(0.0, 0.06), (32.0, -0.06)])
def test_of_the_first_bar_and_the_last_nothing_is_said(low: float, by: float) -> None:
    assert not measured(swung(in_bar(by, low, low + 4)))


@pytest.mark.parametrize(
    ("off", "many"), [((15, 21), 1), ((15, 21, 9), 1), ((15, 21, 10), 0), ((15, 21, 25), 0), ((15, 21, 26), 1)]
)
def test_where_three_notes_more_are_off_within_a_bar_and_a_half_nobody_knows_the_beat(
    off: tuple[int, ...], many: int
) -> None:
    assert len(measured(swung(lambda beat: DRAGGED(beat) + 0.15 * (beat in off)))) == many


# By themselves: what each cause does to onsets, what is around it, and how likely a stretch is


@pytest.mark.parametrize(
    ("shape", "pulse", "late"),
    [
        ("shifted", 1.0, [0, 0, 0, 1, 2, 3, 4, 4, 4, 4, 4, 4]),
        ("from the first", 1.0, [0, 0, 1, 2, 3, 4, 4, 4, 4, 4, 4, 4]),
        ("from the first", 1.5, [0, 0, 1.5, 2.5, 3.5, 4, 4, 4, 4, 4, 4, 4]),
        ("caught up", 1.0, [0, 0, 0, 1, 2, 3, 0, 0, 0, 0, 0, 0]),
        ("made good", 1.0, [0, 0, 0, 1, 2, 3, 4, 3, 2, 1, 0, 0]),
        ("beside", 1.0, [0, 0, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0]),
        ("off", 1.0, [0, 0, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0]),
        ("breath", 1.0, [0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]),
        ("new tempo", 1.0, [0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9]),
    ],
)
def test_what_a_bar_from_beat_4_to_8_does_to_each_beat(shape: CauseShape, pulse: float, late: list[float]) -> None:
    """Onsets on beats 2 to 13."""
    assert list(_Cause(shape, 4.0, 8.0, pulse).effect(np.arange(2.0, 14.0))) == late


def sweep_of(*beats: float) -> _Sweep:
    return _sweep(SweepOnsets(tuple(BeatOnset(beat, 1 + beat / 2) for beat in beats), BARS), 1.0)


@pytest.mark.parametrize(
    ("beats", "late", "early"),
    [
        ((2, 3, 4, 5, 8, 9), True, True),
        ((3, 4, 5, 8, 9), False, False),  # one before it
        ((2, 3, 4, 5, 8), False, True),  # one after it: nobody rushes into an end
        ((2, 3, 4, 5, 7.9), False, False),
        ((2, 3.9, 4, 8, 8.1), True, True),
    ],
)
def test_two_notes_before_a_bar_and_after_it_tell_its_beat(beats: tuple[float, ...], late: bool, early: bool) -> None:
    bar = _Cause("shifted", 4.0, 8.0)
    assert _known_around(sweep_of(*beats), bar, 0.05) is late
    assert _known_around(sweep_of(*beats), bar, -0.05) is early


@pytest.mark.parametrize(
    ("others", "alone"),
    [
        (((9.0, 10.0), (11.0, 12.0)), True),
        (((9.0, 10.0), (11.0, 12.0), (12.0, 13.0)), False),
        (((9.0, 10.0), (11.0, 12.0), (13.9, 15.0)), False),
        (((9.0, 10.0), (11.0, 12.0), (14.0, 15.0)), True),  # a bar and a half after it
        (((9.0, 10.0), (11.0, 12.0), (-4.0, -1.9)), False),
        (((9.0, 10.0), (11.0, 12.0), (-4.0, -2.0)), True),
    ],
)
def test_three_other_things_out_of_place_around_a_bar_are_a_crowd(
    others: tuple[tuple[float, float], ...], alone: bool
) -> None:
    bar = _Cause("shifted", 4.0, 8.0)
    every = [(one, 0.1, 5.0) for one in (bar, *(_Cause("off", low, high) for low, high in others))]
    assert _alone(bar, every) is alone


@pytest.mark.parametrize(("touch", "freedom"), [(0.01, 1e-4), (0.03, 1e-5), (0.006, 1e-2)])
def test_a_stretch_is_as_likely_as_restricted_maximum_likelihood_has_it(touch: float, freedom: float) -> None:
    """The logarithm of V, of X' V^-1 X and of the weighted squares, over the degrees of freedom (Patterson & Thompson,
    Biometrika 58, 1971; from memory). V: an integrated random walk (a cubic smoothing spline: Wahba, 1978), the
    touch, loose places, and a swing that the off-beats of a bar share, of 0.06 quarters. Who holds back before beat 4
    does so before what lies 0.15 quarters ahead of it, too."""
    beats = (0.0, 1.0, 1.6, 2.0, 2.6, 3.0, 3.83, 3.87, 4.0, 5.6, 6.0, 7.0)
    off = (4, -9, 13, 2, -17, 8, 5, -12, 0, 21, -6, 11)
    onsets = tuple(
        BeatOnset(b, 1 + 0.4 * b + ms / 1000, 0.01 * (b % 1 > 0), b % 1 > 0) for b, ms in zip(beats, off, strict=True)
    )
    sweep = _sweep(SweepOnsets(onsets, BARS, (4.0,)), 1.0)
    many, quarter = len(beats), float(np.median(np.diff([one.seconds for one in onsets]) / np.diff(beats)))
    v, x = np.zeros((many, many)), np.zeros((many, 3))
    for i, a in enumerate(onsets):
        x[i] = 1.0, a.beat, a.beat >= 4.0 - 0.15
        for j, b in enumerate(onsets):
            low, high = min(a.beat, b.beat), max(a.beat, b.beat)
            v[i, j] = freedom * quarter**2 * low**2 * (3 * high - low) / 6
            v[i, j] += (touch**2 + a.loose**2) * (i == j)
            v[i, j] += (0.06 * quarter) ** 2 * (a.off_beat and b.off_beat and a.beat // 4 == b.beat // 4)
    y = np.array([one.seconds for one in onsets]) - onsets[0].seconds
    inverse = np.linalg.inv(v)
    inside = x.T @ inverse @ x
    rest = y - x @ np.linalg.solve(inside, x.T @ inverse @ y)
    whole = np.linalg.slogdet(v)[1] + np.linalg.slogdet(inside)[1] + rest @ inverse @ rest
    likely = _likelihood(_stretch(sweep, slice(0, many)), touch, freedom)
    assert likely == pytest.approx(-0.5 * whole / (many - 3), rel=1e-6)
