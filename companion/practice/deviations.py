"""How far each note of a player's fell from its beat.

Deviations are measured against the player's own beat: a line fitted locally to the other notes (local regression with
robust weights: Cleveland, 1979), or against the click where one keeps to it. An off-beat quaver is due near where this
player's others fall.

Conventions: chart beats in quarters, written; seconds on the performance's clock; deviations in milliseconds, late is
positive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from companion.arrays import Floats
from companion.music.played import BeatMap
from companion.practice.expected import Expected

SWING_SHOWN = 4
"""Off-beat quavers from which it is known how a player swings."""
SWING_VARIES = 0.035
"""Quarters by which one of them may differ from the others."""
WINDOW = 6.0
"""Quarters to each side over which the player's own beat is fitted."""
ROUNDS = 3
"""Fits with robust weights."""


def deviations(notes: Sequence[Expected], seconds: Sequence[float], beats: BeatMap, *, own_beat: bool) -> list[float]:
    """How far each of some notes fell from its beat, in milliseconds.

    Parameters
    ----------
    notes : sequence of Expected
        What was to be played.
    seconds : sequence of float
        When each was struck.
    beats : BeatMap
        Beats as they were sounded or clicked: near the player's beat, not on it.
    own_beat : bool
        Whether it is measured against the player's own beat, or against these beats as they are.
    """
    if not notes:
        return []
    struck_at = np.array([beats.beat(moment) for moment in seconds])
    quarter: Floats = np.array([60 / beats.tempo(note.beat) for note in notes])
    places = np.array([note.beat for note in notes])

    def delays_of(notes: Sequence[Expected]) -> Floats:
        off: Floats = np.array([note.off(at) for at, note in zip(struck_at, notes, strict=True)])
        delayed: Floats = off * quarter
        return delayed

    delays = delays_of(notes)
    own = local_line(places, delays) if own_beat else np.zeros(len(notes))
    delays = delays_of(as_they_swing(notes, struck_at - own / quarter))
    own = local_line(places, delays) if own_beat else own
    return [round(float(off - usual) * 1000, 1) for off, usual in zip(delays, own, strict=True)]


def as_they_swing(notes: Sequence[Expected], struck_at: Floats) -> list[Expected]:
    """The notes where this player puts them: off-beat quavers about as late as most of theirs are."""
    off_beat = [n for n, note in enumerate(notes) if note.latest > note.earliest]
    if len(off_beat) < SWING_SHOWN:
        return list(notes)
    usual = float(np.median([(struck_at[n] - notes[n].beat) for n in off_beat]))
    found = list(notes)
    for n in off_beat:
        place = min(max(notes[n].beat + usual, notes[n].earliest), notes[n].latest)
        found[n] = replace(notes[n], earliest=place - SWING_VARIES, latest=place + SWING_VARIES)
    return found


def local_line(beats: Floats, delays: Floats) -> Floats:
    """At each beat, the delay that the other notes around it promise: a line fitted with robust weights.

    Parameters
    ----------
    beats, delays : array, shape (n,)
        In quarters and in seconds.
    """
    count = len(beats)
    fitted = np.zeros(count)
    if count < 3:
        return np.full(count, float(np.median(delays)) if count else 0.0)
    robust = np.ones(count)
    apart = np.abs(beats[:, None] - beats[None, :])
    reach = np.maximum(WINDOW, np.sort(apart, axis=1)[:, min(count - 1, 4)])[:, None] + 1e-9
    near = np.clip(1 - (apart / reach) ** 3, 0, None) ** 3
    np.fill_diagonal(near, 0.0)  # a note's own delay says nothing of where it was to be
    for _ in range(ROUNDS):
        weights = near * robust[None, :] + 1e-12
        total = weights.sum(axis=1)
        mean_x, mean_y = weights @ beats / total, weights @ delays / total
        spread = weights @ beats**2 / total - mean_x**2
        slope = np.where(spread > 0.25, (weights @ (beats * delays) / total - mean_x * mean_y) / (spread + 1e-9), 0.0)
        fitted = mean_y + slope * (beats - mean_x)
        off = np.abs(delays - fitted)
        scale = 6 * max(float(np.median(off)), 0.004)
        robust = np.clip(1 - (off / scale) ** 2, 0.05, None) ** 2
    return fitted
