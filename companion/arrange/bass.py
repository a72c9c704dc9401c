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
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.part import Note
from companion.arrange.tables import Table, table
from companion.chart.model import Form

Costs = NDArray[np.float32]
FORBIDDEN = 1e4
Patterns = tuple[tuple[Fraction, Fraction, str], ...]
"""From where to where, in quarters, which pattern of ``bass.toml`` rules; together they cover the form."""


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


def slots(form: Form, patterns: Patterns) -> tuple[Slot, ...]:
    """The places struck: ``patterns`` tells from where to where which pattern of ``bass.toml`` rules."""
    places = [(*place, name) for start, end, name in patterns for place in _places(form, start, end, name)]
    chords = harmonies(form)
    known = table("bass")["patterns"]
    which, k = [], 0
    for beat, _, _ in places:
        while k + 1 < len(chords) and chords[k].end <= beat:
            k += 1
        which.append(k)
    fresh = [_fresh(chords, which, n, beat) for n, (beat, _, _) in enumerate(places)]
    found: list[Slot] = []
    for n, (beat, role, name) in enumerate(places):
        until = places[n + 1][0] if n + 1 < len(places) else form.length
        bar = form.bar_at(beat)
        pattern = known[name]
        found.append(
            Slot(
                beat=beat,
                length=until - beat,
                harmony=chords[which[n]],
                role=role,
                new=fresh[n],
                leads=fresh[(n + 1) % len(places)],
                bar=bar,
                downbeat=beat == form.bars[bar - 1],
                pattern=name,
                hold=float(pattern.get("hold", 0.9)),
                pedal=bool(pattern.get("pedal", False)),
            )
        )
    return tuple(found)


def _fresh(chords: Sequence[Harmony], which: Sequence[int], n: int, beat: Fraction) -> bool:
    """Whether a slot begins a chord unlike the one before, on this beat or since the last slot."""
    here = chords[which[n]]
    if n == 0 or chords[which[n - 1]].label != here.label:
        return True
    return here.start == beat and chords[which[n] - 1].label != here.label


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
        """How many pitches there are in it."""
        return self.highest - self.lowest + 1


@lru_cache(maxsize=1)
def reach() -> Range:
    """The instrument's range, from ``bass.toml``."""
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
def _with_strangers(pattern: str, foreign: frozenset[int], avoid: frozenset[int], leads: bool) -> Costs:
    """The same, where the pitch classes ``foreign`` in the middle are not in the scale, and ``avoid`` rub in the chord."""
    melodic = _melodic(pattern)
    if not foreign and not avoid:
        return melodic
    costs, bottom, size = table("bass")["costs"], reach().lowest, reach().size
    steps = np.arange(size)
    p, q, r = steps[None, :, None], steps[None, None, :], steps[:, None, None]
    passing = (q - p == r - q) & (np.abs(r - q) == 1)
    if leads:
        passing = passing | (np.abs(r - q) == 1)
    stepwise = (np.abs(q - p) <= 2) & (np.abs(r - q) <= 2)
    chromatic = np.where(passing, costs["chromatic"], costs["wrong"])
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
class _Bar:
    """The slots of a bar, and what is asked of it as a whole."""

    slots: tuple[int, ...]
    roots: NDArray[np.int64]
    """Root of the chord at each slot, as an index into the range's octave: pitch index minus it, mod 12, is the degree."""
    walks: bool
    """Whether there is a choice: a bar of nothing but new chords has their roots."""
    guides: NDArray[np.bool_] | None
    """Which pitch indices are third or seventh, in a bar of one chord."""


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
    bars: tuple[_Bar, ...]


@lru_cache(maxsize=64)
def _field(form: Form, patterns: Patterns, goal: int) -> _Field:
    """Best continuations from every pair of notes, to a line whose next chorus begins on the MIDI number ``goal``."""
    places = slots(form, patterns)
    span, pcs = reach(), _tonic_pcs(form)
    entry: list[Costs] = []
    middle: list[Costs] = []
    every = frozenset(range(12))
    for slot in places:
        node = _node(slot, pcs)
        led = slot.new and slot.pattern in _walking_patterns() and not (entry and places[len(entry) - 1].new)
        entry.append(node[:, None] + (_lead() if led else np.zeros((span.size, span.size), np.float32)))
        walks = slot.role in ("walk", "lead") and not slot.new
        foreign = every - frozenset(slot.harmony.scale) if walks else frozenset()
        avoid = slot.harmony.avoid if walks else frozenset()
        middle.append(_with_strangers(slot.pattern, foreign, avoid, slot.leads))
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
    return _Field(places, tuple(entry), tuple(middle), tuple(reversed(rest)), tuple(_bars_of(places)))


def _walking_patterns() -> frozenset[str]:
    return frozenset(n for n, p in table("bass")["patterns"].items() if p.get("every") == "beat" or "lead" in str(p))


def _tonic_pcs(form: Form) -> tuple[int, int]:
    """Pitch classes of the tonic and the dominant."""
    tonic_pc = (7 * form.fifths + (9 if form.minor else 0)) % 12
    return tonic_pc, (tonic_pc + 7) % 12


def line(form: Form, patterns: Patterns, *, chorus: int = 1, seed: int = 0) -> tuple[tuple[Slot, int], ...]:
    """Slots and the MIDI numbers struck there, for one chorus."""
    first, goal = (_first_pitch(form, patterns, chorus=c, seed=seed) for c in (chorus, chorus + 1))
    field = _field(form, patterns, goal)
    if not field.slots:
        return ()
    chance = random.Random(f"bass/{seed}/{chorus}")
    pitches = _walk(field, first, chance)
    return tuple(zip(field.slots, pitches, strict=True))


@lru_cache(maxsize=256)
def _first_pitch(form: Form, patterns: Patterns, *, chorus: int, seed: int) -> int:
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


def _bars_of(places: tuple[Slot, ...]) -> list[_Bar]:
    span = reach()
    bars: list[_Bar] = []
    for _, group in groupby(range(len(places)), key=lambda n: places[n].bar):
        inside = tuple(group)
        chords = [places[n].harmony for n in inside]
        one = all(h.label == chords[0].label for h in chords)
        guides = np.isin(np.arange(span.lowest, span.highest + 1) % 12, list(chords[0].guides)) if one else None
        roots = np.array([h.root - span.lowest for h in chords])
        walks = all(places[n].role == "walk" for n in inside) and not all(places[n].new for n in inside)
        bars.append(_Bar(inside, roots, walks, guides))
    return bars


def _walk(field: _Field, first: int, chance: random.Random) -> list[int]:
    """Go forward bar by bar; returns MIDI numbers, one a slot."""
    bottom = reach().lowest
    tastes, luck = table("bass")["costs"], table("bass")["chance"]
    cap = max(1, int(sum(bar.walks for bar in field.bars) * tastes["pattern-share"]))
    line = [first - bottom]
    seen: Counter[bytes] = Counter()
    last = b""
    shape = _shape(len(field.bars), chance)
    for n, bar in enumerate(field.bars):
        ways, prices = _through(field, line, [n for n in bar.slots if n > 0], int(luck["beam"]))
        if bar.slots[0] == 0:
            ways = np.concatenate([np.full((len(ways), 1), line[0]), ways], axis=1)
            line = []
        patterns = [row.tobytes() for row in ((ways - bar.roots) % 12).astype(np.uint8)]
        prices = prices + shape[n][1] * np.abs(ways + bottom - shape[n][0]).mean(axis=1)
        if bar.walks:
            prices = prices + [_repeated(seen[p], p == last, cap, tastes) for p in patterns]
            if bar.guides is not None:
                price = tastes["no-guide" if len(bar.slots) > 2 else "no-guide-of-two"]
                prices = prices + price * ~bar.guides[ways].any(axis=1)
        heat = luck["temperature" if len(bar.slots) > 2 else "temperature-of-two"]
        chosen = _draw(prices, float(heat), chance)
        line += ways[chosen].tolist()
        last = patterns[chosen]
        seen[last] += 1
    return [p + bottom for p in line]


def _shape(bars: int, chance: random.Random) -> list[tuple[float, float]]:
    """Where the line would like to lie, bar by bar (MIDI number), and how much: a slow wave, another in every chorus."""
    data, (low, high) = table("bass")["shape"], table("bass")["range"]["comfortable"]
    period, start = chance.uniform(*data["period"]), chance.random()
    middle, sway = (low + high) / 2, (high - low) / 2
    return [
        (middle + sway * math.sin(2 * math.pi * (bar / period + start)), float(data["pull"])) for bar in range(bars)
    ]


def _repeated(times: int, next_door: bool, cap: int, tastes: Table) -> float:
    """What a pattern of degrees costs that has come so many times already."""
    over = tastes["over-share"] if times >= cap else 0.0
    return float(tastes["pattern"] * times + over + (tastes["pattern-next"] if next_door else 0.0))


def _through(
    field: _Field, before: list[int], bar: list[int], beam: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Ways through one bar after the notes so far: array [way, slot] of pitch indices, and their costs to the end."""
    q = np.array([before[-1]])
    p = np.array([before[-2] if len(before) > 1 else before[-1]])
    spent = np.zeros(1, np.float32)
    totals = spent
    trails = np.zeros((1, 0), np.int64)
    for n in bar:
        cost = spent + field.middle[n - 1][:, p, q] + field.entry[n][:, q]
        totals = (cost + field.rest[n][q, :].T).ravel()
        keep = np.argpartition(totals, beam)[:beam] if totals.size > beam else np.arange(totals.size)
        totals = totals[keep]
        r, came = np.divmod(keep, q.size)
        spent = cost.ravel()[keep]
        trails = np.concatenate([trails[came], r[:, None]], axis=1)
        p, q = q[came], r
    order = np.lexsort((*trails.T[::-1], totals)) if len(bar) else np.arange(1)
    return trails[order], totals[order].astype(np.float64)


def _draw(costs: NDArray[np.float64], temperature: float, chance: random.Random) -> int:
    """Draw an index by its cost (Gibbs); the cheapest at temperature 0."""
    if temperature <= 0:
        return int(costs.argmin())
    weights = np.exp(-(costs - costs.min()) / temperature)
    return int(np.searchsorted(np.cumsum(weights), chance.random() * weights.sum()).clip(0, len(weights) - 1))


# --- notes ------------------------------------------------------------------------------------------------------------


def notes(form: Form, patterns: Patterns, *, chorus: int = 1, seed: int = 0) -> tuple[Note, ...]:
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
    skipped = _skips(form, [slot for slot, _ in played], random.Random(f"skips/{seed}/{chorus}"))
    for n, (slot, midi) in enumerate(played):
        before = played[n - 1][1] if n else None
        after = played[n + 1][1] if n + 1 < len(played) else goal
        following = played[n + 1][0] if n + 1 < len(played) else played[0][0]
        note = _note(slot, midi, before, after, following)
        found += _with_skip(note) if n in skipped else [note]
    return tuple(found)


def _skips(form: Form, places: Sequence[Slot], chance: random.Random) -> frozenset[int]:
    """Slots after which the line skips: a ghosted quaver before the next beat, now and then, never in two bars running."""
    data, patterns = table("bass")["skips"], table("bass")["patterns"]
    if form.metre.compound or not data["slowest"] <= form.tempo <= data["fastest"] or form.feel not in data["feel"]:
        return frozenset()
    found: set[int] = set()
    last_bar = -1
    for bar, group in groupby(range(len(places)), key=lambda n: places[n].bar):
        inside = [n for n in group if places[n].length == 1 and patterns[places[n].pattern].get("swing-skips")]
        if inside and bar > last_bar + 1 and chance.random() < data["share"]:
            found.add(chance.choice(inside))
            last_bar = bar
    return frozenset(found)


def _with_skip(note: Note) -> list[Note]:
    """A note of one beat, and its echo on the quaver before the next."""
    data = table("bass")["skips"]
    ghost = replace(
        note,
        beat=note.beat + Fraction(1, 2),
        length=Fraction(data["length"]).limit_denominator(24),
        weight=float(data["weight"]),
        reason="a ghosted skip into the next beat",
    )
    return [replace(note, length=Fraction(9, 20)), ghost]


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
