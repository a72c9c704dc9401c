"""What the notes of a bass line cost, from the tastes in ``bass.toml``.

Conventions: pitches are indices from the lowest note of the range; arrays of costs are float32. ``p, q, r`` are three
notes running: arrays over them are laid out [r, p, q], so that the smallest over r is found along the first axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from companion.arrange.bass.slots import Slot
from companion.arrange.tables import table
from companion.errors import ConfigError

Costs = NDArray[np.float32]
FORBIDDEN = 1e4
FREE = ("walk", "lead")
"""Roles that take any note of the scale which makes a good line."""


@dataclass(frozen=True)
class Range:
    """What the instrument reaches, in MIDI numbers."""

    lowest: int
    highest: int

    @property
    def size(self) -> int:
        """How many pitches there are in it."""
        return self.highest - self.lowest + 1


@lru_cache(maxsize=1)
def reach() -> Range:
    """The instrument's range, from ``bass.toml``.

    Raises
    ------
    ConfigError
        When it isn't a range, or less than an octave.
    """
    data = table("bass")["range"]
    low, high, comfortable = data["lowest"], data["highest"], data["comfortable"]
    if not (0 <= low <= high - 12 <= 115 and len(comfortable) == 2 and low <= comfortable[0] <= comfortable[1] <= high):
        what = f"from {low} to {high}, comfortable {comfortable}, is no range for a bass"
        mend = "an octave at least, and the comfortable part [from, to] within it, in MIDI numbers"
        raise ConfigError(what, file="bass.toml", where="[range]", mend=mend)
    return Range(int(low), int(high))


@lru_cache(maxsize=16)
def _melodic(pattern: str) -> Costs:
    """Cost of three notes running: array [r, p, q] for p, then q, then r."""
    data = table("bass")
    costs, size = data["costs"], reach().size
    own = data["patterns"][pattern]
    interval = np.full(size, FORBIDDEN, np.float32)
    listed = own.get("interval", costs["interval"])
    interval[: len(listed)] = listed[:size]
    if own.get("free-leaps"):
        interval[len(listed) :] = listed[-1]
    steps = np.arange(size)
    p, q = steps[None, :, None], steps[None, None, :]
    r = steps[:, None, None]
    first, second = q - p, r - q
    cost = np.broadcast_to(interval[np.abs(second)], (size, size, size)).copy()
    turned = np.sign(first) * np.sign(second) < 0
    onward = np.sign(first) * np.sign(second) > 0
    leap, wide = np.abs(first) >= costs["leap"], np.abs(first) >= costs["wide"]
    if not own.get("free-leaps"):
        cost += np.where(leap & ~wide & onward, costs["no-turn"], 0)
        cost += np.where(wide & (np.abs(first) != 12) & ~(turned & (np.abs(second) <= 4)), costs["no-turn-wide"], 0)
    cost += np.where(turned, costs["turn"], 0)
    if "interval" not in own:
        cost += np.where((r == p) & (first != 0), costs["there-and-back"], 0)
        cost += np.where((first == 0) & (second == 0), costs["third-time"], 0)
    return cost


@lru_cache(maxsize=128)
def _with_strangers(pattern: str, foreign: frozenset[int], avoid: frozenset[int], leads: bool, quick: bool) -> Costs:
    """The same, where pitch classes ``foreign`` in the middle are not in the scale and ``avoid`` rub in the chord."""
    melodic = _melodic(pattern)
    costs, bottom, size = table("bass")["costs"], reach().lowest, reach().size
    steps = np.arange(size)
    p, q, r = steps[None, :, None], steps[None, None, :], steps[:, None, None]
    if quick:
        far = (np.abs(q - p) > 4).astype(np.float32) + (np.abs(r - q) > 2)
        melodic = np.asarray(melodic + far * costs["quick-leap"], np.float32)
    if not foreign and not avoid:
        return melodic
    passing = (q - p == r - q) & (np.abs(r - q) == 1)
    if leads:
        passing = passing | (np.abs(r - q) == 1)
    stepwise = (np.abs(q - p) <= 2) & (np.abs(r - q) <= 2)
    chromatic = np.where(passing, costs["chromatic"] + np.where(r == p, costs["chromatic-and-back"], 0), costs["wrong"])
    rubbing = np.where(stepwise, 0.0, costs["avoided-leap"])
    outside = np.isin((steps + bottom) % 12, list(foreign))[None, None, :]
    rubs = np.isin((steps + bottom) % 12, list(avoid))[None, None, :]
    return np.asarray(melodic + np.where(outside, chromatic, 0) + np.where(rubs, rubbing, 0), np.float32)


@lru_cache(maxsize=4)
def _register(bottom: int, top: int) -> Costs:
    data = table("bass")["range"]
    low, high = data["comfortable"]
    pitches = np.arange(bottom, top + 1)
    away = np.maximum(np.maximum(low - pitches, pitches - high), 0)
    return np.asarray(away * data["outside"], np.float32)


def _by_class(prices: dict[int, float], other: float) -> Costs:
    """Prices by pitch class, laid over the range."""
    row = np.full(12, other, np.float32)
    for pc, price in prices.items():
        row[pc % 12] = price
    span = reach()
    return np.asarray(row[np.arange(span.lowest, span.highest + 1) % 12], np.float32)


def _node(slot: Slot, dominant: int) -> Costs:
    """Cost of each pitch at a slot, its neighbours apart."""
    register = _register(reach().lowest, reach().highest)
    if slot.role in FREE and not slot.new:
        return _walking(slot) + register
    if slot.role == "root" and table("bass")["patterns"][slot.pattern].get("rises"):
        register = register + _low_root()
    return _by_class(*_wanted(slot, dominant)) + register


def _wanted(slot: Slot, dominant: int) -> tuple[dict[int, float], float]:
    """Prices by pitch class of what a slot's role asks for, and the price of anything else."""
    costs, harmony = table("bass")["costs"], slot.harmony
    tones = [pc for pc in harmony.tones if pc not in harmony.avoid]
    above = {(pc - harmony.root) % 12: pc for pc in tones}
    fifth = next((above[s] for s in (7, 6, 8) if s in above), harmony.root)
    third = next((above[s] for s in (4, 3, 5, 2) if s in above), harmony.root)
    if slot.role == "pedal":
        return {dominant: 0.0}, FORBIDDEN
    if slot.role in ("root", "ahead") or slot.new:
        return {third: costs["not-root"], fifth: costs["not-root"], harmony.bass: costs["root"]}, FORBIDDEN
    if slot.role == "fifth":
        return {harmony.root: 4.0, third: 2.0, fifth: 0.0}, 30.0
    if slot.role == "seventh":
        return {fifth: 3.0, **dict.fromkeys((above[s] for s in (9, 10, 11) if s in above), 0.0)}, 30.0
    if slot.role == "octave":
        return {harmony.bass: 0.0}, 30.0
    if slot.role == "tenth":
        return {third: 0.0}, 30.0
    return dict.fromkeys(tones, 0.0), 30.0


TENTH = 16
"""Semitones that a root leaves above it where its tenth is to follow."""


@lru_cache(maxsize=1)
def _low_root() -> Costs:
    """Cost of a root too high for its tenth."""
    steps = np.arange(reach().size)
    return np.asarray(np.maximum(0, steps - (reach().size - 1 - TENTH)) * 3.0, np.float32)


@lru_cache(maxsize=512)
def _walking_prices(
    root: int,
    tones: tuple[int, ...],
    scale: tuple[int, ...],
    guides: frozenset[int],
    avoid: frozenset[int],
    downbeat: str,
) -> Costs:
    costs = table("bass")["costs"]
    prices: dict[int, float] = dict.fromkeys(scale, costs["scale-tone"])
    prices |= dict.fromkeys(avoid, costs["avoided"])
    prices |= dict.fromkeys(tones, costs["chord-tone"])
    prices |= dict.fromkeys(guides, costs["guide-tone"])
    prices[root] = costs["root-again"]
    if downbeat:
        at_bar = {root, *(pc for pc in tones if (pc - root) % 12 in (3, 4, 5, 6, 7, 8))}
        prices = {pc: (price if pc in at_bar else price + costs["downbeat-other"]) for pc, price in prices.items()}
    if downbeat == "again":
        prices = {pc: price if pc == root else price + costs["long-not-root"] for pc, price in prices.items()}
    elif downbeat == "between":
        prices[root] += costs["long-root-between"]
    return _by_class(prices, costs["downbeat-chromatic"] if downbeat else 0.0)


def _walking(slot: Slot) -> Costs:
    harmony = slot.harmony
    return _walking_prices(
        harmony.root, tuple(harmony.tones), tuple(harmony.scale), harmony.guides, harmony.avoid, _downbeat(slot)
    )


def _downbeat(slot: Slot) -> str:
    """What a bar line is within a chord: of a long one the root comes again in every other bar, not between."""
    if not slot.downbeat:
        return ""
    if slot.lasts < LONG:
        return "bar line"
    return "between" if slot.since % 2 else "again"


LONG = 3
"""Bars of one chord that make it a long one."""


@lru_cache(maxsize=1)
def _lead() -> Costs:
    """Cost [r, q] of reaching the root r of a new chord from q."""
    costs, size = table("bass")["costs"], reach().size
    steps = np.arange(size)
    move = steps[:, None] - steps[None, :]
    price = np.full((size, size), costs["lead-other"], np.float32)
    price[np.abs(move) == 2] = costs["lead-step"]
    price[np.abs(move) == 1] = costs["lead-semitone"]
    price[move == -7] = costs["lead-fifth"]
    price[move == 5] = costs["lead-fifth-below"]
    price[move == 0] = costs["lead-other"] + costs["repeat-across"]
    return price


@lru_cache(maxsize=1)
def _root_to_root() -> Costs:
    """Cost [r, q] of a new chord's root r right after another root q: of its octaves the one that leads."""
    steps = np.arange(reach().size)
    move = steps[:, None] - steps[None, :]
    leads = np.isin(np.abs(move), (1, 2, 7)) | (move == 5)
    return np.asarray(np.where(leads, 0.0, table("bass")["costs"]["root-to-root"]), np.float32)


@lru_cache(maxsize=1)
def _nothing() -> Costs:
    return np.zeros((reach().size,) * 2, np.float32)


@lru_cache(maxsize=2)
def _rising(least: int) -> Costs:
    """Cost [r, q] that keeps r above q, by so many semitones if there is room for them."""
    steps = np.arange(reach().size)
    move = steps[:, None] - steps[None, :]
    return np.where(move >= least, 0.0, np.where(move > 0, 6.0, 18.0)).astype(np.float32)


def lead_costs(before: Slot) -> Costs:
    """Cost [r, q] of a new chord's root r after q at a slot: a walking note leads, a root may, another needn't."""
    if before.role not in FREE:
        return _nothing()
    return _root_to_root() if before.new else _lead()


def entry_costs(slot: Slot, before: Slot | None, dominant: int) -> Costs:
    """Cost [r, q] of striking r at a slot after q at the one before; ``dominant`` is the key's, for pedals."""
    lead = lead_costs(before) if slot.new and before is not None else _nothing()
    rises = table("bass")["patterns"][slot.pattern].get("rises")
    if rises and slot.role in ("fifth", "seventh", "tenth", "octave") and not slot.new:
        after_root = before is not None and (before.new or before.role == "root")
        lead = _rising(12 if slot.role == "tenth" and after_root else 1)
    return np.asarray(_node(slot, dominant)[:, None] + lead, np.float32)


def middle_costs(slot: Slot) -> Costs:
    """Cost [r, p, q] of r after p and q, where q is at this slot."""
    free = slot.role in FREE and not slot.new
    foreign = frozenset(range(12)) - frozenset(slot.harmony.scale) if free else frozenset()
    avoid = slot.harmony.avoid if free else frozenset[int]()
    return _with_strangers(slot.pattern, foreign, avoid, slot.leads, slot.quick)
