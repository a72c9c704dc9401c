"""Forms cut, joined and made: some bars as a form of their own, forms one after the other, a row of chords.

Conventions: beats in quarters from the first downbeat of the form that is made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from companion.chart.model import ChordSpan, Form, FormSection, MelodyNote


def excerpt(form: Form, first: int, bars: int | None = None) -> Form:
    """Some bars of a form as a form of their own, from index ``first`` (0 = the first bar) on."""
    first = max(0, first)
    starts = form.bars[first : None if bars is None else first + bars]
    start = starts[0]
    end = form.bars[first + len(starts)] if first + len(starts) < len(form.bars) else form.length
    return replace(
        form,
        length=end - start,
        bars=tuple(bar - start for bar in starts),
        sections=tuple(
            FormSection(s.name, max(s.start, start) - start, min(s.end, end) - start, s.treatment)
            for s in form.sections
            if s.start < end and s.end > start
        ),
        chords=tuple(
            ChordSpan(max(c.start, start) - start, min(c.end, end) - start, c.chord)
            for c in form.chords
            if c.start < end and c.end > start
        ),
        melody=tuple(
            MelodyNote(n.beat - start, min(n.length, end - n.beat), n.pitch)
            for n in form.melody
            if start <= n.beat < end
        ),
        written=(),
    )


def joined(forms: Sequence[Form]) -> Form:
    """Forms one after the other."""
    bars: list[Fraction] = []
    sections: list[FormSection] = []
    chords: list[ChordSpan] = []
    melody: list[MelodyNote] = []
    at = Fraction(0)
    for form in forms:
        bars += (bar + at for bar in form.bars)
        sections += (FormSection(s.name, s.start + at, s.end + at, s.treatment) for s in form.sections)
        chords += (ChordSpan(c.start + at, c.end + at, c.chord) for c in form.chords)
        melody += (MelodyNote(n.beat + at, n.length, n.pitch) for n in form.melody)
        at += form.length
    return replace(
        forms[0],
        length=at,
        bars=tuple(bars),
        sections=tuple(sections),
        chords=tuple(chords),
        melody=tuple(melody),
        written=(),
    )


def sections_as(form: Form, treatment: str | None) -> Form:
    """The form with one treatment for all its sections, or with their own."""
    if treatment is None:
        return form
    return replace(form, sections=tuple(replace(place, treatment=treatment) for place in form.sections))


def form_of(form: Form, bars: tuple[Fraction, ...], spans: tuple[ChordSpan, ...], length: Fraction) -> Form:
    """Some bars with their chords, in another form's key, metre and tempo; without a melody."""
    return replace(
        form,
        length=length,
        bars=bars,
        sections=(FormSection("", Fraction(0), length),),
        chords=spans,
        melody=(),
        written=(),
    )
