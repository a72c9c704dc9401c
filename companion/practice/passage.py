"""Some bars of a tune with their way in, as a tune of their own, and what the companion plays there laid down for good.

A passage is cut from the tune as it is arranged in its place, so that a bar drilled sounds as it does in the tune, the
same in every round.

Conventions: beats in quarters; bars are numbered through the form, 1 = its first full bar.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.chords.comping_style import CompingStyle
from companion.arrange.excerpts import excerpt
from companion.arrange.transposition import in_key
from companion.arrange.writing import write_arrangement
from companion.chart.model import Chart, ChordSpan, Form, FormSection, Section, WrittenNote, WrittenPart
from companion.errors import UseError
from companion.messages import TUNE_PARTS
from companion.music.pitch import Name, Pitch
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences


@dataclass(frozen=True)
class Excerpt:
    """Bars of a tune with the bars that lead into them."""

    chart: Chart
    """Way in and passage, as a tune of their own; its beat 0 is the first downbeat of the way in."""
    bars: tuple[int, int]
    """First and last bar of the passage, way in excluded."""
    start: Fraction
    """The chart beat, in the whole tune, of this tune's beat 0."""
    way_in: Fraction
    """Quarters from this tune's beat 0 to the passage's first downbeat."""

    @property
    def length(self) -> Fraction:
        """Quarters of the passage, way in excluded."""
        return self.chart.unfold().length - self.way_in


@dataclass(frozen=True)
class Arranged:
    """How the companion plays a tune that is drilled: the same for the same."""

    parts: frozenset[str]
    """The companion's."""
    treatment: str | None = None
    seed: int = 0
    key: int | None = None
    """Signature, in fifths, of another key than the chart's."""
    style: CompingStyle | None = None
    """How the player comps, where free chords are to be like theirs."""


@lru_cache(maxsize=16)
def arranged_chart(chart: Chart, how: Arranged) -> Chart:
    """The chart in its key with every part of the companion's written; what is written in the chart stays.

    Raises
    ------
    UseError
        There is no such key.
    ConfigError
        There is no such treatment.
    """
    if how.key is not None:
        chart = in_key(chart, how.key)
    form = chart.unfold()
    everything = frozenset(range(1, len(form.bars) + 1))
    for part in ("bass", "chords"):
        written = None if how.treatment else form.written_part(part)
        left = everything - (written.bars if written else frozenset())
        if part in how.parts and left:
            chart = write_arrangement(
                chart, parts=(part,), bars=left, treatment=how.treatment, seed=how.seed, style=how.style
            )
    return chart


@lru_cache(maxsize=64)
def passage(chart: Chart, first: int, last: int, way_in: int = 1) -> Excerpt:
    """Cut bars ``first`` to ``last`` out of a tune, with so many bars before them as the way in.

    The tune's pickup belongs to its first bar. Where fewer bars lie before the passage, the way in is shorter.

    Raises
    ------
    UseError
        The form has no such bars.
    """
    check_bars(chart, first, last)
    form = chart.unfold()
    begin = max(1, first - way_in)
    cut = excerpt(form, begin - 1, last - begin + 1)
    start = form.bars[begin - 1]
    if begin == 1:
        cut = replace(cut, melody=(*(note for note in form.melody if note.beat < 0), *cut.melody))
    written = tuple(_written(part, form, begin, last) for part in form.written)
    return Excerpt(
        chart=replace(_chart_of(chart, cut), written=written),
        bars=(first, last),
        start=start,
        way_in=form.bars[first - 1] - start,
    )


def check_bars(chart: Chart, first: int, last: int) -> None:
    """See that a form has bars ``first`` to ``last``. Raises UseError."""
    number = len(chart.unfold().bars)
    if not 1 <= first <= last <= number:
        what = f"there is no bar {first if first > number or first < 1 else last}"
        raise UseError(what, file=chart.source, mend=f"the form has bars 1 to {number}")


def _written(part: WrittenPart, form: Form, begin: int, last: int) -> WrittenPart:
    start = form.bars[begin - 1]
    end = form.bars[last] if last < len(form.bars) else form.length
    notes = tuple(
        replace(note, beat=note.beat - start, length=min(note.length, end - note.beat))
        for note in part.notes
        if (start <= note.beat or begin == 1) and note.beat < end
    )
    return WrittenPart(part.part, frozenset(bar - begin + 1 for bar in part.bars if begin <= bar <= last), notes)


def _chart_of(chart: Chart, form: Form) -> Chart:
    """A chart that unfolds to a form; where two sections have one name, the later one has its number, too."""
    names: list[str] = []
    for number, place in enumerate(form.sections, 1):
        names.append(f"{place.name} ({number})" if place.name in names else place.name)
    sections = [_section(form, place, name) for place, name in zip(form.sections, names, strict=True)]
    return replace(chart, sections=tuple(sections), form=tuple(names), events=())


def _section(form: Form, place: FormSection, name: str) -> Section:
    """A section of a form as it is written; the form's pickup belongs to the first."""
    start, end = place.start, place.end
    low = min(start, form.melody[0].beat) if form.melody and start == 0 else start
    ends = [*form.bars[1:], form.length]
    return Section(
        name=name,
        bars=tuple(b - a for a, b in zip(form.bars, ends, strict=True) if start <= a < end),
        chords=tuple(
            ChordSpan(max(c.start, start) - start, min(c.end, end) - start, c.chord)
            for c in form.chords
            if c.start < end and c.end > start
        ),
        melody=tuple(replace(note, beat=note.beat - start) for note in form.melody if low <= note.beat < end),
        treatment=place.treatment,
    )


def roots_alone(chart: Chart) -> Chart:
    """The chart with a bass that plays the root of each chord, as long as the chord lasts, and nothing else."""
    form = chart.unfold()
    low = preferences(BassPreferences).range.lowest
    notes = tuple(
        WrittenNote(span.start, span.end - span.start, _root(span.chord.bass_name, low), "left")
        for span in form.chords
        if span.chord.is_chord and span.chord.bass_name is not None
    )
    others = tuple(part for part in chart.written if part.part != "bass")
    return replace(chart, written=(*others, WrittenPart("bass", frozenset(range(1, len(form.bars) + 1)), notes)))


def _root(name: Name, low: int) -> Pitch:
    """A root in the octave above the bass's lowest note."""
    return name.at(low + (name.pc - low) % 12)


def section_bars(form: Form, name: str) -> tuple[int, int]:
    """First and last bar of a section, the first time that the form comes to it; capitals don't matter.

    Raises
    ------
    UseError
        The form has no such section.
    """
    for place in form.sections:
        if place.name.casefold() == name.strip().casefold():
            return form.bar_at(place.start), form.bar_at(place.end - Fraction(1, 1024))
    names = ", ".join(dict.fromkeys(place.name for place in form.sections if place.name))
    raise UseError(f"there is no section {name!r}", mend=f"there are {names}" if names else "name bars with --bars")


def companion_parts(you: Collection[str]) -> frozenset[str]:
    """The tune's parts that a player leaves."""
    taken = {*you, "melody"} if "solo" in you else set(you)
    return frozenset(part for part in TUNE_PARTS if part not in taken)
