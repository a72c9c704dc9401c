"""Voicings: which notes a chord is played with, chosen over the whole form so that the hand hardly moves.

Conventions: MIDI numbers from the lowest note up.

Method: every chord struck has candidates: the shapes of its families in every octave of the register that the hand,
the low limits, the bass and the melody allow, few to a top note. Dynamic programming (Viterbi) finds the row with the
smallest cost: the line of the top notes (:mod:`companion.arrange.chords.top_voice`), the movement of the voices below,
the register, the families preferred; a little chance makes choruses differ.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.chords.context import TINY, Strike
from companion.arrange.chords.liking import Liking, own_liking, with_own_shapes
from companion.arrange.chords.own_notes import has_own_notes_alone
from companion.arrange.chords.shapes import Shape, ShapesOfChord, shapes_of_chord
from companion.arrange.chords.soundness import fits_hands, form_quality, muddy
from companion.arrange.chords.top_voice import STEP, WAYS, line_costs, melody_move, ways_of
from companion.arrange.melody.part import MelodyIndex
from companion.preferences.voicings import Register, VoicingCosts, VoicingPreferences

NOWHERE = 1000
"""Stands in arrays of MIDI numbers for a voice that a voicing lacks."""
NEVER = 1e6
"""A cost that nothing outweighs."""


HAND_MOVES = 0.5
"""Quarters before the melody's next note within which the hand has to be on its way there."""

PARALLEL = ("quartal", "fourths-and-a-third", "open")
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


def candidates(
    voicings: VoicingPreferences,
    strike: Strike,
    melody: MelodyIndex,
    bass: Sequence[int],
    *,
    pedalled: bool = False,
    liking: Liking | None = None,
) -> list[Voicing]:
    """Voicings that may be struck: in register, above the bass without mud, below the melody without a clash.

    Parameters
    ----------
    voicings : VoicingPreferences
    strike : Strike
    melody : MelodyIndex
        The melody that sounds meanwhile; empty behind a soloist. The same hand holds it.
    bass : sequence of int
        MIDI numbers of the bass that sound under the strike.
    pedalled : bool
        Whether the pedal is down already: it holds the melody's note, and the hand is free.
    liking : Liking, optional
        The player's own shapes, where they are wished for.
    """
    harmony, families = strike.harmony, strike.treatment.chords
    start, end = float(strike.beat), float(strike.beat + strike.length)
    over = melody.sounding(start, end)
    above = [n.pitch.midi for n in over]
    found_there = shapes_of_chord(voicings, harmony, frozenset(midi % 12 for midi in above), families)
    if liking is not None:
        found_there = with_own_shapes(liking, voicings, harmony, found_there, families)
    held = [n.pitch.midi for n in over if float(n.beat) > start - TINY or not pedalled]
    struck = [n.pitch.midi for n in over if abs(float(n.beat) - start) <= TINY]
    register = voicings.register_of_the_melody if strike.aim else voicings.register
    if held and not strike.aim:
        register = voicings.register_under_the_melody
    laid = _laid_out(voicings, harmony.root, found_there, register)
    fits = _clear(voicings, laid, above, bass, struck)
    if not fits.size:
        return []
    price = _price(voicings, strike, laid, above, held) + _leaps(voicings, laid, melody, start, end, bool(held))
    if liking is not None and not has_own_notes_alone(harmony):
        price = price - _liked(liking, form_quality(harmony), laid)
    forced = not (laid.thinned[fits] == 0).any()
    kept = fits[_cheapest(laid.top[fits], price[fits])]
    every = laid.voicings
    return [Voicing(every[n].shape, every[n].midi, float(price[n]), forced) for n in kept]


@dataclass(frozen=True, eq=False)
class _LaidOut:
    """Every shape of a chord in every octave of its register, as arrays by voicing."""

    voicings: tuple[Voicing, ...]
    midi: NDArray[np.int64]
    """[voicing, voice], from the lowest up, the top note repeated where there are fewer than six."""
    bottom: NDArray[np.int64]
    """The lowest note ..."""
    top: NDArray[np.int64]
    """... the highest ..."""
    right: NDArray[np.int64]
    """... and the lowest of the right hand."""
    price: NDArray[np.float64]
    thinned: NDArray[np.int64]
    """0 where a voicing is of the families asked for, 1 where it is thinned to three notes, 2 to two."""
    two: NDArray[np.bool_]
    """Whether it has two notes because its family has."""


@lru_cache(maxsize=4096)
def _laid_out(voicings: VoicingPreferences, root: int, found: ShapesOfChord, register: Register) -> _LaidOut:
    two_hands = voicings.register_of_two_hands
    laid = tuple(v for s in found.every for v in _laid(voicings, root, s, two_hands if s.left else register))
    rows = np.array([v.midi + (v.midi[-1],) * (6 - len(v.midi)) for v in laid], dtype=np.int64).reshape(-1, 6)
    thinned = np.array([_THINNED.get(v.shape.family, 0) for v in laid], dtype=np.int64)
    return _LaidOut(
        laid,
        rows,
        rows[:, 0],
        rows[:, -1],
        np.array([v.midi[v.shape.left] for v in laid], dtype=np.int64),
        np.array([v.price for v in laid], dtype=np.float64),
        thinned,
        np.array([len(v.midi) == 2 for v in laid], dtype=bool) & (thinned == 0),
    )


@lru_cache(maxsize=4096)
def _liked(liking: Liking, quality: str, laid: _LaidOut) -> NDArray[np.float64]:
    return own_liking(liking, quality, [voicing.shape.degrees for voicing in laid.voicings], laid.top)


_THINNED = {"three": 1, "two": 2}
_ENOUGH = 2
"""Voicings with one top note that are looked at."""


def _clear(
    voicings: VoicingPreferences, laid: _LaidOut, above: Sequence[int], bass: Sequence[int], struck: Sequence[int]
) -> NDArray[np.int64]:
    """Indices of what is clear of the melody and the bass, as :func:`companion.arrange.chords.soundness.clear` has it;
    of a family of two notes only those.

    What the melody strikes at the same moment, ``struck``, has to be within the same hand's reach.
    """
    good = np.ones(len(laid.voicings), dtype=bool)
    if above:
        apart = np.array(above)[:, None, None] - laid.midi
        good &= ~((apart <= 0) | (apart == 1) | (apart == 13)).any(axis=(0, 2))
    if struck:
        good &= max(struck) - laid.right <= voicings.hand.span
    if bass:
        low = np.array(bass)[:, None]
        apart = laid.bottom - low
        good &= ((apart > 0) & (low >= _limits(voicings)[apart])).all(axis=0)
    if (good & laid.two).any():
        good &= laid.two  # a family of two notes needs no thinning
    return np.flatnonzero(good)


@lru_cache(maxsize=8)
def _limits(voicings: VoicingPreferences) -> NDArray[np.int64]:
    """The lowest MIDI number of the lower of two notes, by the semitones between them."""
    found = np.zeros(128, dtype=np.int64)
    for interval, lowest in voicings.low_limits.items():
        found[int(interval)] = int(lowest)
    return found


def _price(
    voicings: VoicingPreferences, strike: Strike, laid: _LaidOut, above: Sequence[int], held: Sequence[int]
) -> NDArray[np.float64]:
    """What each voicing costs by itself: register, family, size, and how it lies under the melody."""
    costs = voicings.costs
    sizes = np.array([0.0, costs.thin, costs.thinner])
    if held and strike.treatment.chords[0] == "rootless":
        sizes = np.array([costs.full_under_melody, costs.thin_under_melody, costs.thinner_under_melody])
    price = laid.price + sizes[laid.thinned]
    if above:
        price = price + costs.near_melody * (min(above) - laid.top <= 2)
    if held:
        price = price + costs.let_go * (max(held) - laid.right > voicings.hand.span)
    if strike.aim is not None:
        away = np.abs(laid.top - strike.aim)
        price = price + costs.astray * (away % 12 != 0) + costs.astray_semitone * away
    return np.asarray(price, dtype=np.float64)


def _leaps(
    voicings: VoicingPreferences, laid: _LaidOut, melody: MelodyIndex, start: float, end: float, held: bool
) -> NDArray[np.float64]:
    """What the way of the hand costs, from the melody's last note and to its next, and being above that."""
    costs, found = voicings.costs, np.zeros(len(laid.voicings))
    coming = melody.after(start)
    if coming is not None and float(coming.beat) <= end + 1:
        found += costs.above_next * np.clip(laid.top - coming.pitch.midi, 0, 4)
    near = [] if held else [n.pitch.midi for n in melody.sounding(start - 1, start)]
    if coming is not None and float(coming.beat) <= end + HAND_MOVES:
        near.append(coming.pitch.midi)
    for note in near:
        found += costs.leap * np.maximum(note - laid.right - voicings.hand.span, 0)
    return found


def _cheapest(top: NDArray[np.int64], price: NDArray[np.float64]) -> NDArray[np.int64]:
    """Indices of the cheapest voicings of each top note, in order."""
    order = np.lexsort((price, top))
    tops = top[order]
    first = np.searchsorted(tops, tops)
    return np.sort(order[np.arange(len(order)) - first < _ENOUGH])


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
    for n, way in zip(kept, _cheapest_row(voicings, [strikes[n] for n in kept], options, nodes, melody), strict=True):
        chosen[n] = way
    return chosen


def _cheapest_row(
    voicings: VoicingPreferences,
    strikes: Sequence[Strike],
    options: Sequence[Sequence[Voicing]],
    nodes: Sequence[NDArray[np.float64]],
    melody: MelodyIndex,
) -> list[Voicing]:
    """One voicing for each strike. A state is a voicing and the way that its top voice came (still, down, up)."""
    midi, sizes = _padded(options)
    moves = _moves(voicings.costs, strikes, options, midi, sizes, melody)
    tops = np.where(midi < NOWHERE, midi, 0).max(axis=2)
    lines, ways = _lines(voicings, strikes, tops, melody)
    best = np.tile(nodes[0][:, None], (1, WAYS))
    back: list[NDArray[np.intp]] = []
    for k in range(1, len(options)):
        a, b = len(options[k - 1]), len(options[k])
        total = best[:, :, None] + moves[k - 1, :a, None, :b] + lines[k - 1, :a, :, :b]
        by_way = (total + ways[k - 1, :, :a, None, :b]).reshape(WAYS, -1, b)
        came = by_way.argmin(axis=1).T
        best = by_way.min(axis=1).T + nodes[k][:, None]
        back.append(came)
    at = int(best.argmin())
    found = []
    for k in range(len(options) - 1, -1, -1):
        found.append(options[k][at // WAYS])
        if k:
            at = int(back[k - 1].flat[at])
    return found[::-1]


def _moves(
    costs: VoicingCosts,
    strikes: Sequence[Strike],
    options: Sequence[Sequence[Voicing]],
    midi: NDArray[np.int64],
    sizes: NDArray[np.int64],
    melody: MelodyIndex,
) -> NDArray[np.float64]:
    """Cost of moving the hand from chord to chord, and of the same again, array [strike, before, after]."""

    def under(strike: Strike) -> bool:
        start, long, _ = melody.around(float(strike.beat))
        return start + long > float(strike.beat) + TINY

    shares, equal = [], []
    for before, strike in pairwise(strikes):
        same = strike.harmony.label == before.harmony.label
        parallel = strike.treatment.chords[0] in PARALLEL
        ease = (costs.parallel if same else costs.parallel_on) if parallel else 1.0
        ease = costs.landing if strike.aim else ease
        again = (costs.again_parallel if parallel else costs.again) if same else costs.again_on
        gesture = strike.beat - before.beat < costs.again_after
        follows = costs.with_melody if under(strike) or under(before) else 1.0
        shares.append(follows * ease * (costs.same_chord if same else 1.0))
        equal.append(again * (costs.same_chord if gesture else 1.0))
    moved: NDArray[np.float64] = _movement(costs, midi, sizes) * np.array(shares)[:, None, None]
    for k, (a, b) in enumerate(pairwise(options)):
        moved[k, : len(a), : len(b)] += equal[k] * _equal(a, b)
    return moved


def _lines(
    voicings: VoicingPreferences, strikes: Sequence[Strike], tops: NDArray[np.int64], melody: MelodyIndex
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cost of the top voice's moves, [strike, before, way, after]; and where each way leads, 0 there and no elsewhere,
    [strike, way, before, after]."""
    around = voicings.top_voice.peak
    moves = [melody_move(melody, float(a.beat), float(b.beat), around) for a, b in pairwise(strikes)]
    same = [a.harmony.label == b.harmony.label for a, b in pairwise(strikes)]
    share = np.array([voicings.costs.landing if strike.aim else 1.0 for strike in strikes[1:]])
    lines = line_costs(voicings.top_voice, tops, same, moves) * share[:, None, None, None]
    ways = np.where(ways_of(tops)[:, None] == np.arange(WAYS)[:, None, None], 0.0, NEVER)
    return lines, ways


def _movement(costs: VoicingCosts, midi: NDArray[np.int64], sizes: NDArray[np.int64]) -> NDArray[np.float32]:
    """Cost of the ways of the voices, array [strike, before, after]: in order where they are as many, else to the
    nearest."""
    a, b = midi[:-1, :, None, :], midi[1:, None, :, :]
    nearest = np.abs(b - a[..., :1])
    for voice in range(1, midi.shape[2]):
        np.minimum(nearest, np.abs(b - a[..., voice : voice + 1]), out=nearest)
    other = np.abs(sizes[:-1, :, None] - sizes[1:, None, :])
    moved = np.where((other == 0)[..., None], np.abs(a - b), nearest)
    moved[np.broadcast_to(b >= NOWHERE, moved.shape)] = 0
    prices = (costs.move + costs.jump) * np.arange(NOWHERE) - costs.jump * np.minimum(np.arange(NOWHERE), STEP)
    table = prices.astype(np.float32)
    return np.asarray(table[np.minimum(moved, NOWHERE - 1)].sum(axis=-1) + costs.size * other, dtype=np.float32)


def _equal(before: Sequence[Voicing], after: Sequence[Voicing]) -> NDArray[np.float64]:
    """1 where a voicing is the same again, array [before, after]."""
    known = {v.midi: n for n, v in enumerate(before)}
    found = np.zeros((len(before), len(after)))
    for m, v in enumerate(after):
        if v.midi in known:
            found[known[v.midi], m] = 1.0
    return found


def _padded(options: Sequence[Sequence[Voicing]]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The voicings of each strike as MIDI numbers, [strike, voicing, voice], filled up, and their numbers of voices."""
    count = max(map(len, options))
    voices = max(len(v.midi) for found in options for v in found)
    midi = np.full((len(options), count, voices), NOWHERE, dtype=np.int64)
    for n, found in enumerate(options):
        flat = [note for v in found for note in v.midi]
        sizes = np.array([len(v.midi) for v in found])
        midi[n, : len(found)][np.arange(voices) < sizes[:, None]] = flat
    return midi, np.asarray((midi < NOWHERE).sum(axis=2), dtype=np.int64)
