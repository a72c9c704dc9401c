"""A line of the companion's own: for trading with the player, or for a chorus to comp behind.

Conventions: beats and lengths in quarters from the first downbeat of the form, written; MIDI numbers. What the player
just played is given as (beat, MIDI number), beats on the same scale.

Method: phrases with a breath at their end; within a phrase each beat gets a cell of ``solo.toml``, or the rhythm of
what the player just played. Pitches by dynamic programming (Viterbi) over the phrase: chord tones on strong beats,
scale and approach notes between, small intervals, a wave of its own; a motif keeps the player's intervals. Random
costs make each line new (perturb and maximise). Common practice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.figures import harmony_at
from companion.arrange.harmony import Harmony
from companion.arrange.part import Note
from companion.arrange.tables import Table, table
from companion.chart.model import Form

Heard = Sequence[tuple[float, int]]


@dataclass(frozen=True)
class _Onset:
    """A note to be: where, over which chord, and the interval that a motif asks for (from the note before)."""

    beat: Fraction
    harmony: Harmony
    strong: bool
    first: bool
    """The first onset since its chord began."""
    interval: int | None = None


def solo(
    form: Form,
    *,
    start: Fraction = Fraction(0),
    end: Fraction | None = None,
    heard: Heard = (),
    chorus: int = 1,
    seed: int = 0,
) -> tuple[Note, ...]:
    """An improvised line from ``start`` up to ``end`` (the form's end unless given).

    Parameters
    ----------
    form : Form
    start, end : Fraction
        Where the line may sound; its last breath lies before the end, so that it never speaks over the player.
    heard : sequence of (beat, MIDI number)
        What the player played just before: its rhythm and intervals are taken up at the start.
    chorus, seed : int
        The same numbers give the same line.
    """
    until = form.length if end is None else end
    chance = random.Random(f"solo/{seed}/{chorus}/{start}")
    found: list[Note] = []
    at, last = start, None
    taken_up = _motif(form, heard)
    while at < until:
        stop = min(at + _phrase_length(form, chance), until)
        breath = Fraction(round(2 * chance.uniform(*table("solo")["phrase"]["breath"])), 2)
        onsets = _onsets(form, at, stop - min(breath, (stop - at) / 2), taken_up, chance)
        if onsets:
            midi = _pitches(onsets, last, chance)
            found += _notes(onsets, midi, stop - breath / 2)
            last = midi[-1]
        at, taken_up = stop, ()
    return tuple(found)


def _phrase_length(form: Form, chance: random.Random) -> Fraction:
    return int(chance.choice(table("solo")["phrase"]["bars"])) * form.metre.bar


# --- rhythm -----------------------------------------------------------------------------------------------------------


def _motif(form: Form, heard: Heard) -> tuple[tuple[Fraction, int], ...]:
    """The player's last bar: places within the bar, on quavers or triplets, and MIDI numbers."""
    if len(heard) < 2:
        return ()
    bar = float(form.metre.bar)
    begin = (heard[-1][0] // bar) * bar
    inside = [(b, p) for b, p in heard if b >= begin] if sum(b >= begin for b, _ in heard) > 1 else heard[-4:]
    offset = (inside[0][0] // bar) * bar
    places = ((_near(b - offset), p) for b, p in inside)
    return tuple(sorted(dict(places).items()))


def _near(beat: float) -> Fraction:
    """The nearest place on the grid of quavers and triplets."""
    return min((Fraction(round(beat * d), d) for d in (2, 3)), key=lambda f: abs(float(f) - beat))


def _onsets(
    form: Form, start: Fraction, stop: Fraction, motif: tuple[tuple[Fraction, int], ...], chance: random.Random
) -> list[_Onset]:
    places: list[tuple[Fraction, int | None]] = []
    at = start
    if motif:
        pitches = [pitch for _, pitch in motif]
        steps = [None, *(b - a for a, b in pairwise(pitches))]
        places = [(start + place, step) for (place, _), step in zip(motif, steps, strict=True) if start + place < stop]
        at = start + form.metre.bar
    cell = ""
    cells = _cells(form.tempo)
    while at < stop:
        names = list(cells)
        likely = [cells[n]["weight"] * (table("solo")["cells"]["again"] if n == cell else 1.0) for n in names]
        cell = chance.choices(names, likely)[0]
        hits = (at + Fraction(hit).limit_denominator(24) for hit in cells[cell]["hits"])
        places += [(beat, None) for beat in hits if beat < stop]
        at += 1
    found: list[_Onset] = []
    for beat, interval in places:
        harmony = harmony_at(form, beat)
        fresh = not found or found[-1].harmony is not harmony
        found.append(_Onset(beat, harmony, beat.denominator == 1, fresh, interval))
    return found


def _cells(tempo: float) -> dict[str, Table]:
    """What may happen within a beat at a tempo."""
    data = table("solo")["cells"]
    cells = {name: cell for name, cell in data.items() if isinstance(cell, dict)}
    if tempo >= data["fast"]:
        del cells["triplet"]
    if tempo > data["slow"]:
        del cells["semiquavers"]
    return cells


# --- pitch ------------------------------------------------------------------------------------------------------------


def _pitches(onsets: Sequence[_Onset], last: int | None, chance: random.Random) -> list[int]:
    """The cheapest line over a phrase, as MIDI numbers."""
    data = table("solo")
    low, high = data["range"]["lowest"], data["range"]["highest"]
    midi = np.arange(low, high + 1)
    noise = np.random.default_rng(chance.getrandbits(32))
    wave = _wave(len(onsets), chance)
    rows = [
        _row(onset, midi)
        + data["range"]["away"] * np.abs(midi - wish)
        + noise.gumbel(0, data["costs"]["chance"], midi.size)
        for onset, wish in zip(onsets, wave, strict=True)
    ]
    if last is not None:
        rows[0] = rows[0] + 0.3 * np.abs(midi - last)
    ends = {pc % 12 for pc in onsets[-1].harmony.tones}
    rows[-1] = rows[-1] + data["costs"]["last-chord-tone"] * ~np.isin(midi % 12, list(ends))
    best, back = rows[0], []
    for n in range(1, len(onsets)):
        total = best[:, None] + _steps(onsets[n - 1], onsets[n], midi)
        back.append(total.argmin(axis=0))
        best = total.min(axis=0) + rows[n]
    at = int(best.argmin())
    line = [at]
    for came in reversed(back):
        at = int(came[at])
        line.append(at)
    return [low + k for k in reversed(line)]


def _wave(count: int, chance: random.Random) -> NDArray[np.float64]:
    """Where a phrase would like to lie: up and down, or down and up."""
    data = table("solo")
    sway = data["phrase"]["sway"] * chance.choice((-1, 1))
    start = chance.random()
    angle = 2 * np.pi * (start + np.linspace(0, chance.uniform(0.4, 1.0), count))
    return np.asarray(data["range"]["centre"] + sway * np.sin(angle))


def _row(onset: _Onset, midi: NDArray[np.int64]) -> NDArray[np.float64]:
    """Cost of each pitch by what it is over its chord."""
    costs, harmony = table("solo")["costs"], onset.harmony
    tensions = {(harmony.root + d.semitones) % 12 for d in harmony.chord.available} & set(harmony.scale)
    by_class = np.full(12, 0.0)
    for pc in range(12):
        if pc in harmony.tones:
            by_class[pc] = costs["chord-on-beat" if onset.strong else "chord-off"]
        elif pc in tensions:
            by_class[pc] = costs["tension-on-beat" if onset.strong else "scale-off"]
        elif pc in harmony.scale:
            by_class[pc] = costs["scale-on-beat" if onset.strong else "scale-off"]
        else:
            by_class[pc] = costs["wrong" if onset.strong else "foreign"]
    if onset.first:
        for pc in harmony.guides:
            by_class[pc] += costs["guide"]
    return np.asarray(by_class[midi % 12])


def _steps(before: _Onset, after: _Onset, midi: NDArray[np.int64]) -> NDArray[np.float64]:
    """Cost [q, r] of going from q to r."""
    costs = table("solo")["costs"]
    move = midi[None, :] - midi[:, None]
    intervals = np.array(costs["interval"])
    cost = intervals[np.minimum(np.abs(move), len(intervals) - 1)]
    foreign = ~np.isin(midi % 12, [*before.harmony.scale, *before.harmony.tones])
    leads = (np.abs(move) == 1) & after.strong & np.isin(midi % 12, list(after.harmony.tones))[None, :]
    cost = cost + np.where(foreign[:, None] & ~leads, costs["wrong"], 0.0)
    if after.interval is not None:
        cost = cost + costs["motif"] * np.abs(move - after.interval)
    return np.asarray(cost)


# --- notes ------------------------------------------------------------------------------------------------------------


def _notes(onsets: Sequence[_Onset], midi: Sequence[int], stop: Fraction) -> list[Note]:
    found = []
    for n, (onset, pitch) in enumerate(zip(onsets, midi, strict=True)):
        following = onsets[n + 1].beat if n + 1 < len(onsets) else max(stop, onset.beat + Fraction(1, 2))
        goal = midi[n + 1] % 12 if n + 1 < len(midi) else None
        degree = onset.harmony.degree(pitch % 12)
        found.append(
            Note(
                beat=onset.beat,
                length=min(following - onset.beat, Fraction(3, 2)),
                pitch=onset.harmony.name(pitch % 12, goal).at(pitch),
                part="solo",
                hand="right",
                degree=degree,
                reason=_reason(onset, degree),
                weight=1.0 if onset.strong else 1.06,
            )
        )
    return found


def _reason(onset: _Onset, degree: str) -> str:
    if onset.interval is not None:
        return "taken up from the player"
    if degree == "x":
        return "leads by a semitone into the beat"
    where = "on the beat" if onset.strong else "between"
    return f"{degree} of {onset.harmony.chord.symbol}, {where}"
