"""Voicings: which notes a chord is played with, chosen over the whole form so that the hand hardly moves.

Conventions: MIDI numbers from the lowest note up.

Method: every chord struck has candidates: the shapes of its families in every octave of the register that the hand,
the low limits, the bass and the melody allow. Dynamic programming (Viterbi) finds the row with the smallest cost: the
movement of the voices, the register, the families preferred; a little chance makes choruses differ.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.chords.context import Strike
from companion.arrange.chords.shapes import Shape, shapes
from companion.arrange.melody.part import MelodyIndex
from companion.preferences.voicings import HandLimits, Register, VoicingCosts, VoicingPreferences

NOWHERE = 1e6
"""Stands in arrays of MIDI numbers for a voice that a voicing lacks."""
_FILLING = (NOWHERE,) * 6


PARALLEL = ("quartal", "so-what", "open")
"""Families whose parallel movement costs nothing, however far."""


@dataclass(frozen=True)
class Voicing:
    """A shape where it lies."""

    shape: Shape
    midi: tuple[int, ...]
    price: float
    forced: bool = False
    """Thinned because no fuller one can be struck there."""


# --- candidates -------------------------------------------------------------------------------------------------------


def candidates(voicings: VoicingPreferences, strike: Strike, melody: MelodyIndex, bass: Sequence[int]) -> list[Voicing]:
    """Voicings that may be struck: in register, above the bass without mud, below the melody without a clash.

    Parameters
    ----------
    voicings : VoicingPreferences
    strike : Strike
    melody : MelodyIndex
        The melody that sounds meanwhile; empty behind a soloist.
    bass : sequence of int
        MIDI numbers of the bass that sound under the strike.
    """
    harmony = strike.harmony
    start, end = float(strike.beat), float(strike.beat + strike.length)
    above = [n.pitch.midi for n in melody.sounding(start, end)]
    costs = voicings.costs
    register = voicings.register_of_the_melody if strike.aim else voicings.register
    coming = melody.after(start)
    ceiling = coming.pitch.midi if coming is not None and float(coming.beat) <= end + 1 else 128
    found = []
    for shape in shapes(voicings, harmony, frozenset(midi % 12 for midi in above), strike.treatment.chords):
        for voicing in _laid(voicings, harmony.root, shape, voicings.register_of_two_hands if shape.left else register):
            top = voicing.midi[-1]
            if not clear(voicings, voicing.midi, above, bass):
                continue
            near = costs.near_melody if above and min(above) - top <= 2 else 0.0
            over = costs.above_next * min(4, max(0, top - ceiling))
            apart = min(above) - voicing.midi[0] if above and not shape.left else 0
            wide = costs.out_of_reach if apart > voicings.hand.span else 0.0
            astray = _astray(costs, top, strike.aim) if strike.aim else 0.0
            found.append(replace(voicing, price=voicing.price + near + over + wide + astray))
    if found and not any(v.shape.family in strike.treatment.chords for v in found):
        found = [replace(v, forced=True) for v in found]
    small = [v for v in found if v.shape.family in strike.treatment.chords and len(v.midi) == 2]
    return small or found  # a family of two notes needs no thinning


def _astray(costs: VoicingCosts, top: int, aim: int) -> float:
    """Price of a top note that isn't the one to land on."""
    return float(costs.astray * ((top - aim) % 12 != 0) + costs.astray_semitone * abs(top - aim))


@lru_cache(maxsize=8192)
def _laid(voicings: VoicingPreferences, root: int, shape: Shape, register: Register) -> tuple[Voicing, ...]:
    """A shape in every octave of its register, the register's price included."""
    low, high = register.centre
    found = []
    for octave in range(24, 84, 12):
        midi: list[int] = []
        for d in shape.degrees:
            pitch = octave + (root + d.semitones) % 12
            while midi and pitch <= midi[-1]:
                pitch += 12
            midi.append(pitch)
        inside = register.lowest <= midi[0] <= register.lowest_at_most and midi[-1] <= register.highest
        if inside and fits_hands(voicings.hand, midi, shape.left) and not muddy(voicings, midi):
            away = max(0, low - midi[0]) + max(0, midi[-1] - high)
            found.append(Voicing(shape, tuple(midi), shape.price + away * register.outside))
    return tuple(found)


def fits_hands(hand: HandLimits, midi: Sequence[int], left: int) -> bool:
    """Whether the lowest ``left`` notes fit one hand and the others the other."""
    hands = midi[:left], midi[left:]
    return all(len(held) <= hand.notes and (not held or held[-1] - held[0] <= hand.span) for held in hands)


def muddy(voicings: VoicingPreferences, midi: Sequence[int]) -> bool:
    """Whether two neighbours lie below the low limit of their interval."""
    limits = voicings.low_limits
    return any(low < limits.get(high - low, 0) for low, high in pairwise(midi))


def clear(voicings: VoicingPreferences, midi: tuple[int, ...], sounding: Sequence[int], bass: Sequence[int]) -> bool:
    """Nothing above the melody or a semitone or minor ninth below it; no mud against the bass, nor below it."""
    for above in sounding:
        if midi[-1] >= above or any(above - note in (1, 13) for note in midi):
            return False
    limits = voicings.low_limits
    return all(low < midi[0] and low >= limits.get(midi[0] - low, 0) for low in bass)


# --- the row of voicings ----------------------------------------------------------------------------------------------


def choose_voicings(
    voicings: VoicingPreferences,
    strikes: Sequence[Strike],
    melody: MelodyIndex,
    bass_under: Sequence[Sequence[int]],
    chance: random.Random,
    standing: Mapping[int, Voicing] | None = None,
    offered: Sequence[Sequence[Voicing]] = (),
) -> list[Voicing | None]:
    """A voicing for every strike, or None where nothing can be played without harm.

    Parameters
    ----------
    voicings : VoicingPreferences
    strikes : sequence of Strike
    melody : MelodyIndex
        The melody that sounds meanwhile; empty behind a soloist.
    bass_under : sequence of sequence of int
        For each strike the MIDI numbers of the bass that sound under it.
    chance : random.Random
        Makes choruses differ.
    standing : mapping, optional
        Voicings that are kept, by the index of their strike: the hand comes from them and goes to them.
    offered : sequence of sequence of Voicing, optional
        The candidates of each strike, where they are known.
    """
    costs = voicings.costs
    heat = costs.temperature
    kept, options = [], []
    for n, strike in enumerate(strikes):
        found = offered[n] if offered else candidates(voicings, strike, melody, bass_under[n])
        found = [standing[n]] if standing and n in standing else found
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
        parallel = strikes[kept[k]].treatment.chords[0] in PARALLEL
        ease = (costs.parallel if same else costs.parallel_on) if parallel else 1.0
        ease = costs.landing if strikes[kept[k]].aim else ease
        total = best[:, None] + ease * _movement(costs, options[k - 1], options[k], same)
        if same and strikes[kept[k]].beat - strikes[kept[k - 1]].beat >= costs.again_after:
            total += (costs.again_parallel if parallel else costs.again) * _equal(options[k - 1], options[k])
        back.append(total.argmin(axis=0))
        best = total.min(axis=0) + nodes[k]
    at = int(best.argmin())
    for k in range(len(kept) - 1, -1, -1):
        chosen[kept[k]] = options[k][at]
        if k:
            at = int(back[k - 1][at])
    return chosen


def _movement(
    costs: VoicingCosts, before: Sequence[Voicing], after: Sequence[Voicing], same: bool
) -> NDArray[np.float64]:
    """Cost of moving the hand, array [before, after]."""
    a, sizes_a = _padded(before)
    b, sizes_b = _padded(after)
    distance = np.abs(a[:, None, :, None] - b[None, :, None, :])
    into = _way(costs, np.where((b < NOWHERE)[None, :, :], distance.min(axis=2), 0.0))
    aligned = sizes_a[:, None] == sizes_b[None, :]
    in_order = _way(costs, np.abs(a[:, None, :] - b[None, :, :]))
    sizes = costs.size * np.abs(sizes_a[:, None] - sizes_b[None, :])
    cost = np.where(aligned, in_order, into + sizes)
    if same:
        cost = cost * costs.same_chord
    return np.asarray(cost, dtype=np.float64)


def _way(costs: VoicingCosts, moved: NDArray[np.float64]) -> NDArray[np.float64]:
    """Price of the ways of single voices, array [before, after, voice]; beyond a second it rises."""
    return np.asarray(costs.move * moved.sum(axis=2) + costs.jump * np.maximum(moved - 2, 0).sum(axis=2))


def _equal(before: Sequence[Voicing], after: Sequence[Voicing]) -> NDArray[np.float64]:
    """1 where a voicing is the same again, array [before, after]."""
    return np.array([[float(a.midi == b.midi) for b in after] for a in before])


def _padded(voicings: Sequence[Voicing]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The voicings as rows of MIDI numbers, filled up to six voices, and how many voices each has."""
    rows = np.array([v.midi + _FILLING[len(v.midi) :] for v in voicings])
    return rows, np.array([len(v.midi) for v in voicings])
