"""Figures of the chords' top voice, which is heard as a line, and of how full they are.

A move is from one chord struck to the next, whatever the harmony does. Fourths that slide are another matter and don't
count; leaps are counted of rootless chords alone, as fourths and open voicings move in parallel.

Conventions: as in :mod:`companion.arrange.lookup`; moves in semitones. Targets are common practice put into numbers: a
top voice moves rather than stands, mostly by step, and against the melody; chords are thinner under the melody.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import partial
from itertools import pairwise

from companion.arrange.audit.chords import LISTENING, chords_of
from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.lookup import bar_and_beat, treatment_at
from companion.arrange.melody.part import treated
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form

THIRD = 4
"""Semitones."""


def top_voice_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of the line that the top notes make, and of chords by their number of notes."""
    still, leaps, again = HitCount(), HitCount(), HitCount()
    sizes: Counter[int] = Counter()
    sung = bool(treated(form, plan))
    for notes in choruses:
        struck = [(beat, [n.midi for n in chord]) for beat, chord in chords_of(notes)]
        sizes.update(len(chord) for beat, chord in struck if sung and _in_a_gap(plan, beat))
        for (before, a), (beat, b) in pairwise(struck):
            if "sliding" in (treatment_at(plan, at).placement for at in (before, beat)):
                continue
            move, where = abs(b[-1] - a[-1]), partial(bar_and_beat, form, beat)
            still.add(move == 0, where, move == 0)
            again.add(a == b, where, a == b)
            if move and treatment_at(plan, beat).chords[0] == "rootless":
                leaps.add(move > THIRD, where, move > THIRD)
    return [
        still.figure("the chords' top voice stands still", at_most=0.25),
        again.figure("the very same voicing again", at_most=0.10),
        leaps.figure("leaps of the top voice, over a third", at_most=0.25),
        _few(sizes),
    ]


def _in_a_gap(plan: TreatmentPlan, beat: Fraction) -> bool:
    treatment = treatment_at(plan, beat)
    return treatment.placement in LISTENING and treatment.chords[0] == "rootless"


def _few(sizes: Counter[int]) -> AuditFigure:
    count = sum(sizes.values())
    few = sum(times for size, times in sizes.items() if size < 4)
    return AuditFigure("rootless chords in gaps with two or three notes", few / max(1, count), 0.2, 0.9, count)
