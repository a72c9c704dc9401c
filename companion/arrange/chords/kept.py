"""Chords that are kept while others are made around them: as strikes and voicings for the search.

Conventions: beats and lengths in quarters from the first downbeat of the form; MIDI numbers.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from companion.arrange.chords.context import Strike
from companion.arrange.chords.shapes import Shape
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import harmonies
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form
from companion.music.kinds import Degree

MOST_VOICES = 6
"""Notes of a chord, at most."""


def among_kept(
    form: Form, struck: Sequence[Strike], plan: TreatmentPlan, kept: Sequence[Note], bars: Collection[int]
) -> tuple[list[Strike], dict[int, Voicing]]:
    """Strikes among chords that stand already, in order, and those chords by their index.

    In the ``bars`` that are kept nothing else is struck. A strike gives way to what sounds already, and ends where a
    standing chord begins.

    Parameters
    ----------
    form : Form
    struck : sequence of Strike
        Strikes made without regard to what is kept.
    plan : sequence of (start, end, Treatment)
        Which treatment rules from where to where, in quarters.
    kept : sequence of Note
        Chord notes that stand already.
    bars : collection of int
        Bars that are kept, 1 = the first full bar of the form.
    """
    if not bars:
        return list(struck), {}
    chords = [list(group) for _, group in groupby(sorted(kept, key=_order), key=lambda note: note.beat)]
    standing = [(_strike(form, plan, chord), _voicing(form, chord)) for chord in chords]
    begins = [strike.beat for strike, _ in standing]
    free: list[Strike] = []
    for strike in struck:
        n = bisect_right(begins, strike.beat)
        if (form.bar_at(strike.beat) if strike.beat >= 0 else 1) in bars:
            continue
        if n and strike.beat < begins[n - 1] + standing[n - 1][0].length:
            continue
        until = begins[n] - strike.beat if n < len(begins) else strike.length
        free.append(replace(strike, length=min(strike.length, until)))
    together: list[tuple[Strike, Voicing | None]] = [*((strike, None) for strike in free), *standing]
    together.sort(key=lambda one: one[0].beat)
    return [strike for strike, _ in together], {n: v for n, (_, v) in enumerate(together) if v is not None}


def _order(note: Note) -> tuple[Fraction, int]:
    return note.beat, note.midi


def _strike(form: Form, plan: TreatmentPlan, chord: Sequence[Note]) -> Strike:
    start, at = chord[0].beat, chord[0].beat % form.length
    harmony = next(h for h in reversed(harmonies(form)) if h.start <= at)
    treatment = next((t for a, b, t in plan if a <= at < b), plan[-1][2])
    return Strike(start, max(n.length for n in chord), harmony, treatment, "written")


def _voicing(form: Form, chord: Sequence[Note]) -> Voicing:
    midi = tuple(note.midi for note in chord)[:MOST_VOICES]
    root = next(h for h in reversed(harmonies(form)) if h.start <= chord[0].beat % form.length).root
    degrees = tuple(Degree(1, (pitch - root) % 12) for pitch in midi)
    return Voicing(Shape("", "as written", degrees, 0, 0.0), midi, 0.0)
