"""Voicings: which notes a chord is played with, chosen over the whole form so that the hand hardly moves.

Conventions: MIDI numbers from the lowest note up; degrees as musicians say them. Families and their degrees are data
(``voicings.toml``), after Levine, The Jazz Piano Book, 1989, and common practice.

Method: every chord struck has candidates: the forms of its families, coloured as symbol, melody and resolution ask, in every
octave of the register that the hand, the low limits, the bass and the melody allow. Dynamic programming (Viterbi) finds the
row with the smallest cost: the movement of the voices, the register, families preferred.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.comping import Strike
from companion.arrange.harmony import Harmony
from companion.arrange.melody import Line
from companion.arrange.part import Note
from companion.arrange.tables import table
from companion.music.kinds import Degree, degree

NOWHERE = 1e6
"""Stands for a voice that a voicing has not."""
_FILLING = (NOWHERE,) * 6


@dataclass(frozen=True)
class Shape:
    """A form before it has an octave: its degrees from the lowest up, what it is called, what it costs."""

    family: str
    name: str
    degrees: tuple[Degree, ...]
    price: float
    why: str = ""


@dataclass(frozen=True)
class Voicing:
    """A shape where it lies."""

    shape: Shape
    midi: tuple[int, ...]
    price: float


# --- shapes -----------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=2048)
def _shapes(
    quality: str,
    tones: tuple[Degree, ...],
    to_minor: bool,
    tonic_minor: bool,
    asked: frozenset[int],
    families: tuple[str, ...],
) -> tuple[Shape, ...]:
    """All shapes for a chord. ``asked``: semitones above the root that the melody sounds meanwhile."""
    data, costs = table("voicings"), table("voicings")["costs"]
    looked_up = quality
    if quality == "m" and not tonic_minor:
        looked_up = "m7"
    found: list[Shape] = []
    for rank, family in enumerate((*families, "three", "two")):
        extra = {"three": costs["thin"], "two": costs["thinner"]}.get(family, rank * costs["family"])
        kinds = [(looked_up, 0.0, "")]
        if quality == "maj7" and 0 in asked:
            kinds = [("6", 0.0, "the melody has the root, so 6 instead of 7")]
        if 5 in asked and looked_up in ("7", "maj7", "6", "maj"):
            kinds = [("7sus", 0.0, "the melody has the fourth, so the third gives way")]
        for kind, price, why in kinds:
            forms = (
                data[family].get(kind, {})
                if not (kind == "7sus" and looked_up in ("maj7", "6", "maj"))
                else _fourth_for_third(data[family].get(looked_up, {}))
            )
            for name, text in forms.items():
                for degrees, colour, because in _coloured(text, looked_up, tones, to_minor, asked):
                    found.append(Shape(family, name, degrees, extra + price + colour, because or why))
    if not found:
        own = tuple(t for t in tones if t.number != 1) or tones
        found = [Shape("as written", "its own notes", own, 0.0)]
    return tuple(found)


def _fourth_for_third(forms: dict[str, str]) -> dict[str, str]:
    return {name: " ".join("4" if d == "3" else d for d in text.split()) for name, text in forms.items()}


def _coloured(
    text: str, quality: str, tones: tuple[Degree, ...], to_minor: bool, asked: frozenset[int]
) -> list[tuple[tuple[Degree, ...], float, str]]:
    """A form with the alterations that symbol, resolution or melody ask for."""
    plain = tuple(degree(word) for word in text.split())
    options: list[tuple[dict[str, str], float, str]] = []
    has = {str(t) for t in tones}
    price = table("voicings")["costs"]["variant"]
    ninths: list[str] = [d for d in ("b9", "#9") if d in has]
    fifths: list[str] = [d for d in ("b5", "#5") if d in has]
    upper: list[str] = [d for d in ("b13",) if d in has] or (["#5"] if "#5" in has and quality in ("7", "aug") else [])
    eleven: list[str] = [d for d in ("#11",) if d in has] or (["b5"] if "b5" in has and quality == "7" else [])
    if quality in ("7", "7alt", "7sus"):
        nine, thirteen, because = list(ninths), list(upper), ""
        if eleven and "13" not in has and not upper:
            thirteen = eleven
        if quality == "7alt":
            nine, thirteen, because = ninths or ["#9", "b9"], upper or eleven or ["b13"], ""
        elif to_minor and not nine and not thirteen and "9" not in has and "13" not in has:
            nine, thirteen, because = (
                ["b9", "#9"],
                ["b13"],
                "it resolves to minor, so the ninth and thirteenth are altered",
            )
        elif quality == "7" and asked & {1, 3, 8} and not nine and not thirteen:
            nine = [d for d, s in (("b9", 1), ("#9", 3)) if s in asked] or ["9"]
            thirteen = ["b13"] if 8 in asked else ["13"]
            because = "altered as the melody is"
        for a in nine or ["9"]:
            for b in thirteen or ["13"]:
                options.append(({"9": a, "#9": a, "b9": a, "13": b, "b13": b, "5": (fifths or ["5"])[0]}, 0.0, because))
    elif quality in ("maj7", "6", "maj") and ("#11" in has or fifths):
        swap = "#11" if "#11" in has else fifths[0]
        options.append(({"5": swap}, 0.0, ""))
    elif quality == "m7" and fifths:
        options.append(({"5": fifths[0]}, 0.0, ""))
    else:
        options.append(({}, 0.0, ""))
    del price
    return [(tuple(degree(swaps.get(str(d), str(d))) for d in plain), cost, why) for swaps, cost, why in options]


# --- candidates -------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=8192)
def _laid(root: int, shape: Shape) -> tuple[Voicing, ...]:
    """A shape in every octave of the register, the register's price included."""
    data = table("voicings")
    register, hand, costs = data["register"], data["hand"], data["costs"]
    low, high = register["centre"]
    found = []
    for octave in range(12 * 3, 12 * 7, 12):
        midi: list[int] = []
        for d in shape.degrees:
            pitch = octave + (root + d.semitones) % 12
            while midi and pitch <= midi[-1]:
                pitch += 12
            midi.append(pitch)
        wide = shape.family in ("open", "so-what")
        if (
            not register["lowest"] <= midi[0] <= register["lowest-at-most"] + (6 if wide else 4)
            or midi[-1] > register["highest"]
        ):
            continue
        if not wide and midi[-1] - midi[0] > hand["span"]:
            continue
        if _muddy(midi):
            continue
        away = max(0, low - midi[0]) + max(0, midi[-1] - high) + 2 * max(0, midi[0] - register["lowest-at-most"])
        found.append(Voicing(shape, tuple(midi), shape.price + away * register["outside"]))
    del costs
    return tuple(found)


def _muddy(midi: Sequence[int]) -> bool:
    limits = _limits()
    return any(low < limits.get(high - low, 0) for low, high in pairwise(midi))


@lru_cache(maxsize=1)
def _limits() -> dict[int, int]:
    return {int(k): int(v) for k, v in table("voicings")["low-limits"].items()}


def candidates(strike: Strike, melody: Line, bass: Sequence[int]) -> list[Voicing]:
    """Voicings that may be struck: in register, above the bass without mud, below the melody without a clash."""
    harmony = strike.harmony
    above = melody.sounding(float(strike.beat), float(strike.beat + strike.length))
    sounding = [n.pitch.midi for n in above]
    asked = frozenset((m - harmony.root) % 12 for m in sounding)
    shapes = _shapes(
        harmony.chord.quality,
        harmony.chord.tones,
        harmony.to_minor,
        _tonic_minor(harmony),
        asked,
        strike.treatment.chords,
    )
    costs = table("voicings")["costs"]
    coming = melody.after(float(strike.beat))
    found = []
    for shape in shapes:
        for voicing in _laid(harmony.root, shape):
            if not _clear(voicing.midi, sounding, bass):
                continue
            price = voicing.price
            if sounding and min(sounding) - voicing.midi[-1] <= 2:
                price += costs["near-melody"]
            if (
                coming is not None
                and coming.beat <= strike.beat + strike.length + 1
                and voicing.midi[-1] > coming.pitch.midi
            ):
                price += costs["above-next"] * min(4, voicing.midi[-1] - coming.pitch.midi)
            found.append(Voicing(shape, voicing.midi, price))
    return found


def _clear(midi: tuple[int, ...], sounding: Sequence[int], bass: Sequence[int]) -> bool:
    for above in sounding:
        if midi[-1] >= above or any(above - note in (1, 13) for note in midi):
            return False
    limits = _limits()
    return all(low < midi[0] and low >= limits.get(midi[0] - low, 0) for low in bass)


def _tonic_minor(harmony: Harmony) -> bool:
    """A minor chord on which the key comes to rest (or one that says nothing of a seventh on the fourth degree)."""
    degree_of_key = (harmony.root - 7 * harmony.fifths) % 12
    return degree_of_key in (9, 2)


# --- the row of voicings ----------------------------------------------------------------------------------------------


def choose(
    strikes: Sequence[Strike], melody: Line, bass_under: Sequence[Sequence[int]], chance: random.Random
) -> list[Voicing | None]:
    """A voicing for every strike, or None where nothing can be played without harm."""
    costs = table("voicings")["costs"]
    heat = float(costs["temperature"])
    kept, options = [], []
    for n, strike in enumerate(strikes):
        found = candidates(strike, melody, bass_under[n])
        if found:
            kept.append(n)
            options.append(found)
    chosen: list[Voicing | None] = [None] * len(strikes)
    if not kept:
        return chosen
    nodes = [np.array([v.price + heat * chance.random() for v in found]) for found in options]
    best = nodes[0]
    back: list[NDArray[np.intp]] = []
    for k in range(1, len(kept)):
        same = strikes[kept[k]].harmony.label == strikes[kept[k - 1]].harmony.label
        total = best[:, None] + _movement(options[k - 1], options[k], same)
        back.append(total.argmin(axis=0))
        best = total.min(axis=0) + nodes[k]
    at = int(best.argmin())
    for k in range(len(kept) - 1, -1, -1):
        chosen[kept[k]] = options[k][at]
        if k:
            at = int(back[k - 1][at])
    return chosen


def _movement(before: Sequence[Voicing], after: Sequence[Voicing], same: bool) -> NDArray[np.float64]:
    """Cost of moving the hand, array [before, after]."""
    costs = table("voicings")["costs"]
    a, sizes_a = _padded(before)
    b, sizes_b = _padded(after)
    distance = np.abs(a[:, None, :, None] - b[None, :, None, :])
    moved = np.where((b < NOWHERE)[None, :, :], distance.min(axis=2), 0.0)
    cost = costs["move"] * moved.sum(axis=2) + costs["jump"] * np.maximum(moved - 2, 0).sum(axis=2)
    aligned = sizes_a[:, None] == sizes_b[None, :]
    paired = np.abs(a[:, None, :] - b[None, :, :])
    in_order = costs["move"] * paired.sum(axis=2) + costs["jump"] * np.maximum(paired - 2, 0).sum(axis=2)
    cost = np.where(aligned, in_order, cost + costs["size"] * np.abs(sizes_a[:, None] - sizes_b[None, :]))
    if same:
        cost = cost * 0.6
    return np.asarray(cost, dtype=np.float64)


def _padded(voicings: Sequence[Voicing]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The voicings as rows of MIDI numbers, filled up to six voices, and how many voices each has."""
    rows = np.array([v.midi + _FILLING[len(v.midi) :] for v in voicings])
    return rows, np.array([len(v.midi) for v in voicings])


# --- notes ------------------------------------------------------------------------------------------------------------


def notes(strike: Strike, voicing: Voicing, hand: str, reason: str) -> list[Note]:
    """The notes of one chord, from the lowest voice (1) up."""
    harmony = strike.harmony
    found = []
    for voice, (midi, tone) in enumerate(zip(voicing.midi, voicing.shape.degrees, strict=True), 1):
        name = harmony.chord.name_of(tone) if harmony.chord.root is not None else harmony.name(midi % 12)
        if abs(name.alter) > 1:
            name = harmony.name(midi % 12)
        found.append(
            Note(strike.beat, strike.length, name.at(midi), "chords", hand, voice, str(tone), reason, strike.weight)
        )
    return found
