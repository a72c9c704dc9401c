"""Figures of the turned endings, from the notes alone: whether they are there, how much they change, how they close.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. A section is due a turned ending when
it comes for the last time of several, if its treatment turns endings and it has a melody at its end.
"""

from __future__ import annotations

from fractions import Fraction
from functools import partial

from companion.arrange.audit.figures import AuditFigure, HitCount
from companion.arrange.lookup import bar_and_beat, treatment_at
from companion.arrange.melody.part import treated
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form, MelodyNote

PHRASE = 4
"""Bars at the end of a section in which its last phrase lies."""
FEWEST = 4
"""Notes in them that are a phrase to be turned."""


def ending_figures(form: Form, plan: TreatmentPlan) -> list[AuditFigure]:
    """Figures of the melody as the plan has it; it is the same in every chorus."""
    there, changed, by_step = HitCount(), HitCount(), HitCount()
    arranged = {note.beat: note for note, _ in treated(form, plan)}
    for start, end in _due(form, plan):
        written = [note for note in form.melody if _last_bars(form, start, end) <= note.beat < end]
        if len(written) < FEWEST:
            continue
        other = [note for note in written if _other(arranged, note)]
        there.add(bool(other), partial(bar_and_beat, form, start), not other)
        if not other:
            continue
        first, last = other[0].beat, other[-1].beat
        for note in written:
            if first <= note.beat <= last:
                changed.add(_other(arranged, note), partial(bar_and_beat, form, note.beat), not _other(arranged, note))
        close = next((note for note in written if note.beat > last), None)
        if close is not None:
            step = abs(arranged[last].pitch.midi - close.pitch.midi) <= 2
            by_step.add(step, partial(bar_and_beat, form, close.beat), not step)
    return [
        there.figure("sections that come again with another ending", at_least=1.0),
        changed.figure("notes of a turned ending that are others", at_least=0.7),
        by_step.figure("turned endings that close by step", at_least=0.5),
    ]


def _due(form: Form, plan: TreatmentPlan) -> list[tuple[Fraction, Fraction]]:
    """From where to where sections lie that are due a turned ending."""
    names = [place.name for place in form.sections]
    return [
        (place.start, place.end)
        for n, place in enumerate(form.sections)
        if place.name in names[:n] and place.name not in names[n + 1 :]
        if treatment_at(plan, place.start).melody == "turned"
    ]


def _last_bars(form: Form, start: Fraction, end: Fraction) -> Fraction:
    return [bar for bar in form.bars if start <= bar < end][-PHRASE:][0]


def _other(arranged: dict[Fraction, MelodyNote], note: MelodyNote) -> bool:
    there = arranged.get(note.beat)
    return there is not None and there.pitch.midi != note.pitch.midi
