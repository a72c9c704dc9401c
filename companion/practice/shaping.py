"""How the player shapes a tune, learnt from earlier takes: where they stretch and push, and how they swing.

Each time through that was played as written tells how long each segment lasted, from one melody note to the next.
Times through are made comparable by their own tempo; of each segment the mean is taken, and how much it varies. What
varies much, or was seen seldom, is shrunk towards even time (empirical Bayes: C. N. Morris, "Parametric empirical Bayes
inference", JASA 78, 1983), so that a player without a shape gets none.

Conventions: as in :mod:`companion.follow.shape`; seconds on each take's clock.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from companion.arrays import Floats
from companion.chart.model import Form
from companion.follow.roles import swings, swung
from companion.follow.shape import MOST, TempoShape

if TYPE_CHECKING:
    from companion.practice.placing import TakePlace

TOUCH = 0.015
"""Seconds, standard deviation of a note about the beat it belongs to: so much of a segment's length is no shape."""
EVENLY, AS_IF = 0.06, 2.0
"""Standard deviation of a stretch from one time to the next that is supposed before any is known, and how many times
that counts for."""
FAINT = 0.02
"""Standard deviation of a stretch below which nothing can be told from chance."""
CLEAR = 2.0
"""Standard errors beyond which a spot that stands alone is no chance: it is shrunk less than most spots would have it
(limited translation: B. Efron and C. Morris, JASA 67, 1972)."""
STOPPED = 0.7
"""Stretch beyond the usual one from which a player is taken to have stopped to think."""
LEAST_SHOWN, LEAST_SWUNG = 8, 6
"""Notes that a time through must have to count; off-beat quavers from which the swing is known."""
SEEN = 0.5
"""Share of the times through in which a place must have been struck to divide segments."""
NEAREST = 0.05
"""Quarters between two places at least."""
LATEST = 0.25
"""Beats by which an off-beat quaver is late at most."""
CARRIED, BEFORE, LEFT = 1.0, 2.0, 0.3
"""In a segment with beats on which nothing is struck, the tempo of the last beats before it (how many) goes on by this
share; what it lasts longer falls after the last of these beats, which is stretched by so much at most."""

Run = Mapping[float, float]
"""One time through, or a part of one: when each chart beat, as it is written, was struck; both ascending. The first
beats of the next time through follow with the form's length added."""


def runs_of(form: Form, stretches: Sequence[Sequence[TakePlace]]) -> list[Run]:
    """The times through of a take, from the stretches of it that were played as written."""
    length = float(form.length)
    found: list[Run] = []
    for stretch in stretches:
        choruses: dict[int, list[tuple[float, float]]] = defaultdict(list)
        for place in stretch:
            if not place.free and place.written >= 0:
                chorus = math.floor((place.written + 1e-6) / length)
                choruses[chorus].append((round(place.written - chorus * length, 4), place.seconds))
        for chorus, onsets in choruses.items():
            following = [(beat + length, at) for beat, at in choruses[chorus + 1][:1]] if chorus + 1 in choruses else []
            run = dict(_rising([*onsets, *following]))
            if len(run) >= LEAST_SHOWN:
                found.append(run)
    return found


def _rising(onsets: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    last, reached = -math.inf, -math.inf
    for beat, at in onsets:
        if at > last + TOUCH and beat > reached:
            yield beat, at
            last, reached = at, beat


def shape_of(form: Form, takes: Sequence[Sequence[Run]]) -> TempoShape | None:
    """The shape that earlier takes show; None where they show too little.

    Parameters
    ----------
    form : Form
    takes : sequence of sequences of Run
        The times through of each take.
    """
    runs = [run for take in takes for run in take]
    places = _places(runs, float(form.length))
    if len(places) < LEAST_SHOWN:
        return None
    swing = _swing(runs) if swings(form) else None
    sounding = {beat: beat + (swing or 0.0) * swung(form, _exact(beat)) for beat in places}
    length = float(form.length)
    firsts, lasts = list(sounding.values()), [*list(sounding.values())[1:], sounding[places[0]] + length]
    widths = np.array(lasts) - np.array(firsts)
    seconds = np.array([_seconds(run, places, length) for run in runs])
    stretch, spread = _pooled(np.log(seconds / widths), widths)
    segments = _with_beats(firsts, lasts, stretch, spread, float(form.metre.pulse))
    return _as_shape(length, segments, sum(bool(take) for take in takes), swing)


def _places(runs: Sequence[Run], length: float) -> list[float]:
    """The chart beats that most of the times through have."""
    seen: Counter[float] = Counter(beat for run in runs for beat in run if beat < length)
    places: list[float] = []
    for beat in sorted(seen):
        if seen[beat] >= SEEN * len(runs) and (not places or beat > places[-1] + NEAREST):
            places.append(beat)
    return places


def _seconds(run: Run, places: Sequence[float], length: float) -> Floats:
    """How long each segment lasted in one time through; NaN where that isn't known."""
    moments = [run.get(place, math.nan) for place in (*places, round(places[0] + length, 4))]
    return np.diff(np.array(moments))


def _pooled(logs: Floats, widths: Floats) -> tuple[Floats, Floats]:
    """Stretch and spread of each segment, from log durations of shape (times through, segments)."""
    mean = np.zeros(len(widths))
    for _ in range(4):
        own = np.array([_weighted_median(row - mean, widths) for row in logs])[:, None]
        rest = logs - own
        rest[np.abs(rest - mean) > STOPPED] = np.nan
        count = (~np.isnan(rest)).sum(axis=0)
        mean = np.where(count > 0, np.nansum(rest, axis=0) / np.maximum(count, 1), 0.0)
    usual_quarter = math.exp(float(np.median(own)))
    touch = 2 * (TOUCH / (widths * usual_quarter)) ** 2
    usual = EVENLY**2 + touch
    squares = np.nansum((rest - mean) ** 2, axis=0)
    variance = (squares + AS_IF * usual) / (np.maximum(count - 1, 0) + AS_IF)
    doubt = variance / np.maximum(count, 1)
    known = count > 0
    shown = max(float(np.average(mean[known] ** 2 - doubt[known], weights=widths[known])), 0.0) if known.any() else 0.0
    beyond = np.maximum(shown, mean**2 - CLEAR**2 * doubt)
    share = np.where(known, beyond / (beyond + doubt), 0.0)
    spread = np.sqrt(np.maximum(variance + share * doubt - touch, FAINT**2))
    return np.clip(share * mean, -MOST, MOST), np.clip(spread, 0.0, MOST)


def _weighted_median(values: Floats, weights: Floats) -> float:
    known = ~np.isnan(values)
    if not known.any():
        return 0.0
    order = np.argsort(values[known])
    sums = np.cumsum(weights[known][order])
    return float(values[known][order][np.searchsorted(sums, sums[-1] / 2)])


Segment = tuple[float, float, float, float]
"""Where it begins and ends, its stretch and its spread."""


def _with_beats(
    firsts: Sequence[float], lasts: Sequence[float], stretch: Floats, spread: Floats, pulse: float
) -> list[Segment]:
    """The segments, those parted in which there are beats on which nothing is struck."""
    found: list[Segment] = []
    for first, last, much, wide in zip(firsts, lasts, stretch.tolist(), spread.tolist(), strict=True):
        inside = math.ceil(last / pulse - 1e-6) * pulse - pulse
        width = last - first
        before = [s for s in found if s[1] > first - BEFORE * pulse]
        if inside <= first + 1e-6 or not before:
            found.append((first, last, much, wide))
            continue
        usual = sum(s[2] * (s[1] - s[0]) for s in before) / sum(s[1] - s[0] for s in before)
        long, after = width * math.exp(much), last - inside
        rest = long - (inside - first) * math.exp(much + CARRIED * (usual - much))
        rest = min(max(rest, after * math.exp(much - LEFT)), after * math.exp(much + LEFT))
        here = min(max(math.log((long - rest) / (inside - first)), -MOST), MOST)
        found += [(first, inside, here, wide), (inside, last, min(max(math.log(rest / after), -MOST), MOST), wide)]
    return found


def _as_shape(length: float, segments: Sequence[Segment], takes: int, swing: float | None) -> TempoShape:
    """The shape of segments that go round the form: the last goes on at its beginning."""
    whole = []
    for first, last, much, wide in segments:
        if first < length - 1e-6:
            whole.append((first, much, wide))
        if last > length + 1e-6:
            whole.append((max(0.0, first - length), much, wide))
    whole.sort()
    whole[0] = (0.0, *whole[0][1:])
    beats, stretch, spread = zip(*whole, strict=True)
    digits = [tuple(round(x, 4) for x in row) for row in (beats, stretch, spread)]
    return TempoShape(length, digits[0], digits[1], digits[2], takes, swing)


def _swing(runs: Sequence[Run]) -> float | None:
    """By how many beats off-beat quavers between two notes on the beat were late; None where there are too few."""
    late = [
        (at - run[beat - 0.5]) / (run[beat + 0.5] - run[beat - 0.5]) - 0.5
        for run in runs
        for beat, at in run.items()
        if beat % 1 == 0.5 and beat - 0.5 in run and beat + 0.5 in run
    ]
    if len(late) < LEAST_SWUNG:
        return None
    return round(min(max(float(np.median(late)), 0.0), LATEST), 4)


def _exact(beat: float) -> Fraction:
    return Fraction(beat).limit_denominator(48)
