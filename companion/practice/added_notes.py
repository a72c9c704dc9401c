"""Notes that a player adds to the chart on purpose: their other hand's, and fills where the melody holds or rests.

Nobody plays a head note for note, and who plays the melody alone at a piano puts roots and shells under it. A note more
is taken for the other hand's where it is of the chord, lies a fifth or more below the melody around it, and isn't the
only one in the take. Two notes or more in a row, all of the chord or its scale, with a gap of the melody to themselves,
are a fill. What is neither is a note too many.

Conventions: chart beats in quarters; MIDI numbers.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from companion.arrange.harmony import Harmony
from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.practice.judging import JudgedNote

BELOW = 7
"""Semitones under the melody: a fifth."""
HAND_LEAST = 4
"""Notes of the other hand in a take, from which it is one."""
FILL_LEAST, CLEAR = 2, 0.4
"""Notes of a fill; quarters between it and the melody's own notes."""


def with_additions_forgiven(form: Form, notes: Sequence[JudgedNote]) -> tuple[JudgedNote, ...]:
    """The notes of a sweep, what was added on purpose forgiven."""
    melody = [note for note in notes if note.part == "melody" and note.expected is not None]
    added = {n for n, note in enumerate(notes) if note.kind == "extra" and not note.forgiven and note.pitch is not None}
    if not melody or not added:
        return tuple(notes)
    under = {n for n in added if _is_under(form, notes[n], melody)}
    meant = under if len(under) >= HAND_LEAST else set()
    meant |= _fills(form, notes, added - meant, melody)
    return tuple(replace(note, forgiven=True) if n in meant else note for n, note in enumerate(notes))


def _harmony(form: Form, note: JudgedNote) -> Harmony:
    return harmony_at(form, Fraction(note.chart_beat % float(form.length)).limit_denominator(960))


def _is_under(form: Form, note: JudgedNote, melody: Sequence[JudgedNote]) -> bool:
    near = min(melody, key=lambda other: abs(other.chart_beat - note.chart_beat))
    of_chord = (note.pitch or 0) % 12 in {_harmony(form, note).root, *_harmony(form, note).tones}
    return of_chord and (near.expected or 0) - (note.pitch or 0) >= BELOW


def _fills(form: Form, notes: Sequence[JudgedNote], added: set[int], melody: Sequence[JudgedNote]) -> set[int]:
    written = sorted(note.chart_beat for note in melody)
    found: set[int] = set()
    for is_added, group in groupby(range(len(notes)), key=lambda n: n in added):
        run = list(group)
        if is_added and len(run) >= FILL_LEAST and all(_fits(form, notes[n], written) for n in run):
            found |= set(run)
    return found


def _fits(form: Form, note: JudgedNote, written: Sequence[float]) -> bool:
    """Whether a note is of the chord or its scale, and clear of the melody."""
    n = bisect_left(written, note.chart_beat)
    clear = all(abs(beat - note.chart_beat) >= CLEAR for beat in written[max(0, n - 1) : n + 1])
    harmony = _harmony(form, note)
    return clear and (note.pitch or 0) % 12 in {*harmony.tones, *harmony.scale}
