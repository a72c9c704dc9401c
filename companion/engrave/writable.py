"""Whether a chart can be put on paper: each bar's length has a time signature, and its rhythms have note values.

What is made up over it is written in halves, thirds and quarters of beats, so it is the chart's own notes that matter:
the melody, and the parts that are written note for note.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from companion.arrange.part import Note
from companion.chart.model import Chart, Form
from companion.engrave.score import at_place, chart_melody, form_bars, pickup_bars, written_bar
from companion.engrave.sheet import LEFT, RIGHT
from companion.engrave.voices import spans_by_voice
from companion.errors import ChartError


def unprintable_bars(chart: Chart) -> tuple[ChartError, ...]:
    """What of a chart can't be printed, each bar of a section once; with section and bar."""
    form = chart.unfold()
    found: dict[str, ChartError] = {}
    for notes in (chart_melody(form), *_written_parts(form)):
        for fault in _faults(form, notes):
            found.setdefault(str(fault.where), fault)
    return tuple(found.values())


def _written_parts(form: Form) -> list[list[Note]]:
    return [
        [Note(note.beat, note.length, note.pitch, part.part, note.hand, note.voice) for note in part.notes]
        for part in form.written
    ]


def _faults(form: Form, notes: Sequence[Note]) -> list[ChartError]:
    staves = (RIGHT, LEFT)
    held = spans_by_voice(notes, staves)
    low = min((note.beat for note in notes), default=Fraction(0))
    bars = (*pickup_bars(form, low), *form_bars(form))
    faults = []
    for number, start, length in bars:
        try:
            with at_place(form.sections, bars, start):
                written_bar(held, form, number, start, length, staves)
        except ChartError as error:
            faults.append(error)
    return faults
