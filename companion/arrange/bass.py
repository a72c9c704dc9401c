"""The bass: the line with the smallest cost over the whole form, varied with a little chance in every chorus.

Conventions: beats and lengths in quarters from the first downbeat of the form; pitches as MIDI numbers inside this module,
indexed from the lowest note of the range.

Method: each place struck is a slot with a role (root, fifth, walk, lead ...). Costs are of second order: a note is judged
with the two before it, so that leaps turn back, chromatic notes pass and no pitch comes three times. Dynamic programming
from the end of the form (Viterbi, IEEE Trans. Inf. Theory 13(2), 1967) gives the cost of the best continuation from every
pair of notes. A beam then goes forward bar by bar with that look-ahead; the way through a bar is drawn by its cost (a Gibbs
draw at the temperature of ``bass.toml``), where whole-bar tastes count as well: no pattern of degrees too often, a third or
seventh in each bar. The last note leads to the first of the chorus to come.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.part import Note
from companion.arrange.tables import Table, table
from companion.chart.model import Form

Costs = NDArray[np.float32]
FORBIDDEN = 1e4


@dataclass(frozen=True)
class Slot:
    """A place where the bass strikes."""

    beat: Fraction
    length: Fraction
    harmony: Harmony
    role: str
    new: bool
    """A chord with another root, quality or slash bass begins here."""
    leads: bool
    """The next slot begins a new chord."""
    bar: int
    downbeat: bool
    pattern: str
    hold: float
    pedal: bool = False


# --- where the bass strikes -------------------------------------------------------------------------------------------


def slots(form: Form, patterns: tuple[tuple[Fraction, Fraction, str], ...]) -> tuple[Slot, ...]:
    """The places struck: ``patterns`` tells from where to where which pattern of ``bass.toml`` rules."""
    places: list[tuple[Fraction, str, str]] = []
    for start, end, name in patterns:
        places += [(beat, role, name) for beat, role in _places(form, start, end, name)]
    chords = harmonies(form)
    known = table("bass")["patterns"]
    found: list[Slot] = []
    k = 0
    ruling: list[Harmony] = []
    for beat, _, _ in places:
        while k + 1 < len(chords) and chords[k].end <= beat:
            k += 1
        ruling.append(chords[k])
    for n, ((beat, role, name), harmony) in enumerate(zip(places, ruling, strict=True)):
        until = places[n + 1][0] if n + 1 < len(places) else form.length
        after = ruling[(n + 1) % len(places)]
        bar = form.bar_at(beat)
        found.append(
            Slot(
                beat=beat,
                length=until - beat,
                harmony=harmony,
                role=role,
                new=ruling[n - 1].label != harmony.label or n == 0,
                leads=after.label != harmony.label or n + 1 == len(places),
                bar=bar,
                downbeat=beat == form.bars[bar - 1],
                pattern=name,
                hold=float(known[name].get("hold", 0.9)),
                pedal=bool(known[name].get("pedal", False)),
            )
        )
    return tuple(found)


def _places(form: Form, start: Fraction, end: Fraction, name: str) -> list[tuple[Fraction, str]]:
    """Beats and roles of one pattern over a stretch of the form."""
    pattern = table("bass")["patterns"][name]
    if pattern.get("every") == "beat":
        pulse = form.metre.pulse
        count = math.ceil(end / pulse)
        return [(pulse * n, "walk") for n in range(math.ceil(start / pulse), count)]
    found: dict[Fraction, str] = {}
    bars = [*form.bars, form.length]
    for bar, following in pairwise(bars):
        if start <= bar < end:
            for at, role in _bar_places(pattern, following - bar):
                found[bar + at] = role
    if not pattern.get("one-note"):
        chords = harmonies(form)
        for before, chord in pairwise(chords):
            if start <= chord.start < end and before.label != chord.label:
                found[chord.start] = "root"
    return sorted(found.items())


def _bar_places(pattern: Table, length: Fraction) -> list[tuple[Fraction, str]]:
    key = f"{length.numerator}" if length.denominator == 1 else f"{float(length)}"
    if key in pattern:
        return [(Fraction(at).limit_denominator(24), role) for at, role in pattern[key]]
    places = [(Fraction(at).limit_denominator(24), role) for at, role in pattern.get("4", [[0, "root"]])]
    return [(at, role) for at, role in places if at < length]


# --- what a note costs ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Range:
    """The instrument: MIDI numbers."""

    lowest: int
    highest: int

    @property
    def size(self) -> int:
        return self.highest - self.lowest + 1


def reach() -> Range:
    data = table("bass")["range"]
    return Range(int(data["lowest"]), int(data["highest"]))


@lru_cache(maxsize=16)
def _melodic(pattern: str) -> Costs:
    """Cost of three notes running: array [r, p, q] for p, then q, then r."""
    data = table("bass")
    costs, size = data["costs"], reach().size
    own = data["patterns"][pattern]
    interval = np.full(size, FORBIDDEN, np.float32)
    listed = own.get("interval", costs["interval"])
    interval[: len(listed)] = listed
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
        cost += np.where((first == 0) & (second == 0), costs["third-time"], 0)
    return cost


@lru_cache(maxsize=128)
def _with_foreign(pattern: str, foreign: frozenset[int], leads: bool) -> Costs:
    """The same, where the pitch classes ``foreign`` in the middle are neither chord nor scale."""
    melodic = _melodic(pattern)
    if not foreign:
        return melodic
    costs, bottom, size = table("bass")["costs"], reach().lowest, reach().size
    steps = np.arange(size)
    p, q, r = steps[None, :, None], steps[None, None, :], steps[:, None, None]
    passing = (q - p == r - q) & (np.abs(r - q) == 1)
    if leads:
        passing = passing | (np.abs(r - q) == 1)
    price = np.where(passing, costs["chromatic"], costs["wrong"]).astype(np.float32)
    outside = np.isin((steps + bottom) % 12, list(foreign))
    return np.asarray(melodic + np.where(outside[None, None, :], price, 0), np.float32)


@lru_cache(maxsize=4)
def _register(bottom: int, top: int) -> Costs:
    data = table("bass")["range"]
    low, high = data["comfortable"]
    pitches = np.arange(bottom, top + 1)
    away = np.maximum(np.maximum(low - pitches, pitches - high), 0)
    return (away * data["outside"]).astype(np.float32)


def _by_class(prices: dict[int, float], other: float) -> Costs:
    """Prices by pitch class, laid over the range."""
    row = np.full(12, other, np.float32)
    for pc, price in prices.items():
        row[pc % 12] = price
    span = reach()
    return row[np.arange(span.lowest, span.highest + 1) % 12]


def _node(slot: Slot, tonic_pcs: tuple[int, int]) -> Costs:
    """Cost of each pitch at a slot, its neighbours apart."""
    costs, harmony = table("bass")["costs"], slot.harmony
    span = reach()
    register = _register(span.lowest, span.highest)
    tones = [pc for pc in harmony.tones if pc not in harmony.avoid]
    fifth = next((pc for pc in tones if (pc - harmony.root) % 12 in (6, 7, 8)), harmony.root)
    third = next((pc for pc in tones if (pc - harmony.root) % 12 in (3, 4)), harmony.root)
    if slot.role == "pedal":
        return _by_class({tonic_pcs[1]: 0.0}, FORBIDDEN) + register
    if slot.role == "root" or slot.new:
        return (
            _by_class({third: costs["not-root"], fifth: costs["not-root"]} | {harmony.bass: costs["root"]}, FORBIDDEN)
            + register
        )
    if slot.role == "fifth":
        return _by_class({harmony.root: 2.0, third: 2.5} | {fifth: 0.0}, 30.0) + register
    if slot.role == "tenth":
        return _by_class({third: 0.0}, 30.0) + register
    if slot.role == "tone":
        return _by_class(dict.fromkeys(tones, 0.0), 30.0) + register
    return _walking(slot) + register


@lru_cache(maxsize=512)
def _walking_prices(
    root: int,
    tones: tuple[int, ...],
    scale: tuple[int, ...],
    guides: frozenset[int],
    avoid: frozenset[int],
    downbeat: bool,
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
    return _by_class(prices, 1.0 if downbeat else 0.0)


def _walking(slot: Slot) -> Costs:
    harmony = slot.harmony
    return _walking_prices(
        harmony.root, tuple(harmony.tones), tuple(harmony.scale), harmony.guides, harmony.avoid, slot.downbeat
    )


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


# --- the line ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Field:
    """What the programming leaves for the choruses: for each slot its costs and the best continuation."""

    slots: tuple[Slot, ...]
    entry: tuple[Costs, ...]
    """[r, q]: cost of striking r at this slot after q."""
    middle: tuple[Costs, ...]
    """[r, p, q]: cost of r after p, q, where q is at this slot."""
    rest: tuple[Costs, ...]
    """[p, q]: cost of the best line after this slot, with p before it and q at it."""


@lru_cache(maxsize=64)
def _field(form: Form, patterns: tuple[tuple[Fraction, Fraction, str], ...], goal: int) -> _Field:
    """Best continuations from every pair of notes, to a line whose next chorus begins on the MIDI number ``goal``."""
    places = slots(form, patterns)
    span, pcs = reach(), _tonic_pcs(form)
    entry: list[Costs] = []
    middle: list[Costs] = []
    every = frozenset(range(12))
    for slot in places:
        node = _node(slot, pcs)
        led = slot.new and slot.pattern in _walking_patterns()
        entry.append(node[:, None] + (_lead() if led else np.zeros((span.size, span.size), np.float32)))
        walks = slot.role in ("walk", "lead") and not slot.new
        foreign = every - frozenset(slot.harmony.scale) if walks else frozenset()
        middle.append(_with_foreign(slot.pattern, foreign, slot.leads))
    last = np.full((span.size, span.size), FORBIDDEN, np.float32)
    last[goal - span.lowest, :] = 0.0
    if places and places[-1].pattern in _walking_patterns():
        last = last + _lead()
    rest: list[Costs] = []
    ahead = last
    scratch = np.empty((span.size,) * 3, np.float32)
    for n in range(len(places) - 1, -1, -1):
        np.add(middle[n], ahead[:, None, :], out=scratch)
        best = scratch.min(axis=0)
        rest.append(best)
        ahead = entry[n] + best.T
    return _Field(places, tuple(entry), tuple(middle), tuple(reversed(rest)))


def _walking_patterns() -> frozenset[str]:
    return frozenset(n for n, p in table("bass")["patterns"].items() if p.get("every") == "beat" or "lead" in str(p))


def _tonic_pcs(form: Form) -> tuple[int, int]:
    """Pitch classes of the tonic and the dominant."""
    tonic_pc = (7 * form.fifths + (9 if form.minor else 0)) % 12
    return tonic_pc, (tonic_pc + 7) % 12


def line(
    form: Form, patterns: tuple[tuple[Fraction, Fraction, str], ...], *, chorus: int = 1, seed: int = 0
) -> tuple[tuple[Slot, int], ...]:
    """Slots and the MIDI numbers struck there, for one chorus."""
    first, goal = (_first_pitch(form, patterns, chorus=c, seed=seed) for c in (chorus, chorus + 1))
    field = _field(form, patterns, goal)
    if not field.slots:
        return ()
    chance = random.Random(f"bass/{seed}/{chorus}")
    pitches = _walk(field, first, chance)
    return tuple(zip(field.slots, pitches, strict=True))


@lru_cache(maxsize=256)
def _first_pitch(form: Form, patterns: tuple[tuple[Fraction, Fraction, str], ...], *, chorus: int, seed: int) -> int:
    """Where a chorus begins: one of the places of its first root, so that the chorus before can lead there."""
    places = slots(form, patterns)
    span, (low, high) = reach(), table("bass")["range"]["comfortable"]
    if not places:
        return span.lowest
    pc = _tonic_pcs(form)[1] if places[0].role == "pedal" else places[0].harmony.bass
    choices = [p for p in range(low, high + 1) if p % 12 == pc] or [
        p for p in range(span.lowest, span.highest + 1) if p % 12 == pc
    ]
    return random.Random(f"first/{seed}/{chorus}").choice(choices)


@dataclass
class _Way:
    """A line under way."""

    pitches: list[int]
    patterns: dict[tuple[Any, ...], int]
    last_pattern: tuple[Any, ...] = ()


def _walk(field: _Field, first: int, chance: random.Random) -> list[int]:
    """Go forward bar by bar; returns MIDI numbers, one a slot."""
    bottom = reach().lowest
    tastes, luck = table("bass")["costs"], table("bass")["chance"]
    bars = _bar_groups(field.slots)
    walked = sum(1 for bar in bars if field.slots[bar[0]].role == "walk")
    cap = max(1, int(walked * tastes["pattern-share"]))
    way = _Way([first - bottom], {})
    for bar in bars:
        ways, prices = _through(field, way.pitches, [n for n in bar if n > 0], int(luck["beam"]))
        best = float(prices.min())
        extra = [
            price - best + _bar_taste([field.slots[n] for n in bar], _notes_of(way.pitches, add, bar), way, cap, tastes)
            for add, price in zip(ways, prices.tolist(), strict=True)
        ]
        chosen = _draw(extra, float(luck["temperature"]), chance)
        way.pitches += ways[chosen]
        pattern = _pattern([field.slots[n] for n in bar], [way.pitches[n] for n in bar])
        way.patterns[pattern] = way.patterns.get(pattern, 0) + 1
        way.last_pattern = pattern
    return [p + bottom for p in way.pitches]


def _notes_of(before: list[int], add: list[int], bar: list[int]) -> list[int]:
    return (before[bar[0] :] + add) if bar[0] < len(before) else add


def _bar_groups(places: tuple[Slot, ...]) -> list[list[int]]:
    groups: list[list[int]] = []
    for n, slot in enumerate(places):
        if not groups or places[n - 1].bar != slot.bar:
            groups.append([])
        groups[-1].append(n)
    return groups


def _through(
    field: _Field, before: list[int], bar: list[int], beam: int
) -> tuple[list[list[int]], NDArray[np.float64]]:
    """Ways through one bar after the notes so far, and their cost with the best continuation."""
    if not bar:
        return [[]], np.zeros(1)
    q = np.array([before[-1]])
    p = np.array([before[-2] if len(before) > 1 else before[-1]])
    spent = np.zeros(1, np.float32)
    trails = np.zeros((1, 0), np.int64)
    for n in bar:
        middle = field.middle[n - 1]
        if n == 1:  # nothing before the first note: judge the interval alone
            step = middle[:, q - np.sign(q - 14), q]
        else:
            step = middle[:, p, q]
        cost = spent[None, :] + step + field.entry[n][:, q]
        total = cost + field.rest[n][q, :].T
        flat = total.ravel()
        keep = np.argpartition(flat, beam)[:beam] if flat.size > beam else np.arange(flat.size)
        keep = keep[flat[keep] < flat.min() + 60]
        r, came = np.divmod(keep, q.size)
        spent = cost.ravel()[keep]
        trails = np.concatenate([trails[came], r[:, None]], axis=1)
        p, q = q[came], r
        totals = flat[keep]
    order = np.argsort(totals, kind="stable")
    return [list(map(int, trails[k])) for k in order], totals[order].astype(np.float64)


def _pattern(places: list[Slot], pitches: list[int]) -> tuple[Any, ...]:
    """Degrees over a bar, each above its own chord's root."""
    bottom = reach().lowest
    return tuple((bottom + pitch - slot.harmony.root) % 12 for slot, pitch in zip(places, pitches, strict=True))


def _bar_taste(places: list[Slot], pitches: list[int], way: _Way, cap: int, tastes: Table) -> float:
    """What a way through a bar costs as a whole."""
    if places[0].role != "walk":
        return 0.0
    pattern = _pattern(places, pitches)
    seen = way.patterns.get(pattern, 0)
    cost = float(tastes["pattern"]) * seen + (float(tastes["over-share"]) if seen >= cap else 0.0)
    if pattern == way.last_pattern:
        cost += float(tastes["pattern-next"])
    bottom = reach().lowest
    one_chord = all(slot.harmony.label == places[0].harmony.label for slot in places)
    if one_chord and not any((bottom + p) % 12 in places[0].harmony.guides for p in pitches):
        cost += float(tastes["no-guide"])
    return cost


def _draw(costs: list[float], temperature: float, chance: random.Random) -> int:
    """Draw an index by its cost (Gibbs); the cheapest at temperature 0."""
    lowest = min(costs)
    if temperature <= 0:
        return costs.index(lowest)
    weights = [math.exp(-(cost - lowest) / temperature) for cost in costs]
    return chance.choices(range(len(costs)), weights)[0]


# --- notes ------------------------------------------------------------------------------------------------------------


def notes(
    form: Form, patterns: tuple[tuple[Fraction, Fraction, str], ...], *, chorus: int = 1, seed: int = 0
) -> tuple[Note, ...]:
    """The bass of one chorus.

    Parameters
    ----------
    form : Form
    patterns : tuple of (start, end, name)
        From where to where, in quarters, which pattern of ``bass.toml`` rules; together they cover the form.
    chorus, seed : int
        The same numbers give the same line, other choruses and seeds other lines.
    """
    played = line(form, patterns, chorus=chorus, seed=seed)
    goal = _first_pitch(form, patterns, chorus=chorus + 1, seed=seed)
    found: list[Note] = []
    for n, (slot, midi) in enumerate(played):
        before = played[n - 1][1] if n else None
        after = played[n + 1][1] if n + 1 < len(played) else goal
        following = played[n + 1][0] if n + 1 < len(played) else played[0][0]
        found.append(_note(slot, midi, before, after, following))
    return tuple(found)


def _note(slot: Slot, midi: int, before: int | None, after: int, following: Slot) -> Note:
    harmony = slot.harmony
    degree = harmony.degree(midi % 12)
    name = harmony.name(midi % 12, after % 12)
    length = slot.length * Fraction(slot.hold).limit_denominator(100)
    weight = 1.0 if slot.downbeat or slot.role != "walk" else (1.06 if (slot.beat % 2) == 1 else 0.98)
    return Note(
        beat=slot.beat,
        length=length,
        pitch=name.at(midi),
        part="bass",
        hand="left",
        voice=1,
        degree=degree,
        reason=_reason(slot, midi, before, after, following, degree),
        weight=weight,
        pedal=slot.pedal,
    )


_CALLED = {
    "1": "root",
    "b3": "third",
    "3": "third",
    "5": "fifth",
    "b5": "fifth",
    "b7": "seventh",
    "7": "seventh",
    "6": "sixth",
}


def _reason(slot: Slot, midi: int, before: int | None, after: int, following: Slot, degree: str) -> str:
    symbol = slot.harmony.chord.symbol
    if slot.role == "pedal":
        return "the pedal note, under every chord"
    if slot.new and midi % 12 == slot.harmony.bass:
        return f"the slash bass of {symbol}" if slot.harmony.chord.bass is not None else f"the root says {symbol}"
    if slot.leads and slot.role in ("walk", "lead"):
        goal = following.harmony.name(after % 12)
        move = after - midi
        how = {
            1: "a semitone below",
            -1: "a semitone above",
            2: "a step below",
            -2: "a step above",
            -7: "a fifth above",
            5: "its fifth, below",
        }.get(move)
        if how:
            return f"leads to {goal}: {how}"
    if degree == "x" or (
        before is not None
        and degree not in _CALLED
        and before != after
        and abs(midi - before) <= 2
        and abs(after - midi) <= 2
    ):
        return "passes from the note before to the next"
    called = _CALLED.get(degree)
    return f"the {called} of {symbol}" if called else f"a scale note over {symbol} ({degree})"
