"""Bars that were rushed or dragged, against the player's own beat before and after.

The player's beat is taken to wander (its tempo changes as a random walk, so its moments as an integrated one), and a
note to fall beside it. Against that a bar may be rushed or dragged: beat by beat, the first included or not, with what
follows shifted, caught up again at once or over the next bar; or all its notes ahead or behind. What a bar is said to
be must be told better by that than by a note off its place, by a breath before a note, or by a new tempo; so each of
these is tried at each place, the one that tells most is taken in, and the rest looked at again, until nothing tells
more than a good player's spread would. The method is that of Chen & Liu, Journal of the American Statistical
Association 88, 1993 (from memory), with generalised least squares (a cubic smoothing spline: Wahba, 1978, from memory).

Limits: nothing is said that isn't ``sure`` standard errors off, where touch and freedom of the beat are this player's
own in this take (the likeliest over stretches of it, what went wrong left out of account). In takes of good players in
which nothing goes wrong (8 ms touch, a beat that wanders by 1 to 3 %, or as recorded ones do) fewer than one bar in 500
is that far off. What is said must also matter to a listener: ``rushed-ms`` in ``review.toml``.

Conventions: sounding beats in quarters through the choruses; seconds; figures in seconds a beat of the metre, late is
positive.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

import numpy as np

from companion.arrays import Floats

TOUCHES = (0.006, 0.009, 0.013, 0.019, 0.027, 0.038)
"""Seconds, standard deviation of an onset from the beat: what is tried."""
FREEDOMS = (1e-5, 4e-5, 1.6e-4, 6.4e-4, 2.5e-3, 1e-2)
"""Variance of the tempo's change in a quarter, as a share of its square: what is tried."""
STRETCH, REACH = 12.0, 22.0
"""Quarters of a stretch by which touch and freedom are judged; to each side of a bar that say what its beat was."""
ABSORBED = 3.4
"""Standard errors from which something is taken into account, said or not."""
MOST_STRETCHES = 40
"""Of a take by which touch and freedom are judged."""
MOST_TAKEN = 40
"""Things that are taken into account in a sweep."""
AROUND, AFTER_RUSHED = 2, 1
"""Onsets there must be before a bar and after it: else nobody knows what the beat was. Nobody rushes into an end."""
CROWD, CROWD_NEAR = 3, 6.0
"""Other things out of their place around a bar, and quarters to each side, from which nothing is said of it."""
NEAR = 0.15
"""Quarters before a beat that was held back from which an onset belongs to it."""
LEAST = 6
"""Onsets in a stretch that tell something."""
UNKNOWN = (0.019, 6.4e-4)
"""Touch and freedom of whom nothing is known."""
ROUNDS = 2

CauseShape = Literal["shifted", "from the first", "caught up", "made good", "beside", "breath", "new tempo", "off"]
OF_BARS: tuple[CauseShape, ...] = ("shifted", "from the first", "caught up", "made good", "beside")
LEAST_GAIN: dict[CauseShape, float] = {
    "shifted": 0.0, "from the first": 3.0, "caught up": 2.0, "made good": 3.0, "beside": 1.5,
    "breath": 2.5, "new tempo": 3.0, "off": 3.0,
}  # fmt: skip
"""By how much (in logarithms) a shape must tell more than the plainest."""
EARLY_BREATH = 3.0
"""The same, besides, of a breath below nothing: nobody leaps ahead between two notes and stays there."""


@dataclass(frozen=True)
class BeatOnset:
    """An onset of the player's: where it sounds by the chart and when it came."""

    beat: float
    seconds: float
    loose: float = 0.0
    """Seconds, standard deviation by which its place isn't known."""
    off_beat: bool = False
    """A quaver whose place depends on the swing, which others of its bar share."""


@dataclass(frozen=True)
class BarTempo:
    """A bar that was rushed or dragged."""

    low: float
    high: float
    late: float
    """Seconds a beat of the metre; below 0 where it was rushed."""
    sure: float
    """In standard errors."""
    beside: bool
    """Its notes lay ahead of the beat or behind it, which itself went on."""


@dataclass(frozen=True)
class _Cause:
    """Something that may have made onsets come early or late."""

    shape: CauseShape
    low: float
    high: float
    pulse: float = 1.0
    """Quarters in a beat of the metre."""

    def effect(self, beats: Floats) -> Floats:
        """What a unit of it does to onsets: a second a quarter, or a second."""
        late: Floats
        match self.shape:
            case "shifted":
                late = np.clip(beats - self.low, 0, self.high - self.low)
            case "from the first":
                whole = self.high - self.low
                late = np.where(beats >= self.low - 1e-6, np.clip(beats - self.low + self.pulse, 0, whole), 0.0)
            case "made good":
                late = np.clip(np.minimum(beats - self.low, 2 * self.high - self.low - beats), 0, None)
            case "caught up":
                late = np.where(beats < self.high - 1e-6, np.clip(beats - self.low, 0, None), 0.0)
            case "beside" | "off":
                late = ((beats >= self.low - 1e-6) & (beats < self.high - 1e-6)).astype(float)
            case "breath":
                late = (beats >= self.low - 1e-6).astype(float)
            case "new tempo":
                late = np.clip(beats - self.low, 0, None)
        return late


@dataclass
class _Sweep:
    """The onsets of a sweep, and what is taken into account."""

    beats: Floats
    seconds: Floats
    loose: Floats
    off_beat: Floats
    bar: Floats
    """Number of each onset's bar."""
    taken: list[_Cause]
    pulse: float
    touch: float = field(init=False)
    """Of this player, as soon as it is known; so is their freedom."""
    freedom: float = field(init=False)

    def __post_init__(self) -> None:
        steps = np.diff(self.seconds) / np.maximum(np.diff(self.beats), 1e-3)
        self.quarter = float(np.median(steps)) if len(steps) else 0.5


SWING_SHARED = 0.06
"""Quarters, standard deviation of how far a bar's off-beat quavers lie, all of them, from this player's usual."""


@dataclass(frozen=True)
class SweepOnsets:
    """A stretch of the take without a leap."""

    onsets: tuple[BeatOnset, ...]
    """Beats and seconds rising."""
    bars: tuple[float, ...]
    """Where each bar begins, and where the last one ends."""
    held: tuple[float, ...] = ()
    """Beats before which the player held back."""


def rushed_and_dragged(take: Sequence[SweepOnsets], pulse: float, sure: float) -> list[list[BarTempo]]:
    """The bars in which the tempo wasn't the one around, for each sweep of a take.

    Parameters
    ----------
    take : sequence of SweepOnsets
    pulse : float
        Quarters in a beat of the metre.
    sure : float
        Standard errors from which something is said.
    """
    sweeps = [_sweep(one, pulse) for one in take]
    known = [[_Cause("breath", beat - NEAR, beat) for beat in one.held] for one in take]
    found: list[list[tuple[_Cause, float, float]]] = [[] for _ in take]
    for _ in range(ROUNDS):
        touch, freedom = _manner(sweeps)
        for n, sweep in enumerate(sweeps):
            sweep.touch, sweep.freedom, sweep.taken = touch, freedom, list(known[n])
            found[n] = _taken_in(sweep, take[n].bars)
    return [
        _once(
            BarTempo(cause.low, cause.high, size * (1.0 if cause.shape == "beside" else pulse), abs(error),
                     cause.shape == "beside")
            for cause, size, error in causes
            if cause.shape in OF_BARS and abs(error) >= sure
            if _known_around(sweep, cause, size) and _alone(cause, causes)
        )
        for sweep, causes in zip(sweeps, found, strict=True)
    ]  # fmt: skip


def _once(told: Iterable[BarTempo]) -> list[BarTempo]:
    """Each bar once, as it tells most: what it was besides is the rest of the same."""
    first: dict[float, BarTempo] = {}
    for one in told:
        first.setdefault(one.low, one)
    return list(first.values())


def _sweep(one: SweepOnsets, pulse: float) -> _Sweep:
    return _Sweep(
        np.array([onset.beat for onset in one.onsets]),
        np.array([onset.seconds for onset in one.onsets]),
        np.array([onset.loose for onset in one.onsets]),
        np.array([onset.off_beat for onset in one.onsets], dtype=float),
        np.array([float(bisect_left(one.bars, onset.beat + 1e-6)) for onset in one.onsets]),
        [_Cause("breath", beat - NEAR, beat) for beat in one.held],
        pulse,
    )


def _known_around(sweep: _Sweep, cause: _Cause, size: float) -> bool:
    before = int(np.sum(sweep.beats < cause.low - 1e-6))
    after = int(np.sum(sweep.beats >= cause.high - 1e-6))
    return before >= AROUND and after >= (AROUND if size > 0 else AFTER_RUSHED)


def _alone(cause: _Cause, causes: Sequence[tuple[_Cause, float, float]]) -> bool:
    """Whether little else is out of its place around: where much is, the player phrases, and their beat goes on."""
    near = [one for one, _, _ in causes if one.low < cause.high + CROWD_NEAR and one.high > cause.low - CROWD_NEAR]
    return len(near) - 1 < CROWD


# What is usual


@dataclass(frozen=True)
class _Stretch:
    """Onsets in a row, with what doesn't depend on touch and freedom."""

    moments: Floats
    columns: Floats
    """Of the beat's own: where it begins, its tempo, and what is taken into account; shape (onsets, columns)."""
    wander: Floats
    """Covariance of a beat of which the tempo wanders freely."""
    known: Floats
    """Covariance besides: loose places, and the swing that a bar has in common."""

    def whitened(self, touch: float, freedom: float) -> tuple[Floats, Floats, Floats, float]:
        """Moments, and a basis of the columns, without their covariance; its root; the logarithm of determinants."""
        whole = freedom * self.wander + self.known
        whole.flat[:: len(whole) + 1] += touch**2
        root = np.asarray(np.linalg.cholesky(whole), dtype=np.float64)
        both: Floats = np.linalg.solve(root, np.column_stack([self.columns, self.moments])).astype(np.float64)
        basis, weights = np.linalg.qr(np.asarray(both[:, :-1], dtype=np.float64))
        size = np.abs(np.diag(weights))
        kept = size > 1e-6
        logs = 2 * float(np.log(np.diag(root)).sum() + np.log(size[kept]).sum())
        plain: Floats = basis[:, kept].astype(np.float64)
        return both[:, -1], plain, root, logs


def _stretch(sweep: _Sweep, at: slice) -> _Stretch:
    beats = sweep.beats[at]
    passed = beats - beats[0]
    low, high = np.minimum.outer(passed, passed), np.maximum.outer(passed, passed)
    same = (sweep.bar[at][:, None] == sweep.bar[at][None, :]) & (np.outer(sweep.off_beat[at], sweep.off_beat[at]) > 0)
    effects = [effect for cause in sweep.taken if np.ptp(effect := cause.effect(beats)) > 0]
    return _Stretch(
        sweep.seconds[at] - sweep.seconds[at][0],
        np.stack([np.ones_like(beats), passed, *effects], axis=1),
        sweep.quarter**2 * low**2 * (3 * high - low) / 6,
        np.diag(sweep.loose[at] ** 2) + same * (SWING_SHARED * sweep.quarter) ** 2,
    )


def _manner(sweeps: Sequence[_Sweep]) -> tuple[float, float]:
    """Touch and freedom by which most stretches of a take are likeliest: one that went wrong doesn't decide."""
    places = []
    for sweep in sweeps:
        if len(sweep.beats) < LEAST:
            continue
        for low in np.arange(sweep.beats[0], sweep.beats[-1], STRETCH / 2):
            at = slice(int(np.searchsorted(sweep.beats, low)), int(np.searchsorted(sweep.beats, low + STRETCH)))
            if at.stop - at.start >= LEAST:
                places.append((sweep, at))
    if not places:
        return UNKNOWN
    stretches = [_stretch(sweep, at) for sweep, at in places[:: math.ceil(len(places) / MOST_STRETCHES)]]
    return max(
        ((touch, freedom) for touch in TOUCHES for freedom in FREEDOMS),
        key=lambda manner: float(np.median([_likelihood(one, *manner) for one in stretches])),
    )


def _likelihood(stretch: _Stretch, touch: float, freedom: float) -> float:
    """Logarithm of the restricted likelihood of a stretch, for each onset."""
    moments, basis, _, logs = stretch.whitened(touch, freedom)
    rest = moments - basis @ (basis.T @ moments)
    return float(-0.5 * (logs + rest @ rest) / max(len(moments) - basis.shape[1], 1))


# What wasn't


def _taken_in(sweep: _Sweep, bars: Sequence[float]) -> list[tuple[_Cause, float, float]]:
    """What tells most is taken into account, one after the other: the cause, its size, and its standard errors."""
    spans = list(pairwise(bars))
    best: dict[int, tuple[float, _Cause, float, float] | None] = {}
    found: list[tuple[_Cause, float, float]] = []
    stale = set(range(len(spans)))
    while len(found) < MOST_TAKEN:
        for n in stale:
            best[n] = _likeliest(sweep, *spans[n])
        told = [one for one in best.values() if one is not None]
        if not told:
            break
        _, cause, size, error = max(told, key=lambda one: one[0])
        found.append((cause, size, error))
        sweep.taken.append(cause)
        stale = {n for n, (low, high) in enumerate(spans) if low < cause.high + REACH and high > cause.low - REACH}
    return found


def _likeliest(sweep: _Sweep, low: float, high: float) -> tuple[float, _Cause, float, float] | None:
    """What tells most of a bar: how much, the cause, its size and its standard errors; None: nothing."""
    at = slice(int(np.searchsorted(sweep.beats, low - REACH)), int(np.searchsorted(sweep.beats, high + REACH)))
    if at.stop - at.start < LEAST + 2:
        return None
    beats = sweep.beats[at]
    causes = [_Cause(shape, low, high, sweep.pulse) for shape in OF_BARS]
    for beat in beats[(beats >= low - 1e-6) & (beats < high - 1e-6)]:
        causes += [_Cause("off", beat, beat + 1e-3), _Cause("breath", beat, beat), _Cause("new tempo", beat, beat)]
    causes = [cause for cause in causes if cause not in sweep.taken]
    moments, base, root, _ = _stretch(sweep, at).whitened(sweep.touch, sweep.freedom)
    effects = np.linalg.solve(root, np.stack([cause.effect(beats) for cause in causes], axis=1))
    effects -= base @ (base.T @ effects)
    size2 = (effects**2).sum(axis=0)
    rest = moments - base @ (base.T @ moments)
    known = size2 > 1e-3
    sizes = np.where(known, effects.T @ rest / np.where(known, size2, 1.0), 0.0)
    errors = sizes * np.sqrt(size2)
    gains = errors**2 / 2 - np.array([LEAST_GAIN[cause.shape] for cause in causes])
    early = np.array([cause.shape == "breath" for cause in causes]) & (sizes < 0)
    gains[early] -= EARLY_BREATH
    n = int(np.argmax(gains))
    if abs(errors[n]) < ABSORBED:
        return None
    return float(gains[n]), causes[n], float(sizes[n]), float(errors[n])
