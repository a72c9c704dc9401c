"""What was played, bar by bar, in letters: the demo's answer where there is no loudspeaker.

Conventions: a note belongs to the bar of the beat that the companion sounded last before it, or at the same time; notes
of one part within 30 ms are a chord. Pitches are spelled after the bar's chords, else as is usual in the key,
without octaves.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Sequence
from itertools import groupby

from companion.chart.model import ChordSpan, Form
from companion.messages import Beat, Heard, Order, Report
from companion.music.pitch import name_in_key

TOGETHER = 0.030
"""Seconds within which notes are one chord."""
EARLY = 0.060
"""Seconds by which a note may come before the beat that it belongs to."""


def transcript(
    form: Form, heard: Sequence[Heard], orders: Sequence[Order], reports: Iterable[Report], bars: int = 8
) -> list[str]:
    """The first bars as lines of a table: the bar, its chords, the player's notes, and a column for each part.

    Parameters
    ----------
    form : Form
    heard, orders, reports
        What a rehearsal heard and gave.
    bars : int
        How many bars.

    Returns
    -------
    list of str
        A heading and a line for each bar; empty when no beat was sounded.
    """
    beats = [report for report in reports if isinstance(report, Beat)]
    stretches = [(bar, list(rows)) for bar, rows in groupby(beats, key=lambda beat: form.bar_at(beat.chart_beat))]
    if not stretches:
        return []
    starts = [rows[0].seconds - EARLY for _, rows in stretches]
    parts = [part for part in ("melody", "solo", "chords", "bass") if any(order.part == part for order in orders)]
    columns = {"you": [h for h in heard if h.is_note_on]} | {
        part: [o for o in orders if o.part == part and o.status & 0xF0 == 0x90 and o.data2] for part in parts
    }
    table = [["bar", "chords of the chart", *columns]]
    for index, (bar, rows) in enumerate(stretches[:bars]):
        end = starts[index + 1] if index + 1 < len(starts) else rows[-1].seconds + 1.0
        spans = _spans(form, bar)
        names = _names(form, spans)
        cells = [_letters(notes, starts[index], end, names) for notes in columns.values()]
        table.append([str(bar), " ".join(span.chord.symbol for span in spans), *cells])
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in table]


def _spans(form: Form, bar: int) -> list[ChordSpan]:
    start = form.bars[bar - 1]
    end = form.bars[bar] if bar < len(form.bars) else form.length
    return [span for span in form.chords if span.start < end and span.end > start]


def _names(form: Form, spans: Sequence[ChordSpan]) -> list[str]:
    """How each pitch class is spelled; in minor the raised sixth and seventh belong to the key."""
    fifths = form.fifths + 3 if form.minor else form.fifths
    names = [str(name_in_key(pc, fifths)) for pc in range(12)]
    for span in reversed(spans):
        if span.chord.is_chord:
            for degree in (*span.chord.available, *span.chord.tones):
                name = span.chord.name_of(degree)
                names[name.pc] = str(name)
    return names


def _letters(notes: Sequence[Heard | Order], start: float, end: float, names: Sequence[str]) -> str:
    """The notes between two moments; those of one chord from the bottom, with hyphens."""
    moments = [note.seconds for note in notes]
    inside = notes[bisect.bisect_left(moments, start) : bisect.bisect_left(moments, end)]
    chords: list[list[Heard | Order]] = []
    for note in inside:
        if chords and note.seconds - chords[-1][0].seconds <= TOGETHER:
            chords[-1].append(note)
        else:
            chords.append([note])
    return " ".join("-".join(names[number % 12] for number in sorted({c.data1 for c in chord})) for chord in chords)
