"""From a chart as written to the form as it is played once through.

Conventions: beats and lengths in quarter notes, as Fractions; in the form they count from its first downbeat. A
section's pickup is laid into the bar before it and takes the place of what stands there; the first section's pickup
has negative beats (common practice: the pickup to a later chorus lies in the last bar of the one before).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from companion.chart.model import MOST_BARS, Chart, ChordSpan, Form, MelodyNote, Place, Section
from companion.errors import ChartError
from companion.music.chords import NO_CHORD


def unfold(chart: Chart) -> Form:
    """Lay the sections out in the order of the form.

    Parameters
    ----------
    chart : Chart
        Sections as written and the order in which they are played.

    Returns
    -------
    Form
        Its chords cover the whole length without overlap (no-chord where nothing is written); its melody has one note
        at a time, in order.

    Raises
    ------
    ChartError
        When the form names a section that isn't there, or has no bar to play.
    """
    by_name = {section.name: section for section in chart.sections}
    start = Fraction(0)
    bars: list[Fraction] = []
    places: list[Place] = []
    melody: list[MelodyNote] = []
    chords: list[ChordSpan] = []
    for name in chart.form:
        if name not in by_name:
            raise ChartError(f"the form names a section {name!r} that isn't there", file=chart.source, where="form")
        section = by_name[name]
        _lay_melody(melody, section, start)
        _lay_chords(chords, section, start)
        beat = start
        for bar in section.bars:
            bars.append(beat)
            beat += bar
        places.append(Place(section.name, start, beat, section.treatment))
        start = beat
        if len(bars) > MOST_BARS:
            raise ChartError(f"the form has more than {MOST_BARS} bars", file=chart.source, where="form")
    if start <= 0:
        raise ChartError("the form has no bar to play", file=chart.source, where="form")
    return Form(
        metre=chart.metre,
        fifths=chart.fifths,
        minor=chart.minor,
        tempo=chart.tempo,
        feel=chart.feel,
        length=start,
        bars=tuple(bars),
        sections=tuple(places),
        chords=tuple(fill_with_no_chord(chords, Fraction(0), start)),
        melody=tuple(melody),
        written=chart.written,
    )


def _lay_melody(melody: list[MelodyNote], section: Section, start: Fraction) -> None:
    """Append a section's melody; what was there from its first note on gives way."""
    if section.melody:
        first = min(Fraction(0), section.melody[0].beat) + start
        while melody and melody[-1].beat >= first:
            melody.pop()
    for note in section.melody:
        beat = start + note.beat
        if melody and melody[-1].beat + melody[-1].length > beat:
            melody[-1] = replace(melody[-1], length=beat - melody[-1].beat)
        melody.append(replace(note, beat=beat))


def _lay_chords(chords: list[ChordSpan], section: Section, start: Fraction) -> None:
    """Append a section's chords, those of its pickup over the end of what is there."""
    for span in section.chords:
        begin, end = start + span.start, start + span.end
        while chords and chords[-1].start >= begin:
            chords.pop()
        if chords and chords[-1].end > begin:
            chords[-1] = replace(chords[-1], end=begin)
        chords.append(ChordSpan(begin, end, span.chord))


def fill_with_no_chord(spans: Iterable[ChordSpan], start: Fraction, end: Fraction) -> list[ChordSpan]:
    """The spans cut to a stretch, and the no-chord wherever they leave a gap."""
    filled: list[ChordSpan] = []
    at = start
    for span in spans:
        begin, stop = max(span.start, at), min(span.end, end)
        if begin >= stop:
            continue
        if begin > at:
            filled.append(ChordSpan(at, begin, NO_CHORD))
        filled.append(ChordSpan(begin, stop, span.chord))
        at = stop
    if at < end:
        filled.append(ChordSpan(at, end, NO_CHORD))
    return filled
