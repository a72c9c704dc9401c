"""From played onsets to written beats: which place of which beat each note was meant for.

Conventions: beats are quarters from the first downbeat (below 0: a pickup). Inside, time is counted in pulses, quarters
or the dotted quarters of compound time, as a click gives them (:class:`companion.music.played.BeatMap`); places
within a pulse in 24ths of it, so that halves, quarters, eighths, thirds and sixths are all whole numbers.

Method: the best of all readings is searched for. A reading puts every onset at a place, or calls it a grace note; it
costs what its rhythm costs (how rarely a pulse is so divided) and what its timing costs. Timing is a Kalman filter
over three things: where the pulse lies, how long it is, and how late the off-beat quaver comes (the swing). Readings
are kept and pruned as in a beam search; of two that agree in all that matters for what follows, the better one stays
(Viterbi). Tempo and rhythm are so found together, after Cemgil & Kappen, Monte Carlo Methods for Tempo Tracking and
Rhythm Quantization, J. Artificial Intelligence Research 18, 2003, and Raphael, A Hybrid Graphical Model for Rhythmic
Parsing, Artificial Intelligence 137, 2002 (both from memory). Several kinds of reading run side by side: to the click
or on a beat of the player's own; swung or straight; of quavers, semiquavers or triplets. A last run knows from them how
the tune divides its beats, and hears a phrase that comes again together with its first time.

All costs are in ``configs/capture.toml``.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from math import floor, inf, log, sqrt
from typing import Any

from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.music.swing import swing_ratio
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences, Ornament, Timing
from companion.transcribe.rhythms import HALF, THIRD, WHOLE, Rhythms, division, divisions_of, habit_of

BEAM = 64
"""Readings kept at each onset."""
BEHIND = 16.0
"""Cost above the best at which a reading is dropped,"""
FEW, FAR_BEHIND = 2, 40.0
"""except that so many of each feel are kept up to this cost."""
GATE = 3.6
"""Standard deviations from an onset within which a place is tried."""
NEAR = 0.18
"""Pulses within which notes of a phrase that comes again are at the same place."""
FURTHEST = 2.0
"""Pulses from where it is expected at which an onset is looked for at most: beyond, any place would do."""
SLACK = 3.0
"""What a whole reading may cost less than its beginning, when its habits are those of the tune."""
MOST_EMPTY = 64
"""Pulses without an onset after which the beat begins anew."""
LOST = 20.0
"""Cost of a beat that begins anew."""
MOST_JITTER = 0.009
"""Seconds, standard deviation: the unevenness of a played onset, at most, however slow the beat."""


GRACES = (0.0, 1.0, 1.4, 1.8)
"""Cost of so many grace notes before a note, as multiples of one."""


@dataclass(frozen=True)
class QuantisedNote:
    """A played note and the place it was meant for."""

    key: KeyPress
    beat: Fraction | None
    """Quarters from the first downbeat; None for a grace note or another one that is written nowhere."""
    off: float = 0.0
    """How late it came against its reading, in seconds."""
    doubt: float = 0.0
    """How far from its place in standard deviations."""


@dataclass(frozen=True)
class Quantisation:
    """How a performance was read."""

    notes: tuple[QuantisedNote, ...]
    """Every onset in order of time."""
    ratio: float
    """Long quaver to short one as it was played; 1 when they are even."""
    pulses: tuple[tuple[float, float], ...]
    """Where the player's own pulses fell: quarters and seconds."""

    @property
    def swung(self) -> bool:
        """Whether the quavers swing."""
        return self.ratio > 1.15

    @property
    def beats(self) -> BeatMap:
        """The player's own beat."""
        return BeatMap(self.pulses)


def quantise(
    keys: Sequence[KeyPress],
    beats: BeatMap,
    metre: Metre | None = None,
    *,
    feel: str | None = None,
    steady: bool = False,
    graces: bool = True,
    costs: CapturePreferences | None = None,
) -> Quantisation:
    """Find the written beat of each note of one line.

    Parameters
    ----------
    keys : sequence of KeyPress
        One voice, in order of onset.
    beats : BeatMap
        The click, or the tempo and start that were agreed on.
    metre : Metre, optional
        4/4 unless given.
    feel : str, optional
        'swing' or 'straight' when it is known; found out unless given.
    steady : bool
        True when the player is known to have kept to ``beats`` (the notes of a sequencer); a wandering beat isn't
        looked for then.
    graces : bool
        Whether notes may be grace notes, and stand nowhere.
    costs : CapturePreferences, optional
        Instead of ``configs/capture.toml``.

    Returns
    -------
    Reading
    """
    metre = metre or Metre()
    costs = costs or preferences(CapturePreferences)
    if not keys:
        return Quantisation((), 1.0, beats.points)
    scale = float(metre.pulse)
    times = [beats.beat(key.on) / scale for key in keys]
    spans = [60.0 / beats.tempo(time * scale) * scale for time in times]
    search = _Search(keys, times, spans, metre, feel, steady, costs)
    if not graces:
        search.graces = [0] * len(keys)
    kinds = divisions_of(costs, metre.compound)
    best = _second(search, _first(search, kinds, costs), costs, metre.compound)
    return _reading(keys, times, spans, best, beats, scale)


def _first(search: _Search, kinds: Sequence[Mapping[int, float]], costs: CapturePreferences) -> list[_FirstReading]:
    """First readings of a tune of each kind, with the beat kept in each way; the best first, hopeless ones left out."""
    rarer, own = costs.division.kind, costs.own

    least = inf

    def tried(usual: Mapping[int, float], way: _BeatModel, grace: float, near: float) -> _FirstReading:
        nonlocal least
        more = rarer * (usual is not kinds[0])
        cost, path = search.run(usual, way, grace, most=least + near - more)
        least = min(least, cost + more)
        return _FirstReading(cost + more, path, usual, way)

    def likely(runs: Iterable[_FirstReading]) -> list[_FirstReading]:
        ordered = sorted(runs, key=lambda run: run.cost)
        return [run for run in ordered if run.cost <= ordered[0].cost + own.near]

    runs = sorted((tried(kinds[0], way, 0.0, FAR_BEHIND) for way in search.ways), key=lambda run: run.cost)
    ways = [run.way for run in runs if run.cost <= runs[0].cost + FAR_BEHIND]
    runs = likely([*runs, *(tried(usual, way, 0.0, own.near) for way in ways for usual in kinds[1:])])
    if any(search.graces):  # a short note that comes often is no grace note, though each time by itself may be
        graceless = [tried(run.usual, run.way, own.graceless, inf) for run in runs if run.way is runs[0].way]
        runs = [run for pair in itertools.zip_longest(runs, graceless) for run in pair if run is not None]
    return runs


def _second(
    search: _Search, runs: Sequence[_FirstReading], costs: CapturePreferences, compound: bool
) -> list[_PartialReading]:
    """The best of the readings that know the tune's own habits and phrases from a first one, each from another."""
    best, least = runs[0].path, inf
    search.listen_again(runs[0].path, costs.place.alike)
    known: list[tuple[_BeatModel, list[tuple[int, int, int]]]] = []
    for run in runs:
        reading = run.way, [(state.onset, state.pulse, state.place) for state in run.path]
        if reading in known or len(known) == costs.own.most:
            continue
        known.append(reading)
        struck = [(state.pulse, state.place) for state in run.path]
        graces = run.path[-1].onset + 1 - len(run.path) if run.path else 0
        habit = habit_of(struck, graces, run.usual, costs, compound)
        cost, path = search.run(habit.divisions, run.way, habit.grace, habit.patterns, most=least - habit.told)
        if cost + habit.told < least:
            best, least = path, cost + habit.told
    return best


def cost_of(keys: Sequence[KeyPress], beats: BeatMap, metre: Metre, *, most: float = inf, beam: int = BEAM) -> float:
    """What the best reading of some notes costs: the lower, the likelier are these beats.

    Parameters
    ----------
    keys : sequence of KeyPress
        In order of onset.
    beats : BeatMap
        Where the beats are taken to be.
    metre : Metre
    most : float
        What costs more needn't be known exactly: it may be given as infinite.
    beam : int
        Readings kept at each onset.
    """
    costs = preferences(CapturePreferences)
    scale = float(metre.pulse)
    times = [beats.beat(key.on) / scale for key in keys]
    spans = [60.0 / beats.tempo(time * scale) * scale for time in times]
    search = _Search(keys, times, spans, metre, None, False, costs)
    search.beam = beam
    return search.run(divisions_of(costs, metre.compound)[0], search.ways[-1], most=most)[0]


@dataclass(frozen=True)
class _FirstReading:
    """A first reading."""

    cost: float
    path: list[_PartialReading]
    usual: Mapping[int, float]
    way: _BeatModel


# Timing


@dataclass(frozen=True, slots=True)
class _BeatModel:
    """How a beat is kept."""

    keep: float
    """How much of a pulse's distance from the map is left after a pulse."""
    start: float
    """Variance of where the first pulse lies; of the length of a pulse likewise ``tempo``."""
    tempo: float
    beat: float
    """Variance that a pulse adds to where it lies; of the length of a pulse likewise ``drift``."""
    drift: float
    back: float
    """How much of its distance from the tempo that was told is left after a pulse."""
    cost: float

    @property
    def free(self) -> bool:
        """Whether the beat is the player's own."""
        return self.keep == 1.0


@dataclass(frozen=True, slots=True)
class _ReadingKind:
    """One of the kinds of reading that run side by side."""

    number: int
    way: _BeatModel
    swings: bool
    bends: bool
    """Whether semiquavers swing along with the quavers, or stay as they are written."""


@dataclass(slots=True)
class _PartialReading:
    """A reading up to an onset. Times in pulses of the map; (co)variances of t, p and b."""

    cost: float
    onset: int
    pulse: int
    place: int
    places: tuple[int, ...]
    even: bool
    owed: str
    t: float
    """Where the pulse lies."""
    p: float
    """How long it is."""
    b: float
    """How much later than half way the off-beat comes."""
    tt: float
    tp: float
    tb: float
    pp: float
    pb: float
    bb: float
    manner: _ReadingKind
    before: _PartialReading | None
    miss: float = 0.0
    spread: float = 1.0


def _onward(state: _PartialReading, pulses: int = 1) -> _PartialReading:
    """The same reading some pulses later."""
    way = state.manner.way
    t, p, tt, tp, tb, pp, pb = state.t, state.p, state.tt, state.tp, state.tb, state.pp, state.pb
    k, a, r = state.pulse, way.keep, way.back
    for _ in range(pulses):
        t = k + 1 + a * (t - k) + (p - 1.0)
        tt, tp, tb = a * a * tt + 2 * a * tp + pp + way.beat, r * (a * tp + pp), a * tb + pb
        p, pp, pb = 1.0 + r * (p - 1.0), r * r * pp + way.drift, r * pb
        k += 1
    return _PartialReading(
        state.cost, state.onset, k, state.place, state.places, state.even, state.owed, t, p, state.b,
        tt, tp, tb, pp, pb, state.bb, state.manner, state.before,
    )  # fmt: skip


def _bend(place: int) -> float:
    """How much of the off-beat's lateness a place shares when the pulse is bent like a swung one."""
    return 2.0 * min(place, WHOLE - place) / WHOLE


@cache
def _places_after(places: tuple[int, ...]) -> tuple[tuple[int, float, tuple[int, ...]], ...]:
    """Where another onset could be in a pulse that has some: its place, that as a share, and all of them then."""
    last = places[-1] if places else -1
    every = [(place, place / WHOLE, (*places, place)) for place in range(last + 1, WHOLE)]
    return tuple(one for one in every if division(one[2]))


@cache
def _lateness_at(place: int, swings: bool, bends: bool) -> tuple[tuple[float, bool], ...]:
    """How much of the off-beat's lateness a place may have, and whether its pulse is then even."""
    if not swings or place % THIRD == 0:
        return ((0.0, False),)
    if place != HALF:
        return ((_bend(place) if bends else 0.0, False),)
    return ((1.0, False),) if bends else ((1.0, False), (0.0, True))


class _Search:
    """Looks for the best reading of a line."""

    def __init__(
        self,
        keys: Sequence[KeyPress],
        times: Sequence[float],
        spans: Sequence[float],
        metre: Metre,
        feel: str | None,
        steady: bool,
        costs: CapturePreferences,
    ):
        self.keys, self.times, self.costs, self.compound = keys, list(times), costs, metre.compound
        self.bar = max(1, round(float(metre.bar / metre.pulse)))
        timing = costs.timing
        self.outlier = timing.outlier
        self.noise = [(timing.key_ms / 1000 / span) ** 2 + self._unevenness(timing, span) ** 2 for span in spans]
        self.even_noise = min(self.noise)
        self.graces = self._graces(costs.ornament)
        self.grace_costs = costs.place.ornament, costs.place.ornament_free
        most = costs.swing.most
        self.latest = most / (most + 1.0) - 0.5
        self.ways = self._ways(timing, spans[0], steady)
        self.starts = list(self._starts(spans[0], feel))
        self.beam = BEAM

    @staticmethod
    def _unevenness(timing: Timing, span: float) -> float:
        return min(timing.jitter, MOST_JITTER / span)

    def _graces(self, ornament: Ornament) -> list[int]:
        """For each onset how many of those just before it could be its grace notes."""
        longest, widest = ornament.ms / 1000, ornament.interval
        counts = []
        for j, key in enumerate(self.keys):
            n = 0
            while n < min(j, ornament.most):
                grace, after = self.keys[j - n - 1], self.keys[j - n]
                near = after.on - grace.on <= longest and key.on - grace.on <= 3 * longest
                if not near or not 0 < abs(after.midi - grace.midi) <= widest + (n > 0):
                    break
                n += 1
            counts.append(n)
        return counts

    def _ways(self, timing: Timing, span: float, steady: bool) -> list[_BeatModel]:
        """How the beat may be kept: as the click has it, or by the player."""
        click = timing.click
        off = (click.off_ms / 1000 / span) ** 2
        ways = [_BeatModel(click.keep, off, 0.0, (click.wander_ms / 1000 / span) ** 2, 0.0, 1.0, 0.0)]
        start = (timing.start_ms / 1000 / span) ** 2
        for own in () if steady else (timing.free, timing.loose):
            ways.append(_BeatModel(1.0, start, own.tempo**2, own.beat**2, own.drift**2, own.back, own.cost))
        return ways

    def _starts(self, span: float, feel: str | None) -> Iterator[_PartialReading]:
        """The kinds of reading, before the first onset."""
        first = floor(self.times[0] - 0.5)
        number = 0
        for way in self.ways:
            for swings, bends in self._feels(feel):
                late, sure = self._lateness(span) if swings else self.costs.swing.straight
                manner = _ReadingKind(number, way, swings, bends)
                # Beat 0 is where it was said to be: how far the first pulse is off depends on the tempo.
                yield _PartialReading(
                    way.cost + self._feel_cost(swings, bends), -1, first, -1, (), False, "", float(first), 1.0,
                    float(late), way.start + way.tempo * first * first, way.tempo * first, 0.0, way.tempo, 0.0,
                    float(sure) ** 2, manner, None,
                )  # fmt: skip
                number += 1

    def _feels(self, feel: str | None) -> list[tuple[bool, bool]]:
        swung = [(True, True), (True, False)]
        if self.compound or feel not in (None, "swing"):
            return [(False, False)]
        return swung if feel else [(False, False), *swung]

    def _feel_cost(self, swings: bool, bends: bool) -> float:
        costs = self.costs.swing.cost
        if self.compound:
            return 0.0
        return costs.swung if bends else costs.plain if swings else costs.straight

    def _lateness(self, span: float) -> tuple[float, float]:
        """How late the off-beat is likely to be at this tempo, and how sure that is."""
        ratio = min(max(1.25, swing_ratio(60.0 / span)), self.costs.swing.usual_most)
        return ratio / (ratio + 1.0) - 0.5, self.costs.swing.spread

    def listen_again(self, path: Sequence[_PartialReading], alike: int) -> None:
        """Hear notes of a phrase that comes again together: their timing is the mean of all, and so less uncertain.

        Two notes belong together when they stand in the same place of ``alike`` notes with the same pitches, and the
        first reading has them at about the same place of a bar.
        """
        pitches = [self.keys[state.onset].midi for state in path]
        places = [state.pulse + (self.times[state.onset] - state.t) / state.p for state in path]
        groups: dict[tuple[int, ...], list[int]] = {}
        for k in range(len(path)):
            for first in range(max(0, k - alike + 1), min(k, len(path) - alike) + 1):
                groups.setdefault((k - first, *pitches[first : first + alike]), []).append(k)
        kin: dict[int, set[int]] = {}
        for group in groups.values():
            for k in group:
                near = [j for j in group if abs(self._apart(places[j], places[k])) < NEAR]
                kin.setdefault(k, set()).update(near)
        for k, same in kin.items():
            state = path[k]
            apart = [self._apart(places[j], places[k]) for j in same]
            self.times[state.onset] += state.p * sum(apart) / len(apart)
            self.noise[state.onset] *= (1.0 / len(same) + 0.1) / 1.1

    def _apart(self, one: float, other: float) -> float:
        """How far two places of a bar are apart, in pulses."""
        return (one - other + 0.5 * self.bar) % self.bar - 0.5 * self.bar

    def run(
        self,
        divisions: Mapping[int, float],
        way: _BeatModel,
        grace: float = 0.0,
        patterns: Mapping[tuple[int, ...], float] | None = None,
        most: float = inf,
    ) -> tuple[float, list[_PartialReading]]:
        """The cost of the best reading and its states, one a placed onset.

        ``grace`` is what a grace note costs more than usual, ``patterns`` what patterns cost in this tune. Where it
        turns out that all readings cost more than ``most`` there is none, and its cost is infinite.
        """
        self.rhythms = Rhythms(divisions, self.costs, self.compound, patterns or {})
        self.rarer_grace = grace
        # Notes of a phrase that comes again are surer than any, and may cost less than nothing.
        graced = max(0.0, -grace - min(self.grace_costs))
        sure = [max(0.0, 0.5 * log(self.even_noise / noise)) + graced for noise in self.noise]
        to_come = [sum(sure) - before for before in itertools.accumulate(sure, initial=0.0)]
        count = len(self.keys)
        reached: list[dict[tuple[Any, ...], _PartialReading]] = [{} for _ in range(count)]
        for start in self.starts:
            if start.manner.way is way:
                self._extend(start, reached)
        if not any(reached[:4]):  # no place is near the first onset
            reached[0] = {(one.manner.number,): self._anew(one, 0) for one in self.starts if one.manner.way is way}
        for onset in range(count - 1):
            kept = self._kept(reached[onset].values())
            if self._beyond(kept, reached[onset + 1 : onset + 4], most + SLACK + to_come[onset]):
                return inf, []
            for one in kept:
                self._extend(one, reached)
            if kept and not any(reached[onset + 1 : onset + 5]):
                reached[onset + 1] = {(one.manner.number,): self._anew(one, onset + 1) for one in reversed(kept)}
        if not reached[-1]:  # all that comes after its last notes was taken for grace notes
            reached[-1] = {(): self._anew(next(r for r in reversed(reached) if r).popitem()[1], count - 1)}
        best = min(reached[-1].values(), key=self._closed)
        path = []
        state: _PartialReading | None = best
        while state is not None and state.onset >= 0:
            path.append(state)
            state = state.before
        return self._closed(best), path[::-1]

    @staticmethod
    def _beyond(kept: Sequence[_PartialReading], passed: Sequence[Mapping[Any, _PartialReading]], most: float) -> bool:
        """Whether all readings cost more than that: those at an onset, and those for which it was a grace note."""
        if not kept or kept[0].cost <= most:
            return False
        return all(state.cost > most for states in passed for state in states.values())

    def _anew(self, state: _PartialReading, onset: int) -> _PartialReading:
        """A reading goes on at an onset that no place foreseen is near to: the beat begins anew as the map has it."""
        y = self.times[onset]
        pulse = max(floor(y + 0.25), state.pulse + 1)
        place = HALF if y - pulse >= 0.25 else 0
        new = replace(next(start for start in self.starts if start.manner is state.manner))
        new.cost, new.onset, new.pulse, new.place, new.places = state.cost + LOST, onset, pulse, place, (place,)
        new.t, new.b, new.bb, new.before = y - place / WHOLE, state.b, state.bb, state if state.onset >= 0 else None
        new.tt, new.tp = self.noise[onset], 0.0
        return new

    def _closed(self, state: _PartialReading) -> float:
        done = self.rhythms.close(state.places, state.even, state.owed)
        return state.cost + (done[0] if done else 100.0)

    def _kept(self, states: Iterable[_PartialReading]) -> list[_PartialReading]:
        """The best readings, and of each feel the few best though they are far behind."""
        found = sorted(states, key=lambda s: s.cost)
        kept, few = [], Counter[int]()
        for number, state in enumerate(found):
            behind = state.cost - found[0].cost
            few[state.manner.number] += 1
            if (number < self.beam and behind < BEHIND) or (few[state.manner.number] <= FEW and behind < FAR_BEHIND):
                kept.append(state)
        return kept

    def _extend(self, state: _PartialReading, reached: list[dict[tuple[Any, ...], _PartialReading]]) -> None:
        """Put the next onset, or the one after its grace notes, wherever it could be."""
        first = state.onset + 1
        for skipped in range(4):
            onset = first + skipped
            if onset >= len(self.keys):
                return
            if skipped > self.graces[onset]:
                continue
            for new in self._placings(state, onset):
                new.before = state if state.onset >= 0 else None
                new.cost += (self.grace_costs[state.manner.way.free] + self.rarer_grace) * GRACES[skipped]
                key = (new.pulse, new.places, new.even, new.owed, new.manner.number)
                known = reached[onset].get(key)
                if known is None or new.cost < known.cost:
                    reached[onset][key] = new

    def _placings(self, state: _PartialReading, onset: int) -> Iterator[_PartialReading]:
        y, noise = self.times[onset], self.noise[onset]
        here = state
        passed = 0
        while passed <= MOST_EMPTY:
            reach = min(GATE * sqrt(here.tt + here.pp + noise + here.bb), FURTHEST)
            if here.t - reach > y:
                return
            if here.t + here.p + reach > y:
                yield from self._within(here, onset, y, noise, reach)
            done = self.rhythms.close(here.places, here.even, here.owed)
            if done is None:
                return
            here = _onward(here)
            here.cost += done[0]
            here.owed, here.places, here.even, here.place = done[1], (), False, -1
            passed += 1

    def _within(
        self, here: _PartialReading, onset: int, y: float, noise: float, reach: float
    ) -> Iterator[_PartialReading]:
        """The places of one pulse at which an onset could be."""
        low, high = y - reach - here.b - here.t, y + reach + here.b - here.t
        swings, bends, length = here.manner.swings, here.manner.bends, here.p
        off_bar = self.rhythms.off_bar if here.pulse % self.bar else 0.0
        for place, share, places in _places_after(here.places):
            if not low <= length * share <= high:
                continue
            for late, even in _lateness_at(place, swings, bends):
                new = self._measured(here, onset, y, noise, share, late)
                if new is None:
                    continue
                new.pulse, new.place, new.places, new.even = here.pulse, place, places, here.even or even
                if place == 0:
                    new.cost += off_bar
                yield new

    def _measured(
        self, s: _PartialReading, onset: int, y: float, noise: float, share: float, late: float
    ) -> _PartialReading | None:
        """The reading after an onset has been measured at a place (one step of the Kalman filter)."""
        ht = s.tt + share * s.tp + late * s.tb
        hp = s.tp + share * s.pp + late * s.pb
        hb = s.tb + share * s.pb + late * s.bb
        variance = ht + share * hp + late * hb + noise
        miss = y - (s.t + share * s.p + late * s.b)
        square = miss * miss / variance
        if square > GATE * GATE:
            return None
        cost = min(0.5 * square, self.outlier) + 0.5 * log(variance / self.even_noise)
        kt, kp, kb = ht / variance, hp / variance, hb / variance
        if not 0.0 <= s.b + kb * miss <= self.latest and s.manner.swings:
            return None
        return _PartialReading(
            s.cost + cost, onset, s.pulse, s.place, s.places, s.even, s.owed,
            s.t + kt * miss, s.p + kp * miss, s.b + kb * miss,
            s.tt - kt * ht, s.tp - kt * hp, s.tb - kt * hb, s.pp - kp * hp, s.pb - kp * hb, s.bb - kb * hb,
            s.manner, None, miss, sqrt(variance),
        )  # fmt: skip


# The answer


def _reading(
    keys: Sequence[KeyPress],
    times: Sequence[float],
    spans: Sequence[float],
    path: Sequence[_PartialReading],
    beats: BeatMap,
    scale: float,
) -> Quantisation:
    placed = {state.onset: state for state in path}
    notes = []
    for onset, key in enumerate(keys):
        state = placed.get(onset)
        if state is None:
            notes.append(QuantisedNote(key, None))
            continue
        beat = (state.pulse + Fraction(state.place, WHOLE)) * Fraction(scale)
        notes.append(QuantisedNote(key, beat, state.miss * spans[onset], abs(state.miss) / state.spread))
    late = path[-1].b if path[-1].manner.swings else 0.0
    pulses = {state.pulse: state.t for state in path}
    points = [(pulse * scale, beats.seconds(t * scale)) for pulse, t in sorted(pulses.items())]
    if len(points) < 2 or any(b[1] <= a[1] for a, b in itertools.pairwise(points)):
        points = list(beats.points)
    return Quantisation(tuple(notes), (0.5 + late) / (0.5 - late), tuple(points))
