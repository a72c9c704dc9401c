"""The line of the bass: the cheapest over the whole form, varied with a little chance in every chorus.

Conventions: pitches are indices from the lowest note of the range, MIDI numbers at the edges.

Method: costs are of second order: a note is judged with the two before it, so that leaps turn back, chromatic notes
pass and no pitch comes three times. Dynamic programming from the end of the form (Viterbi, IEEE Trans. Inf. Theory
13(2), 1967) gives the cost of the best continuation from every pair of notes. A beam then goes forward bar by bar with
that look-ahead; the way through a bar is drawn by its cost (a Gibbs draw at the temperature of ``bass.toml``), where
tastes about whole bars count as well: no pattern of degrees too often, a third or seventh in each bar, an arc over each
phrase. The last note leads to the first of the chorus to come.
"""

from __future__ import annotations

import random
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from companion.arrange.bass.arc import Arc
from companion.arrange.bass.costs import (
    FORBIDDEN,
    TENTH,
    CostArray,
    entry_costs,
    lead_costs,
    middle_costs,
)
from companion.arrange.bass.phrases import phrase_starts
from companion.arrange.bass.slots import Slot, slots
from companion.arrange.bass.strikes import BassStrike, PatternPlan, bass_strikes
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.bass import BassCosts as Tastes
from companion.preferences.bass import BassPreferences, BassRange, Spelling


@dataclass(frozen=True, eq=False)
class _BarSlots:
    """The slots of a bar, and what is asked of it as a whole."""

    slots: tuple[int, ...]
    roots: NDArray[np.int64]
    """Root of the chord at each slot, as a pitch index: a note's index minus it, mod 12, is its degree."""
    varied: bool
    """Whether it is part of a walk, and to be new in every chorus."""
    walks: bool
    """Whether there is a choice: a bar of nothing but new chords has their roots."""
    tight: bool
    """Whether there is little choice: two notes at most that aren't a new chord's first, or two in all."""
    guides: NDArray[np.bool_] | None
    """Which pitch indices are third or seventh, in a bar of one chord."""
    beats: tuple[int, ...]
    """Its first three notes that aren't between two beats, by their index in the bar."""
    own: NDArray[np.bool_] | None
    """Which pitch indices are its root, third, fifth, seventh, in a bar of one chord with three notes and more."""
    fourth_and_sixth: tuple[int, int] | None
    """In a bar of a minor tonic: which pitch classes, of pitch indices, are the chord a fourth above it."""
    approaches: tuple[tuple[int, NDArray[np.bool_]], ...]
    """The notes that lead to another chord, by their index in the bar, and which pitch indices are its fifth."""
    turns: bool
    """Whether a section ends with it."""
    places: NDArray[np.float64]
    """Where in the bar each slot lies, as a share of it."""


@dataclass(frozen=True, eq=False)
class _Field:
    """What all choruses of a form share: for each slot its costs."""

    slots: tuple[Slot, ...]
    entry: tuple[CostArray, ...]
    """[r, q]: cost of striking r at this slot after q."""
    middle: tuple[CostArray, ...]
    """[r, p, q]: cost of r after p, q, where q is at this slot."""
    bars: tuple[_BarSlots, ...]
    firsts: tuple[int, ...]
    """MIDI numbers on which a chorus may begin."""
    phrases: tuple[int, ...]
    """The bars on which a phrase begins, and their number: from 0 to that of all bars."""


@dataclass(frozen=True)
class WalkedLine:
    """The line of one chorus: its slots, the MIDI numbers struck there, and where the next chorus begins."""

    slots: tuple[Slot, ...]
    midi: tuple[int, ...]
    goal: int


def bass_line(
    form: Form,
    patterns: PatternPlan,
    *,
    chorus: int = 1,
    seed: int = 0,
    first: int | None = None,
    kept: Mapping[Fraction, int] | None = None,
) -> WalkedLine:
    """The bass line of one chorus.

    Parameters
    ----------
    form : Form
    patterns : tuple of (start, end, name)
        Which pattern of ``bass.toml`` rules from where to where, in quarters; together they cover the form.
    chorus, seed : int
        The same numbers give the same line.
    first : int, optional
        MIDI number to which the line before leads.
    kept : mapping, optional
        Notes that stand already, MIDI numbers by their beats: the line goes through them, from them and to them.
    """
    bass = preferences(BassPreferences)
    field = _field(bass, form, bass_strikes(bass, form, patterns, random.Random(f"places/{seed}/{chorus}")))
    drawn, goal = (random.Random(f"first/{seed}/{c}").choice(field.firsts) for c in (chorus, chorus + 1))
    first = drawn if first is None or first % 12 != drawn % 12 else first
    if kept:
        field = _through_kept(bass, field, kept)
        first = kept.get(field.slots[0].beat, first)
        goal = kept.get(field.slots[0].beat, goal)
    buckets = _bucket_of_each_bar(len(field.bars), seed, chorus)
    walked = _walk(bass, field, first, goal, buckets, random.Random(f"bass/{seed}/{chorus}"))
    return WalkedLine(field.slots, tuple(walked), goal)


@lru_cache(maxsize=16)
def _field(bass: BassPreferences, form: Form, struck: tuple[BassStrike, ...]) -> _Field:
    found = slots(bass, form, struck)
    tonic = (7 * form.fifths + (9 if form.minor else 0)) % 12
    dominant = (tonic + 7) % 12
    entry = tuple(entry_costs(bass, slot, found[n - 1] if n else None, dominant) for n, slot in enumerate(found))
    middle = tuple(middle_costs(bass, slot) for slot in found)
    bars = tuple(_bars_of(bass, form, found))
    return _Field(found, entry, middle, bars, _firsts(bass, found[0], entry[0]), _phrases(bass, form, found))


def _through_kept(bass: BassPreferences, field: _Field, kept: Mapping[Fraction, int]) -> _Field:
    """The field in which no other note than the kept one may be struck where there is one."""
    span = bass.range
    entry = list(field.entry)
    for n, slot in enumerate(field.slots):
        if n and slot.beat in kept and span.lowest <= kept[slot.beat] <= span.highest:
            others = np.arange(span.size) != kept[slot.beat] - span.lowest
            entry[n] = entry[n] + np.where(others, FORBIDDEN, 0.0).astype(np.float32)[:, None]
    return replace(field, entry=tuple(entry))


def _firsts(bass: BassPreferences, slot: Slot, entry: CostArray) -> tuple[int, ...]:
    """MIDI numbers on which a chorus may begin: what the first place asks for, not too high for what follows."""
    span, (low, high) = bass.range, bass.range.comfortable
    pattern = bass.patterns[slot.pattern]
    if pattern.rises:
        high = span.highest - TENTH
    if pattern.one_note:
        high = low + 11  # a pedal lies low
    best = span.lowest + int(entry[:, 0].argmin())
    return tuple(midi for midi in range(low, high + 1) if (midi - best) % 12 == 0) or (best,)


def _phrases(bass: BassPreferences, form: Form, places: Sequence[Slot]) -> tuple[int, ...]:
    """Where phrases begin, counted in the bars that have places."""
    numbers = sorted({slot.bar for slot in places})
    heads = (form.bar_at(start) for start in phrase_starts(bass.shape, form))
    return tuple(sorted({0, len(numbers), *(bisect_left(numbers, bar) for bar in heads)}))


def _rest(bass: BassPreferences, field: _Field, pulls: CostArray, goal: int) -> tuple[CostArray, ...]:
    """For each slot the cost of the best line after it, [p, q] with p before it and q at it, up to the next chorus.

    ``pulls`` [slot, r] is what each pitch costs there besides: how far it lies from this chorus's arc.
    """
    span = bass.range
    ahead = np.full((span.size, span.size), FORBIDDEN, np.float32)
    ahead[goal - span.lowest, :] = lead_costs(bass, field.slots[-1])[goal - span.lowest, :]
    rest: list[CostArray] = []
    scratch = np.empty((span.size,) * 3, np.float32)
    for n in range(len(field.slots) - 1, -1, -1):
        np.add(field.middle[n], ahead[:, None, :], out=scratch)
        best = scratch.min(axis=0)
        rest.append(best)
        ahead = field.entry[n] + best.T + pulls[n][:, None]
    return tuple(reversed(rest))


def _bars_of(bass: BassPreferences, form: Form, places: Sequence[Slot]) -> list[_BarSlots]:
    span = bass.range
    bars: list[_BarSlots] = []
    last = {form.bar_at(section.end - Fraction(1, 48)) for section in form.sections}
    for number, group in groupby(range(len(places)), key=lambda n: places[n].bar):
        inside = tuple(group)
        start, after = form.bars[number - 1], (*form.bars, form.length)[number]
        size = after - start
        where = np.array([float((places[n].beat - start) / size) for n in inside])
        chords = [places[n].harmony for n in inside]
        one = all(h.label == chords[0].label for h in chords)
        guides = _pitches_of(span, chords[0].guides) if one else None
        roots = np.array([h.root - span.lowest for h in chords])
        varied = all(places[n].role in ("walk", "third") for n in inside)
        walks = varied and not all(places[n].new for n in inside)
        tight = len(inside) <= 2 or sum(not places[n].new for n in inside) <= 2
        own = _pitches_of(span, chords[0].plain) if one and len(inside) > 2 else None
        tonic = one and varied and chords[0].minor_tonic
        root = chords[0].root - span.lowest
        bars.append(
            _BarSlots(
                slots=inside,
                roots=roots,
                varied=varied,
                walks=walks,
                tight=tight,
                guides=guides,
                beats=tuple(k for k, n in enumerate(inside) if not places[n].quick)[:3],
                own=own,
                fourth_and_sixth=((root + 5) % 12, (root + 9) % 12) if tonic else None,
                approaches=tuple(_approaches(span, places, inside)),
                turns=number in last,
                places=where,
            )
        )
    return bars


@lru_cache(maxsize=256)
def _pitches_of(span: BassRange, classes: frozenset[int]) -> NDArray[np.bool_]:
    """Which pitch indices of a range belong to some pitch classes."""
    return np.isin(np.arange(span.lowest, span.highest + 1) % 12, list(classes))


def _approaches(
    span: BassRange, places: Sequence[Slot], inside: Sequence[int]
) -> Iterator[tuple[int, NDArray[np.bool_]]]:
    """The walking notes of a bar that lead to another chord, and which pitches are the fifth of its bass."""
    for k, n in enumerate(inside):
        if places[n].leads and places[n].role == "walk" and not places[n].new:
            goal = places[(n + 1) % len(places)].harmony
            yield k, _pitches_of(span, frozenset({(goal.bass + 7) % 12}))


def _walk(
    bass: BassPreferences, field: _Field, first: int, goal: int, buckets: Sequence[int], chance: random.Random
) -> list[int]:
    """Go forward bar by bar; returns MIDI numbers, one a slot."""
    bottom, luck, costs = bass.range.lowest, bass.chance, bass.costs
    arc = Arc(bass.shape, bass.range.comfortable, field.phrases, chance)
    heights = arc.at(np.concatenate([n + bar.places for n, bar in enumerate(field.bars)])) - bottom
    away = np.abs(np.arange(bass.range.size)[None, :] - heights[:, None])
    pulls = np.asarray(bass.shape.pull * away, np.float32)
    rest = _rest(bass, field, pulls, goal)
    line = [first - bottom]
    loops = _Loops(costs, sum(bar.walks for bar in field.bars))
    approaches = _Approaches(bass.spelling)
    for bar, bucket in zip(field.bars, buckets, strict=True):
        ways, prices = _through(field, rest, pulls, line, [n for n in bar.slots if n > 0], luck.beam)
        if bar.slots[0] == 0:
            ways = np.concatenate([np.full((len(ways), 1), line[0]), ways], axis=1)
            line = []
        if bar.varied:
            prices = prices + (luck.other_lot_tight if bar.tight else luck.other_lot) * (_buckets_of(ways) != bucket)
        patterns = [row.tobytes() for row in ((ways - bar.roots) % 12).astype(np.uint8)]
        if bar.walks:
            prices = prices + loops.prices(patterns)
        if bar.varied and len(bar.slots) > 2:
            prices = prices + _figure_costs(costs, ways, bar.turns)
        if bar.walks and bar.guides is not None:
            no_guide = costs.no_guide_tight if bar.tight else costs.no_guide
            prices = prices + no_guide * ~bar.guides[ways].any(axis=1)
        prices = prices + _spelling_costs(bass.spelling, bar, ways)
        prices = prices + approaches.prices(bar, ways, chance)
        temperature = luck.temperature_tight if bar.tight else luck.temperature
        chosen = _draw(prices, temperature, luck.within, chance)
        line += ways[chosen].tolist()
        loops.add(patterns[chosen])
        approaches.add(bar, ways[chosen])
    return [p + bottom for p in line]


class _Loops:
    """Patterns of degrees that have come so far, so that none comes round like a loop."""

    def __init__(self, tastes: Tastes, bars: int) -> None:
        self._tastes = tastes
        self._most = max(1, int(bars * self._tastes.pattern_share))
        self._seen: Counter[bytes] = Counter()
        self._last = b""

    def add(self, pattern: bytes) -> None:
        self._seen[pattern] += 1
        self._last = pattern

    def prices(self, patterns: Sequence[bytes]) -> list[float]:
        """What it costs to play each of some patterns again."""
        return [self._price(pattern) if pattern in self._seen else 0.0 for pattern in patterns]

    def _price(self, pattern: bytes) -> float:
        times = self._seen[pattern]
        over = self._tastes.over_share if times >= self._most else 0.0
        next_door = self._tastes.pattern_next if pattern == self._last else 0.0
        return self._tastes.pattern * times + over + next_door


class _Approaches:
    """Approaches so far, so that those from a fifth keep their share."""

    def __init__(self, tastes: Spelling) -> None:
        self._tastes = tastes
        self._wanted = 0.0
        """How many more there should have been."""

    def add(self, bar: _BarSlots, way: NDArray[np.int64]) -> None:
        for k, fifth in bar.approaches:
            self._wanted += self._tastes.fifths - float(fifth[way[k]])

    def prices(self, bar: _BarSlots, ways: NDArray[np.int64], chance: random.Random) -> NDArray[np.float64]:
        """What it costs to approach otherwise where a fifth is due by chance, and by a fifth where there were many."""
        price = np.zeros(len(ways))
        for k, fifth in bar.approaches:
            if self._wanted < -1:
                price += self._tastes.not_fifth * fifth[ways[:, k]]
            elif chance.random() < self._wanted + self._tastes.fifths:
                price += self._tastes.not_fifth * ~fifth[ways[:, k]]
        return price


VARIETY_BUCKETS = 6
"""Buckets into which the ways through a bar are hashed; as many choruses running each prefer another one."""


def _bucket_of_each_bar(bars: int, seed: int, chorus: int) -> list[int]:
    """The variety bucket that each bar of a chorus prefers."""
    chance = random.Random(f"lots/{seed}")
    return [(chance.randrange(VARIETY_BUCKETS) + chorus) % VARIETY_BUCKETS for _ in range(bars)]


def _buckets_of(ways: NDArray[np.int64]) -> NDArray[np.int64]:
    """The variety bucket of each way through a bar: its pitches hashed to a number (multiplicative hashing)."""
    odd = np.uint64(0x9E3779B97F4A7C15)
    mixed = np.zeros(len(ways), np.uint64)
    for column in ways.T.astype(np.uint64):
        mixed = (mixed ^ (column + np.uint64(1))) * odd
        mixed ^= mixed >> np.uint64(29)
    return np.asarray(mixed % np.uint64(VARIETY_BUCKETS), np.int64)


def _spelling_costs(costs: Spelling, bar: _BarSlots, ways: NDArray[np.int64]) -> NDArray[np.float64]:
    """What ways through a bar cost that don't say its chord, or say another."""
    price = np.zeros(len(ways))
    struck = ways[:, list(bar.beats)]
    if bar.walks and bar.own is not None:
        price += costs.few_tones * (bar.own[struck].sum(axis=1) < 2)
    if bar.fourth_and_sixth is not None:
        fourth, sixth = ((ways % 12 == pc).any(axis=1) for pc in bar.fourth_and_sixth)
        price += costs.subdominant * (fourth & sixth)
    return price


LONG_BAR = 6
"""Notes in a bar from which the line is to change direction, once in every four of them."""


def _figure_costs(costs: Tastes, ways: NDArray[np.int64], turns: bool) -> NDArray[np.float64]:
    """What ways through a bar cost as figures: to and fro between two notes, a run through a long bar that never turns,
    or turning where a section goes on."""
    ordered = np.sort(ways, axis=1)
    different = 1 + (np.diff(ordered, axis=1) != 0).sum(axis=1)
    price = np.where((different <= 2) & (ways.shape[1] > 3), costs.two_notes, 0.0)
    if turns or ways.shape[1] >= LONG_BAR:
        moves = np.sign(np.diff(ways, axis=1))
        turned = (moves[:, 1:] * moves[:, :-1] < 0).sum(axis=1)
        price = price + (costs.turn_at_end * turned if turns else costs.never_turns * (turned < ways.shape[1] // 4))
    return price


def _through(
    field: _Field, rest: Sequence[CostArray], pulls: CostArray, before: list[int], bar: list[int], beam: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Ways through one bar after the notes so far: array [way, slot] of pitch indices, and their costs to the end."""
    q = np.array([before[-1]])
    p = np.array([before[-2] if len(before) > 1 else before[-1]])
    spent = np.zeros(1, np.float32)
    totals = spent
    trails = np.zeros((1, 0), np.int64)
    for n in bar:
        cost = spent + field.middle[n - 1][:, p, q] + field.entry[n][:, q] + pulls[n][:, None]
        totals = (cost + rest[n][q, :].T).ravel()
        keep = np.argpartition(totals, beam)[:beam] if totals.size > beam else np.arange(totals.size)
        totals = totals[keep]
        r, came = np.divmod(keep, q.size)
        spent = cost.ravel()[keep]
        trails = np.concatenate([trails[came], r[:, None]], axis=1)
        p, q = q[came], r
    order = np.lexsort((*trails.T[::-1], totals)) if len(bar) else np.arange(1)
    return trails[order], totals[order].astype(np.float64)


def _draw(costs: NDArray[np.float64], temperature: float, within: float, chance: random.Random) -> int:
    """Draw an index by its cost (Gibbs), none that costs ``within`` more than the cheapest."""
    if temperature <= 0:
        return int(costs.argmin())
    above = costs - costs.min()
    weights = np.exp(-above / temperature) * (above <= within)
    return int(np.searchsorted(np.cumsum(weights), chance.random() * weights.sum()).clip(0, len(weights) - 1))
