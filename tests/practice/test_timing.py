"""Timing: whether a player phrases freely, where the bars of a sweep lie, and how each of them swings.

A note is out of time to the ear from some tens of milliseconds on (common practice); who leaves one in ten notes 80 ms
off the beat does so on purpose.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from companion.practice.judging import JudgedNote
from companion.practice.onsets import SweepTiming, TakeOnset
from companion.practice.sweeps import Sweep
from companion.practice.timing import phrases_freely, sweep_bars, swing_by_bar


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
