"""Where a player comping alone was in the chart at every chord, with the whole take in view.

Nobody has written down when a chord is due, but a chord fits some of the chart's harmonies and not others, falls on a
beat or a swung off-beat quaver, and the tempo wanders little. The likeliest way through the chart under these is found
by a search over the places of the chart that keeps the likeliest ways to each (Viterbi, 1967, with a beam), each with a
beat of its own (moment and tempo, by a Kalman filter), from several tempi to begin with, or from the count-in. A bar
hurried through, a chord late by itself, holding back, and going on at another bar are steps at a price.
Once a way is found, it shows where in a bar this player puts chords, and the way is sought again by that, too: else
half a beat is soon lost or won where the time wasn't steady.

Conventions: beats in quarters as written; seconds on the take's clock; costs in negative logarithms of likelihood.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from companion.arrange.lookup import harmony_at
from companion.arrays import Floats
from companion.chart.model import Form
from companion.follow.roles import swings
from companion.practice.judging import TOGETHER, Struck
from companion.practice.placing import TakePlace
from companion.practice.sweeps import MEDIUM_SWING

_Whole = NDArray[np.int64]
_Flags = NDArray[np.bool_]

SLOWEST, FASTEST, TEMPI = 36.0, 300.0, 26
"""Quarters a minute from and to which, and at how many tempi, the search begins."""
WANDERS = 1.15
"""From what it begins with the tempo goes away at most by this factor: else any take fits some tempo."""
STEPS = 20
"""Quavers from one chord to the next at most."""
TOUCH, JITTER, FREEDOM = 0.012, 0.008, 1e-4
"""Seconds, standard deviation of a chord from its beat; of a beat's length, as a share of it, by itself; variance of
the tempo's change in a quarter, as a share of its square."""
TEMPO_KNOWN = 0.03
"""Standard deviation of the tempo, as a share, when the search begins."""
HURRY, HURRIED = 0.035, 2.5
"""Seconds a quarter, standard deviation, by which one hurries or drags for a while; its cost."""
FAR, LATE, BY_ITSELF = 0.04, 0.1, 3.0
"""Seconds from which a chord may be late or early by itself; standard deviation of that; its cost."""
LONG_OFF = 1.0
"""Seconds off from which a chord was held back."""
OUTSIDE, TENSION, AHEAD, OTHER = 2.5, 0.7, 1.0, 7.0
"""Costs of a key outside the harmony's scale, and of one in it that is no note of the chord; of a chord that goes
before its harmony; of any other chord, at most."""
OFF_BEAT, HABIT = 0.5, 8.0
"""Cost of an off-beat quaver for one of whom nothing is known; chords by which that counts beside those of the take."""
HELD, HELD_LEAST, HELD_MOST = 6.5, 0.4, 4.0
"""Cost of holding back; seconds of it."""
LEAP = 16.0
"""Cost of going on at another bar."""
BEGIN, BEGIN_WITHIN, BEGUN = 3.0, 6.0, 4
"""Costs of beginning at another bar than the first, and within a bar; first quavers of the form that cost little."""
NOT_COUNTED, COUNTED_WITHIN = 8.0, 0.05
"""Cost of beginning otherwise than as counted in; seconds, standard deviation from the count-in's beat."""
COUNTED, UNCOUNTED, UNLIKE = 0.15, 0.6, 12.0
"""Standard deviations of the tempo (natural logarithm) from the one counted in, and from the chart's; the most that
another tempo costs."""
PLACED = 0.5
"""Share of the density of places at a tempo that counts."""
ALIKE, MOST_WAYS = 0.02, 1000
"""Natural logarithm of tempi within which two ways at a place are one; ways that are kept."""
ENOUGH = 12
"""Chords from which the way is sought."""
FITS = 3.2
"""Mean cost of a chord up to which the take is taken to be this chart's."""


@dataclass(frozen=True)
class _Strike:
    """Keys struck together."""

    seconds: float
    classes: frozenset[int]


def comped_places(
    form: Form, struck: Sequence[Struck], tempo: float | None = None, start: float | None = None
) -> list[TakePlace]:
    """The places of the chords of a take, in order of time.

    Parameters
    ----------
    form : Form
    struck : sequence of Struck
        In order of time.
    tempo : float, optional
        Quarters a minute, where the player was counted in.
    start : float, optional
        When the first downbeat was due, where they were counted in: in seconds.

    Returns
    -------
    list of TakePlace
        Once through the form; empty where there are few chords, or they fit the chart nowhere.
    """
    strikes = _strikes(struck)
    if len(strikes) < ENOUGH or form.metre.compound:
        return []
    search = _Search(form, strikes, tempo, start)
    cost, way = min((search.way_by_habit(off_beat) for off_beat in (OFF_BEAT, 0.0)), key=lambda found: found[0])
    if cost > FITS:
        return []
    return [
        TakePlace(float(search.sounding[place]), place / 2, strike.seconds, leapt)
        for strike, (place, leapt) in zip(strikes, way, strict=True)
    ]


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


@dataclass(frozen=True)
class _Ways:
    """The likeliest ways to a chord, the likeliest first; arrays of shape (ways,)."""

    place: _Whole
    """In quavers."""
    cost: Floats
    beat: Floats
    """When the beat is there, in seconds."""
    quarter: Floats
    """Its length, in seconds."""
    first: Floats
    """What the way began with."""
    of_beat: Floats
    of_both: Floats
    of_quarter: Floats
    """Variances of the two, and their covariance."""
    came: _Whole
    """Index of the way to the chord before."""
    leapt: _Flags

    def at(self, which: _Whole | _Flags) -> _Ways:
        """Some of them."""
        return _Ways(*(values[which] for values in vars(self).values()))

    def kept(self) -> _Ways:
        """Those that may still become the likeliest: of those alike the likeliest only."""
        near = np.flatnonzero(self.cost <= self.cost.min() + LEAP)
        near = near[np.argsort(self.cost[near], kind="stable")]
        tempo = np.round(np.log(self.quarter[near]) / ALIKE).astype(np.int64)
        phase = np.round(self.beat[near] / (2 * FAR)).astype(np.int64)
        alike = (self.place[near] * 4096 + tempo + 2048) * 65536 + phase % 65536
        _, firsts = np.unique(alike, return_index=True)
        return self.at(near[np.sort(firsts)[:MOST_WAYS]])


def _together(ways: Sequence[_Ways]) -> _Ways:
    return _Ways(*(np.concatenate(values) for values in zip(*(vars(one).values() for one in ways), strict=True)))


class _Search:
    """The likeliest way of all."""

    def __init__(self, form: Form, strikes: Sequence[_Strike], tempo: float | None, start: float | None) -> None:
        self._form, self._strikes = form, strikes
        self._tempo, self._start = tempo, start
        self._count = round(2 * float(form.length))
        places = np.arange(self._count)
        swung = MEDIUM_SWING / (MEDIUM_SWING + 1) if swings(form) else 0.5
        self.sounding: Floats = (places // 2 + np.where(places % 2, swung, 0.0)).astype(np.float64)
        bars = np.array([round(2 * float(bar)) for bar in form.bars])
        self._bars = np.isin(places, bars)
        self._within_bar: _Whole = places - bars[np.searchsorted(bars, places, side="right") - 1]
        self._habit: Floats = np.zeros(self._count)
        self._outside: Floats = np.full((self._count, 12), OUTSIDE)
        for place in range(self._count):
            harmony = harmony_at(form, Fraction(place, 2))
            self._outside[place, list(harmony.scale)] = TENSION
            self._outside[place, list(harmony.tones)] = 0.0

    def way_by_habit(self, off_beat: float) -> tuple[float, list[tuple[int, bool]]]:
        """The way by where in a bar this player puts chords, as the way shows it that is found before that is known.

        Parameters
        ----------
        off_beat : float
            What an off-beat quaver costs before.
        """
        self._habit = off_beat * (np.arange(self._count) % 2).astype(np.float64)
        self._learn(place for place, _ in self.way()[1])
        return self.way()

    def _learn(self, way: Iterable[int]) -> None:
        used = Counter(int(self._within_bar[place]) for place in way)
        usual = np.exp(-OFF_BEAT * (self._within_bar % 2))
        whole = usual.sum() / max(int(self._bars.sum()), 1)
        count = np.array([used[int(place)] for place in self._within_bar]) + HABIT * usual / whole
        # A player without habits pays as much as they did before.
        even = math.log(2 / (1 + math.exp(-OFF_BEAT))) - math.log(whole)
        self._habit = (even - np.log(count / (sum(used.values()) + HABIT))).astype(np.float64)

    def way(self) -> tuple[float, list[tuple[int, bool]]]:
        """The mean cost of a chord, and the place of each, with whether they leapt there."""
        ways = self._begun()
        trail = [ways]
        for strike in self._strikes[1:]:
            ways = self._gone_on(ways, strike)
            trail.append(ways)
        at = 0
        mean = float(ways.cost[at]) / len(self._strikes) + PLACED * math.log(float(ways.first[at]))
        found = []
        for step in reversed(trail):
            found.append((int(step.place[at]), bool(step.leapt[at])))
            at = int(step.came[at])
        return mean, found[::-1]

    def _begun(self) -> _Ways:
        first = self._strikes[0]
        tempi = 60 / np.geomspace(SLOWEST, FASTEST, TEMPI)
        counted = 60 / self._tempo if self._tempo else None
        if counted:
            tempi = np.append(tempi, counted)
        unlike = np.log(tempi / (counted or 60 / self._form.tempo)) / (COUNTED if counted else UNCOUNTED)
        begin = np.where(self._bars, BEGIN, BEGIN_WITHIN)
        begin[:BEGUN] = np.minimum(begin[:BEGUN], np.arange(BEGUN) > 0)
        place = np.tile(np.arange(self._count), len(tempi))
        cost = (begin + np.minimum(unlike**2 / 2, UNLIKE)[:, None]).ravel()
        quarter = np.repeat(tempi, self._count)
        beat = np.full(len(place), first.seconds)
        if counted and self._start is not None:
            after = first.seconds - self._start - self.sounding * counted
            spread = COUNTED_WITHIN**2 + (TEMPO_KNOWN * self.sounding * counted) ** 2
            cost += NOT_COUNTED
            cost[-self._count :] = np.minimum(
                cost[-self._count :], 0.5 * after**2 / spread + 0.5 * np.log(spread / COUNTED_WITHIN**2)
            )
        some = np.ones(len(place))
        ways = _Ways(
            place, cost + self._fit(first)[place], beat, quarter, quarter, TOUCH**2 * some, 0 * some,
            (TEMPO_KNOWN * quarter) ** 2, np.zeros(len(place), int), np.ones(len(place), bool),
        )  # fmt: skip
        return ways.kept()

    def _gone_on(self, before: _Ways, strike: _Strike) -> _Ways:
        """The likeliest ways to the next chord."""
        came = np.repeat(np.arange(len(before.place)), STEPS)
        step = np.tile(np.arange(1, STEPS + 1), len(before.place))
        to = (before.place[came] + step) % self._count
        passed = (self.sounding[to] - self.sounding[before.place[came]]) % float(self._form.length)
        off = strike.seconds - before.beat[came] - passed * before.quarter[came]
        likely = off > -LONG_OFF
        likely &= off < HELD_MOST
        came, to, passed, off = came[likely], to[likely], passed[likely], off[likely]
        ways = before.at(came)
        ahead = _Ways(
            to, ways.cost, strike.seconds - off, ways.quarter, ways.first,
            ways.of_beat + 2 * passed * ways.of_both + passed**2 * ways.of_quarter
            + ways.quarter**2 * (FREEDOM * passed**3 / 3 + JITTER**2 * passed),
            ways.of_both + passed * ways.of_quarter + FREEDOM * ways.quarter**2 * passed**2 / 2,
            ways.of_quarter + FREEDOM * ways.quarter**2 * passed, came, np.zeros(len(to), bool),
        )  # fmt: skip
        found = [
            self._follows(ahead, off),
            self._hurries(ahead, off, passed),
            self._is_late(ahead, off),
            self._held(ahead, off),
            self._leaps(before, strike.seconds),
        ]
        after = _together(found)
        # The quicker the tempo, the more places there are for a chord, each the less likely.
        cost = after.cost + self._fit(strike)[after.place] - PLACED * np.log(after.first)
        return replace(after, cost=cost).kept()

    def _follows(self, ahead: _Ways, off: Floats) -> _Ways:
        """The beat goes with the chord."""
        spread = ahead.of_beat + TOUCH**2
        gain, turn = ahead.of_beat / spread, ahead.of_both / spread
        quarter = np.clip(ahead.quarter + turn * off, ahead.first / WANDERS, ahead.first * WANDERS)
        after = replace(
            ahead,
            cost=ahead.cost + _surprise(off, spread),
            beat=ahead.beat + gain * off,
            quarter=quarter,
            of_beat=(1 - gain) * ahead.of_beat,
            of_both=(1 - gain) * ahead.of_both,
            of_quarter=ahead.of_quarter - turn * ahead.of_both,
        )
        return after.at(np.abs(off) < LONG_OFF)

    def _hurries(self, ahead: _Ways, off: Floats, passed: Floats) -> _Ways:
        """One hurries or drags up to the chord: the tempo is what it was."""
        spread = ahead.of_beat + TOUCH**2 + (HURRY * passed) ** 2
        after = self._from_here(replace(ahead, cost=ahead.cost + HURRIED + _surprise(off, spread)), ahead.beat + off)
        return after.at((np.abs(off) > FAR) & (np.abs(off) < LONG_OFF))

    def _is_late(self, ahead: _Ways, off: Floats) -> _Ways:
        """The chord is late or early by itself."""
        cost = ahead.cost + BY_ITSELF + _surprise(off, ahead.of_beat + LATE**2)
        return replace(ahead, cost=cost).at((np.abs(off) > FAR) & (np.abs(off) < LONG_OFF))

    def _held(self, ahead: _Ways, off: Floats) -> _Ways:
        return self._from_here(replace(ahead, cost=ahead.cost + HELD), ahead.beat + off).at(off >= HELD_LEAST)

    def _leaps(self, before: _Ways, seconds: float) -> _Ways:
        """From the likeliest way to any bar."""
        bars = np.flatnonzero(self._bars)
        last = before.at(np.zeros(len(bars), int))
        there = replace(last, place=bars, cost=last.cost + LEAP, came=np.zeros(len(bars), int),
                        leapt=np.ones(len(bars), bool))  # fmt: skip
        return self._from_here(there, np.full(len(bars), seconds))

    @staticmethod
    def _from_here(ways: _Ways, beat: Floats) -> _Ways:
        """Ways whose beat is known by this chord alone."""
        return replace(ways, beat=beat, of_beat=np.full(len(beat), TOUCH**2), of_both=np.zeros(len(beat)))

    def _fit(self, strike: _Strike) -> Floats:
        """What a chord costs at each place."""
        keys = list(strike.classes)
        outside = np.minimum(self._outside[:, keys].sum(axis=1), OTHER)
        fit: Floats = np.minimum(outside, np.roll(outside, -1) + AHEAD) + self._habit
        return fit


def _surprise(off: Floats, spread: Floats) -> Floats:
    """Cost of a deviation where it varies by so much, against a chord on a beat that is known."""
    cost: Floats = 0.5 * off**2 / spread + 0.5 * np.log(spread / TOUCH**2)
    return cost
