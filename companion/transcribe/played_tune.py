"""A chart of what was played over another: what was improvised or comped in a take, barred and spelled.

The bars are those that the take went through (:mod:`companion.transcribe.played_bars`), with their chords; the notes
are read against the beats that were sounded, each part by itself, and written as an arrangement note for note.
"""

from __future__ import annotations

import statistics
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from companion.chart.imported import Imported
from companion.chart.lead_sheet import LeadSheet, as_chart
from companion.chart.model import Chart, MelodyNote, WrittenNote, WrittenPart
from companion.errors import ChartError
from companion.messages import Part
from companion.music.chords import Chord
from companion.music.meter import Metre
from companion.music.played import KeyPress
from companion.music.tonality import spell
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.barring import in_bars
from companion.transcribe.captured import spelled, transcribed_line
from companion.transcribe.hands_played import part_keys
from companion.transcribe.lengths import notes_with_lengths
from companion.transcribe.played_bars import PlayedBars
from companion.transcribe.quantise import quantise

NEAR = 0.35
"""Quarters from a note of the chart's melody within which a key on top is taken for it."""


def played_tune(
    chart: Chart, title: str, keys: Sequence[KeyPress], you: Collection[Part], went: PlayedBars, *, alone: bool
) -> Imported:
    """The chart of what was played.

    Parameters
    ----------
    chart : Chart
        Over which it was played.
    title : str
        Of the new chart.
    keys : sequence of KeyPress
        What the player pressed, on the take's clock.
    you : collection of str
        The parts they played.
    went : PlayedBars
        The bars they went through.
    alone : bool
        Whether the parts that they didn't play are silent; free otherwise.

    Raises
    ------
    ChartError
        No note was played.
    """
    melody = _moments(went)
    parted = part_keys(
        preferences(CapturePreferences),
        keys,
        you,
        lambda seconds: any(abs(went.beats.beat(seconds) - beat) < NEAR for beat in melody),
    )
    if not (parted.line or parted.chords or parted.bass):
        raise ChartError("no note was played", mend="take one in which you play")
    writing = _Writing(went, chart.metre, chart.feel, went.chords, (chart.fifths, chart.minor))
    bars = in_bars(
        writing.line(parted.line),
        writing.spans,
        chart.metre,
        bars=len(went.bars),
        headings=went.headings,
        lengths=[bar.length for bar in went.bars],
    )
    sheet = LeadSheet(title, None, bars, chart.metre, chart.fifths, chart.minor, _tempo(went), chart.feel)
    found = as_chart(sheet, chart.source or "")
    # A pickup of more than a bar is written in bars of its own: the other parts move with it.
    form = found.chart.unfold()
    moved = form.length - sum((bar.length for bar in went.bars), Fraction(0))
    chords, bass = writing.chords(parted.chords), writing.bass(parted.bass)
    everywhere = frozenset(range(1, len(form.bars) + 1))
    written = []
    parts: tuple[tuple[Part, list[WrittenNote]], ...] = (("chords", chords), ("bass", bass))
    for part, notes in parts:
        if notes or alone:
            kept = sorted(
                (replace(note, beat=note.beat + moved) for note in notes), key=lambda n: (n.beat, n.pitch.midi)
            )
            written.append(WrittenPart(part, everywhere, tuple(kept)))
    return replace(found, chart=replace(found.chart, written=tuple(written)))


def _moments(went: PlayedBars) -> list[float]:
    """Written beats at which the chart has a note of its melody."""
    return [
        float(bar.start + note.beat - bar.inside)
        for bar in went.bars
        for note in bar.source.form.melody
        if bar.inside <= note.beat < bar.inside + bar.length
    ]


def _tempo(went: PlayedBars) -> float:
    """Quarters a minute at the median, so that a break doesn't count."""
    return round(statistics.median(60 * (b - a) / (t - s) for (a, s), (b, t) in pairwise(went.beats.points)))


@dataclass(frozen=True)
class _Writing:
    """What keys are written down against."""

    went: PlayedBars
    metre: Metre
    feel: str
    spans: Sequence[tuple[Fraction, Chord]]
    """Chords with the written beats at which they begin."""
    key: tuple[int, bool]
    """Fifths of the signature, and whether it is minor."""

    def line(self, keys: Sequence[KeyPress]) -> list[MelodyNote]:
        """Keys one at a time as notes."""
        notes, _ = transcribed_line(keys, self.went.beats, self.metre, feel=self.feel)
        return spelled(notes, self.spans, self.key)

    def bass(self, keys: Sequence[KeyPress]) -> list[WrittenNote]:
        """The same for the left hand."""
        return [WrittenNote(note.beat, note.length, note.pitch, "left") for note in self.line(keys)]

    def chords(self, groups: Sequence[Sequence[KeyPress]]) -> list[WrittenNote]:
        """Keys struck together as chords, each as long as its longest."""
        strokes = [
            KeyPress(min(k.on for k in group), max(k.off for k in group), group[0].midi, group[0].velocity)
            for group in groups
        ]
        reading = quantise(strokes, self.went.beats, self.metre, feel=self.feel, graces=False)
        struck = [group for group, note in zip(groups, reading.notes, strict=True) if note.beat is not None]
        found = []
        for group, stroke in zip(struck, notes_with_lengths(reading, self.metre), strict=True):
            under = next((chord for beat, chord in reversed(self.spans) if beat <= stroke.beat), None)
            midis = sorted({k.midi for k in group})
            for pitch in spell(midis, [under] * len(midis), *self.key):
                found.append(WrittenNote(stroke.beat, stroke.length, pitch))
        return found
