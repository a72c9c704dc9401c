"""Where a player comping alone was in the chart at every chord, with the whole take in view.

Nobody has written down when a chord is due, but a chord fits some of the chart's harmonies and not others, falls on a
beat or a swung off-beat quaver, and the tempo wanders little. The likeliest way through the chart under these is found
by dynamic programming over the places of the chart (Viterbi, 1967), each kept with a beat of its own (moment and
tempo, by a tracker of fixed gains) from several tempi to begin with. Holding back, and going on at another bar, are
steps at a price.

Conventions: beats in quarters as written; seconds on the take's clock; costs in negative logarithms of likelihood.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.arrays import Floats
from companion.chart.model import Form
from companion.follow.roles import swings
from companion.practice.judging import TOGETHER, Struck
from companion.practice.placing import TakePlace
from companion.practice.sweeps import MEDIUM_SWING

_Cells = NDArray[np.int64]
_Flags = NDArray[np.bool_]

SLOWEST, FASTEST, TEMPI = 36.0, 300.0, 26
"""Quarters a minute from and to which, and at how many tempi, the search begins."""
WANDERS = 1.12
"""From what it begins with the tempo goes away at most by this factor: else any take fits some tempo."""
STEPS = 20
"""Quavers from one chord to the next at most."""
TOUCH, WANDER, TAILS = 0.014, 0.018, 4.0
"""Seconds, standard deviation of a chord from its beat; what the tempo adds, as a share of the time since the last
chord; degrees of freedom of Student's t."""
PHASE_GAIN, TEMPO_GAIN = 0.7, 0.25
"""Shares of a chord's deviation by which the beat and its length follow it."""
FOLLOWS, STAYS = 0, 1
"""Halves of the ways."""
FAR, LONG_OFF = 0.05, 1.0
"""Seconds from which a chord may be late or early by itself; off by more than so many, it was held back."""
OUTSIDE, TENSION, AHEAD = 2.5, 1.0, 1.2
"""Costs of a key that is no note of the harmony, and of one that often colours it (9 and 13: common practice); of a
chord that goes before its harmony."""
COLOURS = (2, 9)
"""Semitones above the root."""
OFF_BEAT = 0.5
"""Cost of an off-beat quaver."""
HELD, HELD_LEAST, HELD_MOST = 6.5, 0.5, 4.0
"""Cost of holding back; seconds of it."""
LEAP = 16.0
"""Cost of going on at another bar."""
BEGIN, BEGIN_WITHIN, BEGUN = 3.0, 6.0, 4
"""Costs of beginning at another bar than the first, and within a bar; first quavers of the form that cost little."""
COUNTED, UNCOUNTED, UNLIKE = 0.15, 0.6, 12.0
"""Standard deviations of the tempo (natural logarithm) from the one counted in, and from the chart's; the most that
another tempo costs."""
PLACED = 0.5
"""Share of the density of places at a tempo that counts."""
ENOUGH = 12
"""Chords from which the way is sought."""
FITS = 3.2
"""Mean cost of a chord up to which the take is taken to be this chart's."""


@dataclass(frozen=True)
class _Strike:
    """Keys struck together."""

    seconds: float
    classes: frozenset[int]


def comped_places(form: Form, struck: Sequence[Struck], tempo: float | None = None) -> list[TakePlace]:
    """The places of the chords of a take, in order of time.

    Parameters
    ----------
    form : Form
    struck : sequence of Struck
        In order of time.
    tempo : float, optional
        Quarters a minute, where the player was counted in.

    Returns
    -------
    list of TakePlace
        Once through the form; empty where there are few chords, or they fit the chart nowhere.
    """
    strikes = _strikes(struck)
    if len(strikes) < ENOUGH or form.metre.compound:
        return []
    return _Search(form, strikes, tempo).places()


def _strikes(struck: Sequence[Struck]) -> list[_Strike]:
    groups: list[list[Struck]] = []
    for note in struck:
        if groups and note.seconds - groups[-1][-1].seconds <= TOGETHER:
            groups[-1].append(note)
        else:
            groups.append([note])
    return [
        _Strike(float(np.median([note.seconds for note in group])), frozenset(note.pitch % 12 for note in group))
        for group in groups
    ]


@dataclass
class _Ways:
    """The cheapest way to each place; shape (twice the tempi, places), places in quavers.

    In the upper half the beat follows the last chord, in the lower half that one was late or early by itself.
    """

    cost: Floats
    beat: Floats
    """When the beat is there, in seconds."""
    quarter: Floats
    """Its length, in seconds."""
    came: _Cells
    """From which cell."""
    leapt: _Flags

    @classmethod
    def none(cls, shape: tuple[int, ...]) -> _Ways:
        """Before any is known."""
        return cls(np.full(shape, np.inf), np.zeros(shape), np.ones(shape), np.zeros(shape, int), np.zeros(shape, bool))

    def take(
        self, half: int, cost: Floats, beat: Floats, quarter: Floats, came: _Cells, *, leapt: bool = False
    ) -> None:
        """Keep in one half what is cheaper than what is known."""
        kept = slice(half * TEMPI, (half + 1) * TEMPI)
        for source in (slice(0, TEMPI), slice(TEMPI, None)):
            where = cost[source] < self.cost[kept]
            np.copyto(self.cost[kept], cost[source], where=where)
            np.copyto(self.beat[kept], beat[source], where=where)
            np.copyto(self.quarter[kept], quarter[source], where=where)
            np.copyto(self.came[kept], came[source], where=where)
            self.leapt[kept][where] = leapt


class _Search:
    """The cheapest way of all."""

    def __init__(self, form: Form, strikes: Sequence[_Strike], tempo: float | None) -> None:
        self._form, self._strikes = form, strikes
        tempi = 60 / np.geomspace(SLOWEST, FASTEST, TEMPI)
        self._quarters: Floats = np.concatenate([tempi, tempi])[:, None]
        unlike = np.log(self._quarters * (tempo or form.tempo) / 60) / (COUNTED if tempo else UNCOUNTED)
        self._unlike: Floats = np.minimum(unlike**2 / 2, UNLIKE)
        self._count = round(2 * float(form.length))
        places = np.arange(self._count)
        swung = MEDIUM_SWING / (MEDIUM_SWING + 1) if swings(form) else 0.5
        self._sounding = places // 2 + np.where(places % 2, swung, 0.0)
        self._bars = np.isin(places, [round(2 * float(bar)) for bar in form.bars])
        self._cost = np.full((self._count, 12), OUTSIDE)
        for place in places:
            classes = list(form.chord_at(place / 2).chord.pitch_classes)
            self._cost[place, [(classes[0] + colour) % 12 for colour in COLOURS] if classes else []] = TENSION
            self._cost[place, classes or slice(None)] = 0.0

    def places(self) -> list[TakePlace]:
        """The way, once it is found."""
        ways = self._begun()
        trail: list[_Ways] = [ways]
        for strike in self._strikes[1:]:
            ways = self._gone_on(ways, strike)
            trail.append(ways)
        cell = int(np.argmin(ways.cost))
        quarter = float(self._quarters[cell // self._count, 0])
        if ways.cost.flat[cell] / len(self._strikes) + PLACED * math.log(quarter) > FITS:
            return []
        found = []
        for strike, step in zip(reversed(self._strikes), reversed(trail), strict=True):
            place = cell % self._count
            leapt = bool(step.leapt.flat[cell])
            found.append(TakePlace(float(self._sounding[place]), place / 2, strike.seconds, leapt))
            cell = int(step.came.flat[cell])
        return found[::-1]

    def _begun(self) -> _Ways:
        ways = _Ways.none((2 * TEMPI, self._count))
        first = self._strikes[0]
        begin = np.where(self._bars, BEGIN, BEGIN_WITHIN)
        begin[:BEGUN] = np.minimum(begin[:BEGUN], np.arange(BEGUN) > 0)
        ways.cost[:] = begin + self._unlike + self._fit(first)
        ways.beat[:], ways.quarter[:], ways.leapt[:] = first.seconds, self._quarters, True
        return ways

    def _gone_on(self, before: _Ways, strike: _Strike) -> _Ways:
        """The cheapest ways to the next chord."""
        shape = before.cost.shape
        cells = np.arange(before.cost.size).reshape(shape)
        after = _Ways.none(shape)
        now = np.full(shape, strike.seconds)
        least = float(before.cost.min())
        for step in range(1, STEPS + 1):
            cost, quarter = np.roll(before.cost, step, axis=1), np.roll(before.quarter, step, axis=1)
            source = np.roll(cells, step, axis=1)
            distance = (self._sounding - np.roll(self._sounding, step)) % float(self._form.length)
            off = strike.seconds - np.roll(before.beat, step, axis=1) - distance * quarter
            if np.min(cost + np.where(np.abs(off) < LONG_OFF, 0.0, HELD)) > least + LEAP:
                continue
            spread = TOUCH**2 + (WANDER * distance * quarter) ** 2
            value = cost + 0.5 * ((TAILS + 1) * np.log1p(off**2 / spread / TAILS) + np.log(spread / TOUCH**2))
            turned = quarter + TEMPO_GAIN * np.clip(off, -FAR, FAR) / np.maximum(distance, 1.0)
            turned = np.clip(turned, self._quarters / WANDERS, self._quarters * WANDERS)
            after.take(FOLLOWS, value, now - (1 - PHASE_GAIN) * off, turned, source)
            after.take(STAYS, np.where(np.abs(off) > FAR, value, np.inf), now - off, quarter, source)
            held = np.where((off >= HELD_LEAST) & (off <= HELD_MOST), cost + HELD, np.inf)
            after.take(FOLLOWS, held, now, quarter, source)
        first = np.argmin(before.cost, axis=1)[:, None]
        leap = np.where(self._bars, np.take_along_axis(before.cost, first, axis=1) + LEAP, np.inf)
        quarter = np.broadcast_to(np.take_along_axis(before.quarter, first, axis=1), shape)
        source = np.broadcast_to(np.take_along_axis(cells, first, axis=1), shape)
        after.take(FOLLOWS, leap, now, quarter, source, leapt=True)
        # The quicker the tempo, the more places there are for a chord, each the less likely.
        after.cost += self._fit(strike) - PLACED * np.log(self._quarters)
        return after

    def _fit(self, strike: _Strike) -> Floats:
        """What a chord costs at each place."""
        keys = list(strike.classes)
        outside = self._cost[:, keys].sum(axis=1) / math.sqrt(len(keys))
        ahead = np.roll(outside, -1) + AHEAD
        fit: Floats = np.minimum(outside, ahead) + OFF_BEAT * (np.arange(self._count) % 2)
        return fit
