"""The rhythm of an improvised line: where a phrase begins, which cell each beat has, and the player's motif.

Method: beat by beat a cell of ``solo.toml`` is drawn, by whether the phrase opens, goes on or closes; no cell too often
running. A motif is a bar of the player's: its places in the bar, and its intervals.

Conventions: beats in quarters from the first downbeat of the form (Fractions), written. What the player just played is
given as (beat, MIDI number), beats on the same scale.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from companion.chart.model import Form
from companion.preferences import solo as tastes
from companion.preferences.solo import Cell, SimpleCells, SoloPreferences, StoryArc

HeardNotes = Sequence[tuple[float, int]]
Motif = tuple[tuple[Fraction, int], ...]
"""Places in the bar, in quarters, and MIDI numbers."""
PhraseOnset = tuple[Fraction, int | None]
"""Where a note is to be, and the interval from the note before that a motif asks for, in semitones."""
RUNNING = 9
"""Times that a cell may come running unless it says otherwise: no limit in practice."""
TOGETHER = 0.12
"""Beats within which notes are one chord, of which the top one counts."""


def motif_of(taste: tastes.MotifPreferences, form: Form, heard: HeardNotes) -> Motif:
    """The last bar of the player's that says something: places within the bar, on quavers or triplets, and pitches."""
    fewest, most = taste.notes
    bar = float(form.metre.bar)
    line = _top(heard)
    if len(line) < 2:
        return ()
    last = line[-1][0] // bar
    for least in (fewest, 2):
        for back in range(taste.bars):
            inside = [(b, p) for b, p in line if b // bar == last - back]
            if len(inside) >= least:
                places = {_near(b - (last - back) * bar): p for b, p in inside[:most]}
                return tuple(sorted(places.items()))
    offset = (line[-2][0] // bar) * bar
    return tuple((_near(b - offset), p) for b, p in line[-2:])


def _top(heard: HeardNotes) -> list[tuple[float, int]]:
    """The melody of what was played: of notes struck together the highest."""
    found: list[tuple[float, int]] = []
    for beat, pitch in heard:
        if found and beat - found[-1][0] < TOGETHER:
            found[-1] = (found[-1][0], max(found[-1][1], pitch))
        else:
            found.append((beat, pitch))
    return found


def _near(beat: float) -> Fraction:
    """The nearest place on the grid of quavers and triplets."""
    return min((Fraction(round(beat * d), d) for d in (2, 3)), key=lambda f: abs(float(f) - beat))


def player_onsets(
    taste: SoloPreferences, form: Form, start: Fraction, stop: Fraction, motif: Motif, chance: random.Random
) -> tuple[list[PhraseOnset], Fraction]:
    """The player's motif once or twice from ``start``, and the beat from which the phrase goes on.

    Parameters
    ----------
    taste : SoloPreferences
    form : Form
    start, stop : Fraction
        Quarters from the first downbeat of the form.
    motif : Motif
        The player's.
    chance : random.Random
    """
    found: list[PhraseOnset] = []
    at = start
    steps = [None, *(b - a for (_, a), (_, b) in pairwise(motif))]
    times = 2 if chance.random() < taste.motif.again else 1
    if start not in form.bars:  # begun late: the motif goes on from there
        at = start - motif[0][0] // form.metre.pulse * form.metre.pulse
    for _ in range(times):
        said = [(at + place, step) for (place, _), step in zip(motif, steps, strict=True)]
        if said[-1][0] >= stop:
            break
        found += said
        at += form.metre.bar
    return found, max(at, start)


def cell_onsets(
    taste: SoloPreferences, form: Form, at: Fraction, stop: Fraction, warm: float, open_: bool, chance: random.Random
) -> list[Fraction]:
    """Onsets from cells, from a beat up to another, in quarters from the first downbeat of the form.

    Parameters
    ----------
    taste : SoloPreferences
    form : Form
    at, stop : Fraction
    warm : float
        How hot the phrase is, from 0 to 1: the hotter, the busier.
    open_ : bool
        Whether the phrase is under way already.
    chance : random.Random
    """
    known = taste.cells_compound if form.metre.compound else taste.cells
    cells = dict(known.named) if form.metre.compound else _at_tempo(taste.cells, form)
    favour = {name: _favour(taste.arc, cell, warm) for name, cell in cells.items()}
    pulse = form.metre.pulse
    found: list[Fraction] = []
    name, running = "", 0
    beat = at - at % pulse
    while beat < stop:
        stage = 2 if beat + 2 * pulse >= stop else 1 if open_ or len(found) > 2 else 0
        names = [n for n in cells if not (n == name and running >= known.most.get(n, RUNNING))]
        weights = [cells[n].weight[stage] * favour[n] * (known.again if n == name else 1.0) for n in names]
        if not any(weights):  # nothing else may come: then the same goes on
            names, weights = list(cells), [cell.weight[stage] for cell in cells.values()]
        drawn = chance.choices(names, weights)[0]
        name, running = drawn, running + 1 if drawn == name else 1
        hits = (beat + Fraction(hit).limit_denominator(24) for hit in cells[drawn].hits)
        found += [hit for hit in hits if at <= hit < stop]
        beat += pulse
    return found


def _favour(arc: StoryArc, cell: Cell, warm: float) -> float:
    """How much likelier a cell is than usual: busy ones where it is hot, sparse ones where it is calm."""
    calm, hot = arc.busy if len(cell.hits) > 1 else arc.sparse
    return calm + (hot - calm) * warm


def _at_tempo(known: SimpleCells, form: Form) -> dict[str, Cell]:
    """What may happen within a beat at the tempo of a form."""
    fast, medium, slow = form.tempo >= known.fast, form.tempo <= known.medium, form.tempo <= known.slow
    left_out = {"triplet": fast, "turn": not medium, "semiquavers": not slow}
    return {name: cell for name, cell in known.named.items() if not left_out.get(name)}
