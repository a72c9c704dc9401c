"""Figures of the late voices, from the notes alone: how many there are of those asked for, and whether they are a line.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. A late voice is a note that begins
after its chord and ends with it. Two are joined where no more than two bars pass between them; a line is a row of late
voices joined by step, a second up or down (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import partial
from itertools import pairwise

from companion.arrange.audit.chords import chords_of
from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.lookup import bar_and_beat, treatment_at
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form

JOINED = 2
"""Bars between two late voices that are heard as one line."""
LONG = 4
"""Bars that a line reaches over."""


def late_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of the late voices over some choruses."""
    asked, found = 0.0, 0
    by_step, in_lines = HitCount(), HitCount()
    for notes in choruses:
        late: list[Note] = []
        for beat, chord in chords_of(notes):
            share = treatment_at(plan, beat).late
            asked += share
            if share:
                waiting = [note for note in chord if note.beat > beat]
                found += bool(waiting)
                late += waiting[:1]
        for a, b in pairwise(late):
            if b.beat - a.beat <= JOINED * form.metre.bar:
                step = 1 <= abs(b.midi - a.midi) <= 2
                by_step.add(step, partial(bar_and_beat, form, b.beat), not step)
        for line in lines(late, JOINED * form.metre.bar):
            reach = form.bar_at(line[-1].beat) - form.bar_at(line[0].beat) + 1
            for note in line:
                in_lines.add(reach >= LONG, partial(bar_and_beat, form, note.beat), reach < LONG)
    return [
        AuditFigure(
            "late voices found of those asked for",
            found / asked if asked else 0.0,
            at_least=0.8,
            at_most=1.2,
            of=round(asked),
        ),
        by_step.figure("late voices that go on by step", at_least=0.8),
        in_lines.figure("late voices in a line over four bars or more", at_least=0.5),
    ]


def lines(late: Sequence[Note], joined: Fraction) -> list[list[Note]]:
    """Late voices in rows that go on by step, ``joined`` quarters apart at most."""
    found: list[list[Note]] = []
    for note in late:
        last = found[-1][-1] if found else None
        if last is not None and note.beat - last.beat <= joined and 1 <= abs(note.midi - last.midi) <= 2:
            found[-1].append(note)
        else:
            found.append([note])
    return found
