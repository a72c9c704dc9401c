"""Which key that was struck is which note of the chart, over a whole take: through jumps, stops, restarts and repeats.

Onsets of the take are laid on onsets of the chart along the likeliest path (Viterbi's algorithm; for scores and
performances with jumps: Nakamura, Nakamura and Sagayama, Real-Time Audio-to-Score Alignment of Music Performances
Containing Errors and Arbitrary Repeats and Skips, 2016). A step of the path goes on by one or more onsets of the
chart, leaving out those between, or leaps anywhere; onsets of the take that are laid nowhere cost something each,
less where many follow each other (then the player plays something else). Each path carries its own tempo, estimated
from the intervals that it has laid (a scalar Kalman filter on the logarithm of the tempo), and an interval that the
tempo doesn't promise costs by how unlikely it is, up to a bound: a hesitation costs the same however long it is.

Conventions: beats in quarters; seconds; costs are negative log probabilities, up to a constant. A note's beat within
the form runs from 0 to the form's length (a pickup lies at its end); a step over the end of the form is one more time
through.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.arrays import Floats

Integers = NDArray[np.int64]

BACK, SKIPPED = 8, 24
"""Onsets of the take that may be added, and of the chart that may be left out, within one step."""
START, RANGE = 4.0, (0.12, 4.0)
"""Variance of the logarithm of the tempo before anything is known; seconds a quarter that are possible."""


@dataclass(frozen=True)
class MatchingCosts:
    """What unlikely things cost."""

    missing: tuple[float, float] = (3.0, 0.9)
    """The first onset left out in a row, and each further one."""
    laid: float = -2.5
    """An onset of the take that is laid on one of the chart: less than it costs to hit a note by chance."""
    extra: float = 1.5
    """An onset of the take that is laid nowhere."""
    grace: float = 0.8
    """The same, where the next key follows at once."""
    company: float = 0.3
    """The same, where it is the other hand's or a free part's."""
    away: tuple[float, float] = (4.0, 0.8)
    """Playing something else: to begin with it, and each onset."""
    octave: float = 0.9
    neighbour: float = 2.6
    """A semitone or a tone beside."""
    wrong: float = 4.0
    also: float = 0.3
    """A key more, struck at the same time."""
    leap: tuple[float, float, float] = (11.0, 9.0, 8.5)
    """To go on elsewhere: anywhere, where a phrase or a bar begins, at the top."""
    far: float = 1.5
    """What it costs more to leap as far as one can, half the form away: of places alike the nearest is meant."""
    start: tuple[float, float, float] = (6.0, 3.0, 0.0)
    """To begin anywhere, where a phrase or a bar begins, at the top; soon after it at most what was left out costs."""
    interval: float = 6.0
    """What an interval out of time costs at most."""
    touch: float = 0.07
    """Quarters, standard deviation of an onset from its place."""
    drift: float = 0.07
    """Standard deviation of the logarithm of the tempo, gathered in a quarter."""
    lost: float = 0.35
    """Standard deviation of the logarithm of the tempo after an interval out of time."""


USUAL = MatchingCosts()
GRACE_SECONDS = 0.13
TAILS = 3.0
"""Degrees of freedom of Student's t, as which intervals vary: now and then one is far off, and the tempo is none the
less what it was."""


@dataclass(frozen=True)
class ChartOnsets:
    """The onsets of a form, in order.

    Attributes
    ----------
    beat : array, shape (I,)
        Where each sounds, in quarters, from 0 up to ``length``.
    loose : array, shape (I,)
        Quarters, standard deviation, by which it may sound elsewhere (swing).
    pitches : tuple of frozenset of int
        Their notes.
    opens : array of bool, shape (I,)
        Where a phrase or a bar begins.
    top : array of bool, shape (I,)
        The first of the form, its pickup's first, or both.
    """

    beat: Floats
    loose: Floats
    pitches: tuple[frozenset[int], ...]
    opens: NDArray[np.bool_]
    top: NDArray[np.bool_]
    length: float


@dataclass(frozen=True)
class StruckOnset:
    """Keys that went down together."""

    seconds: float
    pitches: frozenset[int]
    company: bool = False
    """Whether it may be the other hand's, or a free part's."""


@dataclass(frozen=True)
class Laid:
    """An onset of the take on one of the chart."""

    onset: int
    place: int
    leapt: bool
    """Whether the path leapt to it, or begins here."""
    unlike: float
    """What it costs to take the one for the other, by their pitches; 0 where they are the same."""


def match(chart: ChartOnsets, onsets: Sequence[StruckOnset], costs: MatchingCosts = USUAL) -> list[Laid]:
    """The likeliest path: which onsets of the take are which of the chart, in order of time."""
    if not len(chart.beat) or not onsets:
        return []
    return _Paths(chart, onsets, costs).best()


_LOWEST, _HIGHEST = np.log(RANGE[0]), np.log(RANGE[1])


class _Paths:
    """The likeliest path to each pair of onsets, from the first onset of the take to the last."""

    def __init__(self, chart: ChartOnsets, onsets: Sequence[StruckOnset], costs: MatchingCosts) -> None:
        self._costs = costs
        self._seconds = np.array([onset.seconds for onset in onsets])
        self._unlike = _unlike(chart, onsets, costs)
        self._extra = _extra(onsets, costs)
        many = len(chart.beat)
        steps = np.arange(1, min(SKIPPED, max(many - 1, 1)) + 1)
        self._before: Integers = (np.arange(many)[:, None] - steps[None, :]) % many
        between = (chart.beat[:, None] - chart.beat[self._before]) % chart.length
        self._beats = np.where(between <= 0, chart.length, between)
        self._left = np.where(steps > 1, costs.missing[0] + (steps - 2) * costs.missing[1], 0.0)[None, :]
        loose = np.hypot(chart.loose[:, None], chart.loose[self._before])
        self._noise = (np.hypot(costs.touch, loose) / self._beats) ** 2 + 0.04**2
        self._leap = np.where(chart.top, costs.leap[2], np.where(chart.opens, costs.leap[1], costs.leap[0]))
        apart = np.abs(chart.beat[:, None] - chart.beat[None, :])
        self._far = costs.far * 2 * np.minimum(apart, chart.length - apart) / chart.length
        self._start = np.where(chart.top, costs.start[2], np.where(chart.opens, costs.start[1], costs.start[0]))
        passed = steps - 1  # who comes in late has left out what was passed since the top
        late = np.where(chart.top[self._before], costs.start[2] + costs.missing[0] + passed * costs.missing[1], np.inf)
        self._start = np.minimum(self._start, late.min(axis=1, initial=np.inf))

    def best(self) -> list[Laid]:
        """The path that costs least."""
        costs, count, many = self._costs, len(self._seconds), len(self._start)
        total = np.full((count, many), np.inf)
        tempo = np.zeros((count, many))
        doubt = np.full((count, many), START)
        came = np.full((count, many), -1, np.int64)
        leapt = np.ones((count, many), np.bool_)
        gathered = np.concatenate([[0.0], np.cumsum(self._extra)])
        free, away = (0.0, -1), (costs.away[0], -1)
        for n in range(count):
            source, origin = min(free, away)
            total[n] = source + (self._start if origin < 0 else self._leap + self._far[origin % many])
            came[n] = origin
            if origin >= 0:
                m, i = divmod(origin, many)
                tempo[n], doubt[n] = tempo[m, i], min(START, doubt[m, i] + 0.15**2)
            self._go_on(n, total, tempo, doubt, came, leapt, gathered)
            total[n] += self._unlike[n] + costs.laid
            here = int(np.argmin(total[n]))
            away = min((free[0] + costs.away[0], free[1]), (away[0], away[1]))
            away = (away[0] + costs.away[1], away[1])
            free = min((free[0] + self._extra[n], free[1]), (float(total[n, here]), n * many + here))
        return self._traced(min(free, away)[1], came, leapt)

    def _traced(self, end: int, came: Integers, leapt: NDArray[np.bool_]) -> list[Laid]:
        path = []
        while end >= 0:
            n, i = divmod(end, len(self._start))
            path.append(Laid(n, i, bool(leapt[n, i]), float(self._unlike[n, i])))
            end = int(came[n, i])
        return path[::-1]

    def _go_on(
        self,
        n: int,
        total: Floats,
        tempo: Floats,
        doubt: Floats,
        came: Integers,
        leapt: NDArray[np.bool_],
        gathered: Floats,
    ) -> None:
        """Steps from earlier pairs to all pairs of one onset, where they cost less than to leap there."""
        if not n:
            return
        first = max(0, n - BACK)
        window = slice(first, n)
        passed = (self._seconds[n] - self._seconds[window])[:, None, None]
        rate, variance = tempo[window][:, self._before], doubt[window][:, self._before]
        took = np.log(passed / self._beats)
        known = variance < START
        rate = np.where(known, rate, took)
        variance = np.where(known, variance + self._costs.drift**2 * self._beats, START)
        spread = variance + self._noise
        off = took - rate
        apart = off**2 / spread
        unlikely = 0.5 * (TAILS + 1) * np.log1p(apart / TAILS) + 0.5 * np.log(spread / 0.08**2).clip(0)
        unlikely = np.where(known, unlikely, np.where((took > _LOWEST) & (took < _HIGHEST), 1.0, np.inf))
        out = unlikely > self._costs.interval
        unlikely = np.where(np.isinf(unlikely), np.inf, np.minimum(unlikely, self._costs.interval))
        added = (gathered[n] - gathered[first + 1 : n + 1])[:, None, None]
        cost = total[window][:, self._before] + unlikely + self._left + added
        many, steps = self._before.shape
        flat = cost.transpose(1, 0, 2).reshape(many, -1)
        choice = np.argmin(flat, axis=1)
        rows = np.arange(many)
        m, s = np.divmod(choice, steps)
        better = flat[rows, choice] < total[n]
        gain = np.where(known, variance / spread * (TAILS + 1) / (TAILS + apart.clip(1)), 1.0)
        after_rate = np.where(out, rate, rate + gain * off)[m, rows, s]
        after = np.where(out, np.maximum(variance, self._costs.lost**2), variance * (1 - gain))[m, rows, s]
        after = np.where(known[m, rows, s], after, self._noise[rows, s] + 0.02)
        total[n] = np.where(better, flat[rows, choice], total[n])
        tempo[n] = np.where(better, after_rate, tempo[n])
        doubt[n] = np.where(better, after, doubt[n])
        came[n] = np.where(better, (m + first) * many + self._before[rows, s], came[n])
        leapt[n] = ~better


def _extra(onsets: Sequence[StruckOnset], costs: MatchingCosts) -> Floats:
    """What it costs to lay each onset nowhere."""
    found = np.empty(len(onsets))
    for n, onset in enumerate(onsets):
        follows = n + 1 < len(onsets) and onsets[n + 1].seconds - onset.seconds < GRACE_SECONDS
        found[n] = costs.company if onset.company else costs.grace if follows else costs.extra
    return found


def _unlike(chart: ChartOnsets, onsets: Sequence[StruckOnset], costs: MatchingCosts) -> Floats:
    """What it costs to take each onset of the take for each of the chart, by their pitches: shape (N, I)."""
    played = np.zeros((len(onsets), 128))
    for n, onset in enumerate(onsets):
        played[n, list(onset.pitches)] = 1
    written = np.zeros((len(chart.pitches), 128))
    for i, pitches in enumerate(chart.pitches):
        written[i, list(pitches)] = 1
    wanted, there = written.sum(axis=1)[None, :], played.sum(axis=1)[:, None]
    same = played @ written.T
    octaves = np.minimum(_classes(played) @ _classes(written).T, wanted)
    beside = _beside(played) @ written.T
    rest = np.clip(np.minimum(wanted, there) - np.maximum(same, octaves), 0, None)
    cost = costs.octave * np.clip(octaves - same, 0, None) + np.where(beside > 0, costs.neighbour, costs.wrong) * rest
    cost += 1.2 * np.clip(wanted - there, 0, None) + costs.also * np.clip(there - wanted, 0, None)
    return np.asarray(cost / np.sqrt(wanted))


def _classes(rows: Floats) -> Floats:
    """Which pitch classes are there: shape (N, 12)."""
    padded = np.zeros((len(rows), 132))
    padded[:, :128] = rows
    return np.asarray((padded.reshape(len(rows), 11, 12).sum(axis=1) > 0).astype(float))


def _beside(rows: Floats) -> Floats:
    """Which keys lie a semitone or a tone beside one that is there."""
    near = np.zeros_like(rows)
    for step in (1, 2):
        near[:, step:] += rows[:, :-step]
        near[:, :-step] += rows[:, step:]
    return np.asarray((near > 0).astype(float))
