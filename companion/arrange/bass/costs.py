"""Costs of the notes of a bass line, from the prices in ``bass.toml``.

Conventions: pitches are indices from the lowest note of the range; arrays of costs are float32. ``p, q, r`` are three
notes running: arrays over them are laid out [r, p, q], so that the smallest over r is found along the first axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from companion.arrange.bass.slots import Slot
from companion.preferences.bass import BassPreferences

CostArray = NDArray[np.float32]
FORBIDDEN = 1e4
"""Cost of what may not be played; above any sum of prices."""
FREE = ("walk", "lead")
"""Roles that may take any note of the scale."""


@lru_cache(maxsize=16)
def _melodic(bass: BassPreferences, pattern: str) -> CostArray:
    """Cost of three notes running: array [r, p, q] for p, then q, then r."""
    costs, size = bass.costs, bass.range.size
    own = bass.patterns[pattern]
    interval = np.full(size, FORBIDDEN, np.float32)
    listed = costs.interval if own.interval is None else own.interval
    interval[: len(listed)] = listed[:size]
    if own.free_leaps:
        interval[len(listed) :] = listed[-1]
    steps = np.arange(size)
    p, q = steps[None, :, None], steps[None, None, :]
    r = steps[:, None, None]
    first, second = q - p, r - q
    cost = np.broadcast_to(interval[np.abs(second)], (size, size, size)).copy()
    turned = np.sign(first) * np.sign(second) < 0
    onward = np.sign(first) * np.sign(second) > 0
    leap, wide = np.abs(first) >= costs.leap, np.abs(first) >= costs.wide
    if not own.free_leaps:
        cost += np.where(leap & ~wide & onward, costs.no_turn, 0)
        cost += np.where(wide & (np.abs(first) != 12) & ~(turned & (np.abs(second) <= 4)), costs.no_turn_wide, 0)
    cost += np.where(turned, costs.turn, 0)
    if own.interval is None:
        cost += np.where((r == p) & (first != 0), costs.there_and_back, 0)
        cost += np.where((first == 0) & (second == 0), costs.third_time, 0)
    return cost


@lru_cache(maxsize=128)
def _with_strangers(
    bass: BassPreferences, pattern: str, foreign: frozenset[int], avoid: frozenset[int], leads: bool, quick: bool
) -> CostArray:
    """The same, where pitch classes ``foreign`` in the middle are not in the scale and ``avoid`` rub in the chord."""
    melodic = _melodic(bass, pattern)
    costs, bottom, size = bass.costs, bass.range.lowest, bass.range.size
    steps = np.arange(size)
    p, q, r = steps[None, :, None], steps[None, None, :], steps[:, None, None]
    if quick:
        far = (np.abs(q - p) > 4).astype(np.float32) + (np.abs(r - q) > 2) + 0.5 * ((q - p) * (r - q) < 0)
        melodic = np.asarray(melodic + far * costs.quick_leap, np.float32)
    if not foreign and not avoid:
        return melodic
    passing = (q - p == r - q) & (np.abs(r - q) == 1)
    if leads:
        passing = passing | (np.abs(r - q) == 1)
    stepwise = (np.abs(q - p) <= 2) & (np.abs(r - q) <= 2)
    chromatic = np.where(passing, costs.chromatic + np.where(r == p, costs.chromatic_and_back, 0), costs.wrong)
    rubbing = np.where(stepwise, 0.0, costs.avoided_leap)
    outside = np.isin((steps + bottom) % 12, list(foreign))[None, None, :]
    rubs = np.isin((steps + bottom) % 12, list(avoid))[None, None, :]
    return np.asarray(melodic + np.where(outside, chromatic, 0) + np.where(rubs, rubbing, 0), np.float32)


@lru_cache(maxsize=4)
def _register(bass: BassPreferences) -> CostArray:
    span = bass.range
    low, high = span.comfortable
    pitches = np.arange(span.lowest, span.highest + 1)
    away = np.maximum(np.maximum(low - pitches, pitches - high), 0)
    return np.asarray(away * span.outside, np.float32)


def _by_class(bass: BassPreferences, prices: dict[int, float], other: float) -> CostArray:
    """Prices by pitch class, laid over the range."""
    row = np.full(12, other, np.float32)
    for pc, price in prices.items():
        row[pc % 12] = price
    span = bass.range
    return np.asarray(row[np.arange(span.lowest, span.highest + 1) % 12], np.float32)


def _node(bass: BassPreferences, slot: Slot, dominant: int) -> CostArray:
    """Cost of each pitch at a slot, its neighbours apart."""
    register = _register(bass)
    if slot.role in FREE and not slot.new:
        return _walking(bass, slot) + register
    if slot.role == "root" and bass.patterns[slot.pattern].rises:
        register = register + _low_root(bass)
    return _by_class(bass, *_wanted(bass, slot, dominant)) + register


def _wanted(bass: BassPreferences, slot: Slot, dominant: int) -> tuple[dict[int, float], float]:
    """Prices by pitch class of what a slot's role asks for, and the price of anything else."""
    costs, instead, harmony = bass.costs, bass.instead, slot.harmony
    tones = [pc for pc in harmony.tones if pc in harmony.plain]
    above = {(pc - harmony.root) % 12: pc for pc in tones}
    fifth = next((above[s] for s in (7, 6, 8) if s in above), harmony.root)
    third = next((above[s] for s in (4, 3, 5, 2) if s in above), harmony.root)
    if slot.role == "pedal":
        return {dominant: 0.0}, FORBIDDEN
    if slot.role == "third" and (not slot.new or bass.patterns[slot.pattern].every):
        return {third: 0.0}, FORBIDDEN
    if slot.role in ("root", "ahead") or slot.new:
        return {third: costs.not_root, fifth: costs.not_root, harmony.bass: costs.root}, FORBIDDEN
    if slot.role == "fifth":
        return {harmony.root: instead.fifth_by_root, third: instead.fifth_by_third, fifth: 0.0}, instead.other
    if slot.role == "seventh":
        sevenths = (above[s] for s in (9, 10, 11) if s in above)
        return {fifth: instead.seventh_by_fifth, **dict.fromkeys(sevenths, 0.0)}, instead.other
    if slot.role == "octave":
        return {harmony.bass: 0.0}, instead.other
    if slot.role == "tenth":
        return {third: 0.0}, instead.other
    return dict.fromkeys(tones, 0.0), instead.other


TENTH = 16
"""Semitones that have to be free above a root whose tenth follows."""


@lru_cache(maxsize=2)
def _low_root(bass: BassPreferences) -> CostArray:
    """Cost of a root too high for its tenth."""
    steps = np.arange(bass.range.size)
    return np.asarray(np.maximum(0, steps - (bass.range.size - 1 - TENTH)) * bass.instead.high_root, np.float32)


@dataclass(frozen=True)
class _Place:
    """What a place in its bar, and the kind of its chord, ask of a walking note."""

    downbeat: str
    middle: bool
    plain: frozenset[int]
    spelled_out: bool
    tonic: bool


@lru_cache(maxsize=512)
def _walking_prices(
    bass: BassPreferences,
    root: int,
    tones: tuple[int, ...],
    scale: tuple[int, ...],
    guides: frozenset[int],
    avoid: frozenset[int],
    place: _Place,
) -> CostArray:
    costs, spelling, downbeat = bass.costs, bass.spelling, place.downbeat
    prices: dict[int, float] = dict.fromkeys(scale, costs.scale_tone)
    prices |= dict.fromkeys(avoid, costs.avoided)
    prices |= dict.fromkeys(tones, costs.chord_tone)
    prices |= dict.fromkeys(guides, costs.guide_tone)
    prices[root] = costs.root_again
    if downbeat:
        at_bar = {root, *(pc for pc in tones if (pc - root) % 12 in (3, 4, 5, 6, 7, 8))}
        prices = {pc: (price if pc in at_bar else price + costs.downbeat_other) for pc, price in prices.items()}
    if downbeat == "again":
        prices = {pc: price if pc == root else price + costs.long_not_root for pc, price in prices.items()}
    elif downbeat == "between":
        prices[root] += costs.long_root_between
    if place.spelled_out:
        prices = {pc: price + spelling.not_own * (pc not in tones) for pc, price in prices.items()}
    if place.middle:
        prices = {pc: price + spelling.third_beat_other * (pc not in place.plain) for pc, price in prices.items()}
    if place.tonic:
        prices[(root + 5) % 12] = spelling.fourth + (spelling.subdominant if place.middle else costs.scale_tone)
    return _by_class(bass, prices, costs.downbeat_chromatic if downbeat else 0.0)


def _walking(bass: BassPreferences, slot: Slot) -> CostArray:
    harmony = slot.harmony
    tones, scale = tuple(harmony.tones), tuple(harmony.scale)
    place = _Place(
        _downbeat(slot, bass.costs.long), slot.middle, harmony.plain, harmony.spelled_out, harmony.minor_tonic
    )
    return _walking_prices(bass, harmony.root, tones, scale, harmony.guides, harmony.avoid, place)


def _downbeat(slot: Slot, long: int) -> str:
    """What a bar line is within a chord: of one of ``long`` bars the root comes again in every other, not between."""
    if not slot.downbeat:
        return ""
    if slot.lasts < long:
        return "bar line"
    return "between" if slot.since % 2 else "again"


@lru_cache(maxsize=2)
def _lead(bass: BassPreferences) -> CostArray:
    """Cost [r, q] of reaching the root r of a new chord from q."""
    costs, size = bass.costs, bass.range.size
    steps = np.arange(size)
    move = steps[:, None] - steps[None, :]
    price = np.full((size, size), costs.lead_other, np.float32)
    price[np.abs(move) == 2] = costs.lead_step
    price[np.abs(move) == 1] = costs.lead_semitone
    price[move == -7] = costs.lead_fifth
    price[move == 5] = costs.lead_fifth_below
    price[move == 0] = costs.lead_other + costs.repeat_across
    return price


@lru_cache(maxsize=2)
def _root_to_root(bass: BassPreferences) -> CostArray:
    """Cost [r, q] of a new chord's root r right after another root q: of its octaves the one that leads."""
    steps = np.arange(bass.range.size)
    move = steps[:, None] - steps[None, :]
    leads = np.isin(np.abs(move), (1, 2, 7)) | (move == 5)
    return np.asarray(np.where(leads, 0.0, bass.costs.root_to_root), np.float32)


@lru_cache(maxsize=2)
def _nothing(size: int) -> CostArray:
    return np.zeros((size, size), np.float32)


@lru_cache(maxsize=2)
def _rising(bass: BassPreferences, least: int) -> CostArray:
    """Cost [r, q] that keeps r above q, by so many semitones if there is room for them."""
    steps = np.arange(bass.range.size)
    move = steps[:, None] - steps[None, :]
    short = np.where(move > 0, bass.instead.small_rise, bass.instead.no_rise)
    return np.where(move >= least, 0.0, short).astype(np.float32)


def lead_costs(bass: BassPreferences, before: Slot) -> CostArray:
    """Cost [r, q] of a new chord's root r after q at a slot: a walking note leads, a root may, another needn't."""
    if before.role not in FREE:
        return _nothing(bass.range.size)
    return _root_to_root(bass) if before.new else _lead(bass)


def entry_costs(bass: BassPreferences, slot: Slot, before: Slot | None, dominant: int) -> CostArray:
    """Cost [r, q] of striking r at a slot after q at the one before; ``dominant`` is the key's, for pedals."""
    lead = lead_costs(bass, before) if slot.new and before is not None else _nothing(bass.range.size)
    rises = bass.patterns[slot.pattern].rises
    if rises and slot.role in ("fifth", "seventh", "tenth", "octave") and not slot.new:
        after_root = before is not None and (before.new or before.role == "root")
        lead = _rising(bass, 12 if slot.role == "tenth" and after_root else 1)
    return np.asarray(_node(bass, slot, dominant)[:, None] + lead, np.float32)


def middle_costs(bass: BassPreferences, slot: Slot) -> CostArray:
    """Cost [r, p, q] of r after p and q, where q is at this slot."""
    free = slot.role in FREE and not slot.new
    foreign = frozenset(range(12)) - frozenset(slot.harmony.scale) if free else frozenset()
    avoid = slot.harmony.avoid if free else frozenset[int]()
    return _with_strangers(bass, slot.pattern, foreign, avoid, slot.leads, slot.quick)
