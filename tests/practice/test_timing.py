"""Timing: whether a player phrases freely, where the bars of a sweep lie, and how each of them swings.

A note is out of time to the ear from some tens of milliseconds on (common practice); who leaves one in ten notes 80 ms
off the beat does so on purpose.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

import pytest

from companion.practice.alignment import Alignment
from companion.practice.judging import JudgedNote
from companion.practice.onsets import SweepTiming, TakeOnset
from companion.practice.sweeps import Sweep
from companion.practice.timing import (
    chord_findings,
    phrases_freely,
    sweep_bars,
    swing_by_bar,
    swing_findings,
    take_timing,
    tempo_findings,
)
from companion.preferences import preferences
from companion.preferences.review import ReviewPreferences
from tests.practice.test_flow import FORM as STEPS


def notes(*off: float | None, expected: int | None = 60) -> list[JudgedNote]:
    """A note on each beat, so many milliseconds off; None: not struck."""
    return [JudgedNote("right", float(n), expected, 60, n * 0.5, one) for n, one in enumerate(off)]


@pytest.mark.parametrize(
    ("off", "freely"),
    [
        ((80.0, *[0.0] * 9), True),  # one in ten
        ((-80.0, *[0.0] * 9), True),
        ((79.9, *[0.0] * 9), False),
        ((80.0, *[0.0] * 10), False),  # one in eleven
        ((80.0, 80.0, *[0.0] * 18), True),
        ((80.0, *[None] * 30, *[0.0] * 9), True),  # what wasn't struck says nothing
        ((), False),
        ((None,), False),
    ],
)
def test_whoever_leaves_one_note_in_ten_off_the_beat_phrases(off: Sequence[float | None], freely: bool) -> None:
    assert phrases_freely(notes(*off)) is freely


def test_each_sweep_has_its_timing() -> None:
    sweeps = tuple(Sweep(low, low + 8.0, ((low, 1.0 + low), (low + 8.0, 5.0 + low))) for low in (0.0, 4.0))
    found = take_timing(STEPS, Alignment((tuple(notes(*[0.0] * 8)), ()), sweeps, ()))
    assert [(len(one.onsets), one.written) for one in found] == [(8, True), (0, False)]


def test_keys_that_were_not_written_say_nothing_of_phrasing() -> None:
    assert not phrases_freely(notes(80.0, 80.0, expected=None))


def sweep(low: float, high: float) -> Sweep:
    return Sweep(low, high, ((low, 1.0), (high, 2.0)))


@pytest.mark.parametrize(
    ("low", "high", "bars"),
    [
        (0.0, 12.0, [0, 4, 8, 12]),
        (-1.0, 8.0, [-1, 0, 4, 8]),
        (2.0, 5.0, [2, 4, 5]),
        (4.0, 8.0, [4, 8]),
        (5.0, 6.0, [5, 6]),
        (60.0, 70.0, [60, 64, 68, 70]),  # over the end of the form
        (128.0, 133.0, [128, 132, 133]),
    ],
)
def test_the_bars_of_a_sweep_are_cut_off_where_it_begins_and_ends(
    stand: Any, low: float, high: float, bars: list[float]
) -> None:
    assert sweep_bars(stand.tune().unfold(), sweep(low, high)) == bars


def onset(beat: float, place: float, shows: bool = True) -> TakeOnset:
    return TakeOnset(beat, beat / 2, place, True, (), shows)


def test_each_bar_of_each_chorus_swings_as_the_median_of_its_off_beats(stand: Any) -> None:
    """A ratio of two to one lies at two thirds of the beat, three to two at three fifths, even quavers at a half."""
    form = stand.tune().unfold()
    played = [
        *(onset(n + 0.5, place) for n, place in enumerate((0.5, 2 / 3, 0.75))),
        onset(3.5, 0.9, shows=False),
        onset(4.5, 0.6),
        onset(63.5, 0.5),
        onset(64.5, 0.6),
        onset(-0.5, 2 / 3),
    ]
    timing = [SweepTiming(tuple(played), sweep(-1.0, 70.0).map(), True)]
    assert swing_by_bar(form, timing) == pytest.approx(
        {(1, 1): 2.0, (1, 2): 1.5, (1, 16): 1.0, (2, 1): 1.5, (1, 0): 2.0}
    )
    assert swing_by_bar(form, [SweepTiming(tuple(played), sweep(-1.0, 70.0).map(), False)]) == {}


# Bars rushed and dragged, from onsets of which everything is known

WOBBLE = (0, 6, -4, 2, -6, 4, -2, 1)
"""Milliseconds by which a good hand is off."""
RULES = preferences(ReviewPreferences)


def dragged(by: float, low: float = 16.0) -> Callable[[float], float]:
    """Four beats that are so many seconds longer each."""
    return lambda beat: by * min(max(beat - low, 0.0), 4.0)


def beside(by: float) -> Callable[[float], float]:
    return lambda beat: by * (16 <= beat < 20)


def tempo_told(
    late: Callable[[float], float], *, bars: int = 10, on: float = 0.0, quarter: float = 0.5, off: float = 0.0,
    free: tuple[tuple[float, float], ...] = (),
) -> list[tuple[float, int, int, str, float, str]]:  # fmt: skip
    """What is said of ten bars of crotchets from a beat on, in which each note is off by so many milliseconds."""
    onsets = tuple(
        TakeOnset(on + n, 2 + n * quarter + late(float(n)) + WOBBLE[n % 8] / 1000, 0.0, False, ())
        for n in range(4 * bars)
    )
    beats = tuple((on + n, 2 + n * quarter) for n in range(4 * bars + 1))
    one = Sweep(on, on + 4 * bars, beats, (), free)
    alignment = Alignment((tuple(notes(*[off] * 4 * bars)),), (one,), ())
    found = tempo_findings(STEPS, alignment, [SweepTiming(onsets, one.map(), True)], RULES)
    return [(moment, told.bar, told.chorus, told.what, told.figure, told.text) for moment, told in found]


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (tempo_told(dragged(0.06)), [(10.0, 5, 1, "dragged", 58.6, "bar 5: dragged by 59 ms a beat")]),
        (tempo_told(dragged(-0.06)), [(10.0, 5, 1, "rushed", -61.4, "bar 5: rushed by 61 ms a beat")]),
        (tempo_told(dragged(0.06, 36), bars=12), [(20.0, 2, 2, "dragged", 61.4, "bar 2: dragged by 61 ms a beat")]),
        (tempo_told(dragged(0.06), on=32), [(10.0, 5, 2, "dragged", 58.6, "bar 5: dragged by 59 ms a beat")]),
        (tempo_told(dragged(0.026)), []),  # 24.6 ms: nobody cares
        (tempo_told(dragged(0.027)), [(10.0, 5, 1, "dragged", 25.6, "bar 5: dragged by 26 ms a beat")]),
        (tempo_told(dragged(0.126)), [(10.0, 5, 1, "dragged", 124.6, "bar 5: dragged by 125 ms a beat")]),
        (tempo_told(dragged(0.127)), []),  # by more than a quarter of a beat nobody drags
        (tempo_told(beside(0.032)), [(10.0, 5, 1, "dragged", 34.0, "bar 5: 34 ms behind your own beat")]),
        (tempo_told(beside(-0.08)), [(10.0, 5, 1, "rushed", -78.0, "bar 5: 78 ms ahead of your own beat")]),
        (tempo_told(beside(0.027)), []),
        (tempo_told(dragged(0.06), off=80.0), []),  # who phrases freely has no beat to be off
    ],
)  # fmt: skip
def test_a_bar_is_said_to_be_rushed_or_dragged_from_where_a_listener_minds(
    found: list[tuple[float, int, int, str, float, str]], told: list[tuple[float, int, int, str, float, str]]
) -> None:
    assert found == told


@pytest.mark.parametrize(("by", "many"), [(0.041, 0), (0.043, 1)])
def test_where_beats_are_slow_a_twenty_fifth_of_one_is_minded(by: float, many: int) -> None:
    """A beat of a second: 40 ms, of which the hand takes 1.4 off here."""
    assert len(tempo_told(dragged(by), quarter=1.0)) == many


@pytest.mark.parametrize(
    ("free", "low", "many"),
    [
        ((27.0, 30.0), 16, 0), ((28.0, 30.0), 16, 1), ((4.0, 8.0), 16, 1), ((4.0, 9.0), 16, 0),
        ((20.0, 20.5), 8, 1), ((20.0, 20.5), 16, 0), ((0.0, 0.5), 4, 0), ((0.0, 0.5), 12, 1), ((0.0, 0.5), 28, 1),
        ((0.0, 0.5), 32, 0),
    ],
)  # fmt: skip
def test_two_bars_around_what_is_improvised_and_at_the_ends_nobody_knows_the_beat(
    free: tuple[float, float], low: float, many: int
) -> None:
    assert len(tempo_told(dragged(0.06, low), free=(free,))) == many


# Bars that swing otherwise


def swing_told(
    otherwise: dict[int, float], *, written: bool = True, split: float | None = None
) -> list[tuple[float, int, int, float, str, int | None]]:
    """What is said of sixteen bars, twice through, swung at 0.62 of a beat but for some; three quavers in each bar."""
    onsets = []
    for bar in range(16):
        for k in range(3):
            place = otherwise.get(bar, 0.62) + 0.004 * ((3 * bar + 5 * k) % 5 - 2)
            beat = 4.0 * bar + k
            onsets.append(TakeOnset(beat + 0.5, 2 + (beat + place) / 2, place, True, (), True))
        onsets.append(TakeOnset(4 * bar + 3.5, 4.0 * bar + 2.0, 0.9, True, (), False))  # that one doesn't show
    ends = [0.0, 64.0] if split is None else [0.0, split, 64.0]
    sweeps = [
        Sweep(low, high, tuple((low + n, 2 + (low + n) / 2) for n in range(int(high - low) + 1)))
        for low, high in pairwise(ends)
    ]
    timing = [
        SweepTiming(tuple(one for one in onsets if part.low <= one.beat < part.high), part.map(), written)
        for part in sweeps
    ]
    found = swing_findings(STEPS, Alignment(((),) * len(sweeps), tuple(sweeps), ()), timing, RULES)
    return [(moment, told.bar, told.chorus, told.figure, told.text, told.last) for moment, told in found]


EVEN = "even quavers, elsewhere 1.6 to 1"


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (swing_told({4: 0.5, 5: 0.5}), [(10.25, 5, 1, 0.98, f"bars 5 to 6: {EVEN}", 6)]),
        (swing_told({4: 0.5, 5: 0.5}, split=18.0), [(10.25, 5, 1, 0.98, f"bars 5 to 6: {EVEN}", 6)]),
        (swing_told({12: 0.5, 13: 0.5}), [(26.25, 5, 2, 1.01, f"bars 5 to 6: {EVEN}", 6)]),
        (swing_told({7: 0.5, 8: 0.5}), [(16.25, 8, 1, 1.01, f"bar 8: {EVEN}", None)]),  # over the double bar
        (swing_told({4: 0.72, 5: 0.72}),
         [(10.25, 5, 1, 2.52, "bars 5 to 6: quavers swung 2.5 to 1, elsewhere 1.6 to 1", 6)]),
        (swing_told({4: 0.56, 5: 0.56, 6: 0.56}),
         [(10.25, 5, 1, 1.27, "bars 5 to 7: quavers swung 1.3 to 1, elsewhere 1.6 to 1", 7)]),
        (swing_told({}), []),
        (swing_told({4: 0.5, 5: 0.5}, written=False), []),
    ],
)  # fmt: skip
def test_bars_that_swing_otherwise_are_told_with_both_ratios(
    found: list[tuple[float, int, int, float, str, int | None]],
    told: list[tuple[float, int, int, float, str, int | None]],
) -> None:
    assert found == told


@pytest.mark.parametrize(
    ("beat", "by", "held"),
    [
        (4.0, 0.35, True),
        (4.1, 0.35, True),
        (4.11, 0.35, False),
        (3.01, 0.35, True),
        (3.0, 0.35, False),
        (4.0, 0.34, False),
    ],
)
def test_a_chord_waits_where_the_player_holds_back_up_to_just_after_the_beat(
    beat: float, by: float, held: bool
) -> None:
    """Chords on every other beat; the one that is late waits where it lies in the beat before the fourth."""
    onsets = [n * 2.0 for n in range(18)]
    rows = tuple(
        JudgedNote("right", on, None, 53 + 4 * k, 2 + on / 2 + 0.2 * (on == 16.0), None, "chords")
        for on in onsets
        for k in range(2)
    )
    moments = tuple((float(n), 2 + n / 2) for n in range(33))
    at = 16.0 + 0.4  # where that chord sounds
    one = Sweep(0.0, 32.0, moments, ((at - beat + 4.0, by),))
    found = chord_findings(STEPS, Alignment((rows,), (one,), ()), [SweepTiming((), one.map(), False)], RULES)
    assert bool(found) is not held
    assert all(told.text == "bar 5: a chord 200 ms late" and moment == 10.2 for moment, told in found)


@pytest.mark.parametrize(("off", "many"), [(0.029, 1), (0.031, 0), (-0.029, 1), (-0.031, 0)])
def test_a_note_within_30_ms_of_its_place_tells_the_beat_for_a_chord_before_it(off: float, many: int) -> None:
    """Chords on every other beat, the last of them 100 ms late, and a written note a beat after it."""
    rows = tuple(
        JudgedNote("right", on, None, pitch, 2 + on / 2 + 0.1 * (on == 16.0), None, "chords")
        for on in [n * 2.0 for n in range(9)]
        for pitch in (53, 57)
    )
    one = Sweep(0.0, 32.0, tuple((float(n), 2 + n / 2) for n in range(33)))
    note = TakeOnset(17.0, 2 + 17 / 2 + off, 0.0, False, ())
    for written in (True, False):
        timing = SweepTiming((note,), one.map(), written)
        found = chord_findings(STEPS, Alignment((rows,), (one,), ()), [timing], RULES)
        assert len(found) == (many if written else 0), "of what nobody has written the place isn't known"
