"""The pitches of an improvised phrase: figures laid end to end, each going its way for a few notes, over the changes.

Conventions: MIDI numbers; beats in quarters from the first downbeat of the form, written.

Method: the phrase is cut into figures (scale, arpeggio, enclosure, leap and back, digits), each with a direction, which
turns where the line would leave its range. Dynamic programming (Viterbi) then finds the cheapest line: the figures'
own steps, chord tones on the beat, thirds and sevenths where a chord begins, notes outside the scale only where they
lead by a semitone into a chord tone on the beat. What is taken up keeps its intervals instead. Random costs make each
line new (perturb and maximise). Common practice; costs in ``solo.toml``.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from companion.arrange.harmony import Harmony
from companion.arrays import Floats, Ints
from companion.preferences.solo import Enclosure, Figure, Leap, SoloCosts, SoloPreferences, Steps

OCTAVE = 12
"""Semitones; a line leaps no farther."""


@dataclass(frozen=True)
class Onset:
    """A note to be: where, over which chord, and the interval that a motif asks for (from the note before)."""

    beat: Fraction
    harmony: Harmony
    strong: bool
    """On a beat."""
    first: bool
    """The first onset since its chord began."""
    interval: int | None = None
    taken: str = ""
    """Where it is taken up from, in a musician's words."""


@dataclass(frozen=True)
class Aim:
    """Where a phrase lies and where it goes, in MIDI numbers."""

    low: int
    high: int
    """It turns round before it leaves these."""
    ceiling: int
    """No note lies above this."""
    begins: int | None = None
    """Where it is to begin, if what it takes up says so."""
    stays: bool = False
    """It is a riff, which stays where it was."""
    tops: frozenset[int] = frozenset()
    """Indices of the onsets of which one may have the highest note of the solo; empty where that lies elsewhere."""
    top: int = 127
    """From where on a note is that highest one."""


@dataclass(frozen=True)
class Move:
    """How the line gets to a note: which figure, which way (1 up, -1 down), and what each step costs."""

    figure: str
    way: int
    steps: tuple[tuple[int, float], ...]
    """Semitones in the direction of the figure, and what they cost."""


def line_pitches(
    taste: SoloPreferences, onsets: Sequence[Onset], last: int | None, aim: Aim, chance: random.Random
) -> tuple[list[int], list[str]]:
    """The cheapest line over a phrase as MIDI numbers, and the figure that each note belongs to.

    Parameters
    ----------
    taste : SoloPreferences
    onsets : sequence of Onset
        Where the notes are, and over which chords.
    last : int or None
        MIDI number of the note before the phrase.
    aim : Aim
        Where it is to lie.
    chance : random.Random
    """
    costs = taste.costs
    midi = np.arange(taste.range.lowest, taste.range.highest + 1)
    noise = np.random.default_rng(chance.getrandbits(32))
    moves = _moves(taste, onsets, last, aim, chance)
    rows = [_row(taste, onset, aim, midi) + noise.gumbel(0, costs.chance, midi.size) for onset in onsets]
    if aim.begins is not None:
        rows[0] = rows[0] + (costs.riff if aim.stays else costs.near) * np.abs(midi - aim.begins)
    elif last is not None:
        rows[0] = rows[0] + costs.begins * np.abs(midi - last)
    if aim.tops:
        at_top = chance.choice(sorted(aim.tops))
        rows[at_top] = rows[at_top] + costs.top * (midi >= aim.top)
    final = onsets[-1].harmony
    rows[-1] = rows[-1] + costs.last_chord_tone * ~_among(tuple(final.tones))[midi % 12]
    rows[-1] = rows[-1] + costs.wrong * ~_among((*final.scale, *final.tones))[midi % 12]
    rows[-1] = rows[-1] + costs.last_root * (midi % 12 == final.root)
    best, back = rows[0], []
    for n in range(1, len(onsets)):
        total = best[:, None] + _steps(costs, onsets[n - 1], onsets[n], moves[n], midi)
        back.append(total.argmin(axis=0))
        best = total.min(axis=0) + rows[n]
    at = int(best.argmin())
    line = [at]
    for came in reversed(back):
        at = int(came[at])
        line.append(at)
    return [int(midi[k]) for k in reversed(line)], [move.figure for move in moves]


# --- figures ----------------------------------------------------------------------------------------------------------


def _moves(
    taste: SoloPreferences, onsets: Sequence[Onset], last: int | None, aim: Aim, chance: random.Random
) -> list[Move]:
    """The figures of a phrase, a move for each onset (the first is the way into the phrase, and costs nothing)."""
    figures, turning = taste.figures.all, taste.turning
    low, high = aim.low, aim.high
    height = float(last if last is not None else (low + high) / 2 + chance.uniform(-5, 5))
    way = chance.choice((-1, 1)) if low + 4 < height < high - 4 else 1 if height < (low + high) / 2 else -1
    found = [Move("opens", way, ())]
    while len(found) < len(onsets):
        n = len(found)
        if onsets[n].interval is not None:
            found.append(Move("motif", way, ()))
            continue
        name = chance.choices(list(figures), [figure.weight for figure in figures.values()])[0]
        figure = figures[name]
        long = chance.randint(*figure.notes)
        ahead = height + way * turning.stride * long
        if not low <= ahead <= high:
            way = 1 if height < (low + high) / 2 else -1
        made = _figure(name, figure, way, long)
        if name == "enclosure" and not _aims_well(onsets, n, len(made)):
            made = _figure("scale", taste.figures.scale, way, long)
        found += made
        net = way if name not in ("leap", "enclosure") else -way if name == "leap" else 0
        height = min(max(height + net * turning.stride * long, low), high)
        if name == "leap" or chance.random() < turning.chance:
            way = -way
    return found[: len(onsets)]


def _figure(name: str, figure: Figure, way: int, long: int) -> list[Move]:
    if isinstance(figure, Enclosure):
        return [Move(name, way, _costs(steps)) for steps in (figure.steps, figure.back, figure.home)]
    steps = Move(name, way, _costs(figure.steps))
    return [Move(name, way, _costs(figure.first)) if isinstance(figure, Leap) else steps, *[steps] * (long - 1)]


def _costs(steps: Steps) -> tuple[tuple[int, float], ...]:
    return tuple(steps.items())


def _aims_well(onsets: Sequence[Onset], n: int, long: int) -> bool:
    """Whether an enclosure that begins at an onset arrives on a beat."""
    return n + long <= len(onsets) and onsets[n + long - 1].strong


# --- costs ------------------------------------------------------------------------------------------------------------


def _row(taste: SoloPreferences, onset: Onset, aim: Aim, midi: Ints) -> Floats:
    """Cost of each pitch by what it is over its chord, and by where it lies."""
    costs, harmony = taste.costs, onset.harmony
    tensions = {(harmony.root + d.semitones) % 12 for d in harmony.chord.available} & set(harmony.scale)
    by_class = np.full(12, 0.0)
    for pc in range(12):
        if pc in harmony.tones:
            by_class[pc] = costs.chord_on_beat if onset.strong else costs.chord_off
        elif pc in tensions:
            by_class[pc] = costs.tension_on_beat if onset.strong else costs.scale_off
        elif pc in harmony.scale:
            by_class[pc] = costs.scale_on_beat if onset.strong else costs.scale_off
        else:
            by_class[pc] = costs.wrong if onset.strong else costs.foreign
    if onset.first:
        for pc in harmony.guides:
            by_class[pc] += costs.guide
    outside = np.maximum(aim.low - midi, 0) + np.maximum(midi - aim.high, 0)
    return np.asarray(by_class[midi % 12] + taste.range.away * outside + costs.ceiling * (midi > aim.ceiling))


def _steps(costs: SoloCosts, before: Onset, after: Onset, how: Move, midi: Ints) -> Floats:
    """Cost [q, r] of going from q to r."""
    reach = len(midi) - 1
    move = midi[None, :] - midi[:, None]
    by_step = _in_figure(costs, how, reach) if after.interval is None else _in_motif(costs, after.interval, reach)
    cost = by_step[move + reach]
    foreign = ~_among((*before.harmony.scale, *before.harmony.tones))[midi % 12]
    cost[foreign] += costs.wrong
    if after.strong:
        leads = (np.abs(move) == 1) & foreign[:, None] & _among(tuple(after.harmony.tones))[midi % 12]
        cost[leads] -= costs.wrong
    cost[np.abs(move) > OCTAVE] += 2 * costs.wrong
    return np.asarray(cost)


@lru_cache(maxsize=256)
def _among(classes: tuple[int, ...]) -> NDArray[np.bool_]:
    """Which of the twelve pitch classes are among some."""
    found = np.zeros(12, bool)
    found[list(classes)] = True
    return found


@lru_cache(maxsize=256)
def _in_figure(costs: SoloCosts, how: Move, reach: int) -> Floats:
    """Cost of each step from ``-reach`` to ``reach`` semitones."""
    known = dict(how.steps)
    found = []
    for step in range(-reach, reach + 1):
        price = costs.same if step == 0 else known.get(step * how.way)
        found.append(costs.other_step + costs.other_semitone * abs(step) if price is None else price)
    return np.array(found)


@lru_cache(maxsize=256)
def _in_motif(costs: SoloCosts, interval: int, reach: int) -> Floats:
    """The same where a motif asks for an interval."""
    steps = np.arange(-reach, reach + 1)
    return np.asarray(
        costs.motif * np.abs(steps - interval) + costs.motif_turned * (np.sign(steps) != np.sign(interval))
    )
