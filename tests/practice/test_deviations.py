"""How far notes fell from their beat: the player's own beat, and off-beats where they swing."""

from __future__ import annotations

import statistics

import numpy as np
import pytest

from companion.music.played import BeatMap
from companion.practice.deviations import as_they_swing, deviations, local_line
from companion.practice.expected import Expected


@pytest.mark.parametrize(
    ("shares", "earliest", "latest"),
    [
        ((0.62, 0.64, 0.60, 0.66), 0.63 - 0.035, 0.63 + 0.035),
        ((0.8, 0.9, 0.8, 0.8), 2.5 / 3.5 - 0.035, 2.5 / 3.5 + 0.035),  # no later than anybody swings
        ((0.3, 0.4, 0.4, 0.4), 0.5 - 0.035, 0.5 + 0.035),  # nor earlier than even
        ((0.6, 0.6, 0.6), 0.5, 2.5 / 3.5),  # three show nothing
    ],
)
def test_off_beats_are_due_where_most_of_this_players_fall(
    shares: tuple[float, ...], earliest: float, latest: float
) -> None:
    quavers = [Expected(n + 0.5, n + 0.5, n + 2.5 / 3.5, 60, "melody") for n in range(len(shares))]
    on_beat = Expected(9.0, 9.0, 9.0, 60, "melody")
    at = np.array([*(n + share for n, share in enumerate(shares)), 9.1])
    found = as_they_swing([*quavers, on_beat], at)
    assert found[-1] == on_beat
    for n, one in enumerate(found[:-1]):
        assert (one.earliest - n, one.latest - n) == pytest.approx((earliest, latest))


def lowess(beats: list[float], delays: list[float]) -> list[float]:
    """What the notes around each one promise, by locally weighted regression as it is published: tricube weights, three
    rounds of bisquare weights of six times the median absolute residual (W. S. Cleveland, JASA 74, 1979; from memory).

    Over six quarters to each side, or to the fourth note; a note's own delay is left out, and no residual is less than
    four milliseconds. Where the notes are too near to one another there is no slope, and none is left out altogether.
    """
    many = range(len(beats))
    robust, fitted = [1.0] * len(beats), [0.0] * len(beats)
    for _ in range(3):
        for i in many:
            apart = [abs(beats[i] - beats[j]) for j in many]
            reach = max(6.0, sorted(apart)[min(4, len(beats) - 1)])
            weights = [robust[j] * max(1 - (apart[j] / reach) ** 3, 0.0) ** 3 * (j != i) for j in many]
            whole = sum(weights)
            x = sum(w * b for w, b in zip(weights, beats, strict=True)) / whole
            y = sum(w * d for w, d in zip(weights, delays, strict=True)) / whole
            spread = sum(w * (b - x) ** 2 for w, b in zip(weights, beats, strict=True)) / whole
            across = sum(w * (b - x) * (d - y) for w, b, d in zip(weights, beats, delays, strict=True)) / whole
            fitted[i] = y + (across / spread * (beats[i] - x) if spread > 0.25 else 0.0)
        off = [abs(delay - fit) for delay, fit in zip(delays, fitted, strict=True)]
        scale = 6 * max(statistics.median(off), 0.004)
        robust = [max(1 - (one / scale) ** 2, 0.05) ** 2 for one in off]
    return fitted


@pytest.mark.parametrize(
    ("beats", "delays"),
    [
        ([0.0, 1.0, 2.5, 3.0, 4.0, 6.0, 7.0, 9.5, 10.0, 12.0], [4, -9, 13, 2, -17, 8, 120, 21, -6, 11]),
        ([0.0, 8.0, 16.0, 20.0, 24.0, 30.0], [0, 20, 30, -10, 5, 50]),  # far apart: as far as the fourth
        ([0.0, 0.25, 0.5, 0.75, 9.0, 9.25, 9.5, 9.75], [0, 5, -5, 60, 40, 45, 50, 20]),
        ([0.0, 4.0, 5.0, 5.9, 6.1, 12.0], [2, 1, -2, 3, -1, 2]),  # of a very even hand
        ([0.0, 1.0, 2.0], [0, 30, 10]),
    ],
)
def test_the_players_own_beat_is_fitted_as_cleveland_has_it(beats: list[float], delays: list[float]) -> None:
    late = [delay / 1000 for delay in delays]
    assert list(local_line(np.array(beats), np.array(late))) == pytest.approx(lowess(beats, late), abs=2e-7)


def test_of_two_notes_the_beat_lies_between_them() -> None:
    assert list(local_line(np.array([0.0, 1.0]), np.array([0.01, 0.03]))) == pytest.approx([0.02, 0.02])
    assert list(local_line(np.array([]), np.array([]))) == []


@pytest.mark.parametrize(("own_beat", "off"), [(False, [20.0, 20.0, 20.0, 20.0]), (True, [0.0, 0.0, 0.0, 0.0])])
def test_who_lies_20_ms_behind_is_late_against_the_click_alone(own_beat: bool, off: list[float]) -> None:
    notes = [Expected(float(n), float(n), float(n), 60, "melody") for n in range(4)]
    beats = BeatMap(((0.0, 1.0), (8.0, 5.0)))
    assert deviations(notes, [1.02, 1.52, 2.02, 2.52], beats, own_beat=own_beat) == pytest.approx(off, abs=0.1)
    assert deviations([], [], beats, own_beat=own_beat) == []
