"""A chart as it is written, and the form as it is played once through.

Conventions: beats and lengths are quarter notes as Fractions. In a :class:`Section` they count from the section's first
downbeat, in a :class:`Form` from the first downbeat of the form; what lies below 0 is a pickup, which sounds in the bar
before (of the form: before the first downbeat, and in later choruses in the last bar of the one before).

Unfolding makes the form: a section's pickup is laid into the bar before it and takes the place of what stands
there (common practice: the pickup to a later chorus lies in the last bar of the one before).
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from weakref import WeakValueDictionary

from companion.errors import ChartError
from companion.messages import EventKind, Hand, Part
from companion.music.chords import NO_CHORD, Chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

UNTITLED = "Untitled"
"""What a tune without a title is called."""
MOST_BARS = 2000
"""More bars than this, written or once through, are a fault of the file and not a tune."""


@dataclass(frozen=True)
class MelodyNote:
    """One note of the melody, ties joined."""

    beat: Fraction
    length: Fraction
    pitch: Pitch


@dataclass(frozen=True)
class ChordSpan:
    """A chord and the stretch it rules, end excluded. The chord may be the no-chord."""

    start: Fraction
    end: Fraction
    chord: Chord


@dataclass(frozen=True)
class Section:
    """A stretch of the form under one name, as written."""

    name: str
    bars: tuple[Fraction, ...]
    """Length of each bar in quarters."""
    chords: tuple[ChordSpan, ...] = ()
    melody: tuple[MelodyNote, ...] = ()
    treatment: str | None = None

    @property
    def length(self) -> Fraction:
        """Quarters in all its bars."""
        return sum(self.bars, Fraction(0))


@dataclass(frozen=True)
class Event:
    """One step in the order of events: introduction, head, solos or ending."""

    kind: EventKind
    choruses: int = 1
    treatment: str | None = None
    how: str | None = None
    """For an introduction or ending: how it is made ('vamp', 'pedal', 'last-four', 'tag', ...)."""
    bars: int | None = None


@dataclass(frozen=True)
class FormSection:
    """A section where it stands in the unfolded form."""

    name: str
    start: Fraction
    end: Fraction
    treatment: str | None = None


@dataclass(frozen=True)
class WrittenNote:
    """One note of a written arrangement; its degree and its reason are worked out from the chord it stands on."""

    beat: Fraction
    length: Fraction
    pitch: Pitch
    hand: Hand = "right"
    voice: int = 1
    weight: float = 1.0
    pedal: bool = False


@dataclass(frozen=True)
class WrittenPart:
    """One part kept note for note over the unfolded form, or over some of its bars."""

    part: Part
    """'melody', 'chords' or 'bass'."""
    bars: frozenset[int]
    """Numbers of the bars that are written, 1 = the first full bar of the form. The others are free."""
    notes: tuple[WrittenNote, ...]
    """In order of beat, from the lowest up. A note belongs to the bar in which it begins, a pickup to the first."""


@dataclass(frozen=True)
class Form:
    """Once through the sections in order, repeats and endings unfolded: what is followed, arranged and played."""

    metre: Metre
    fifths: int
    minor: bool
    tempo: float
    """Quarters a minute."""
    feel: str
    """'swing' or 'straight'; a feel named in ``configs/feels.toml``."""
    length: Fraction
    bars: tuple[Fraction, ...]
    """Where each bar starts."""
    sections: tuple[FormSection, ...]
    chords: tuple[ChordSpan, ...]
    """In order, without overlap, from 0 to the length (no-chord where nothing is written)."""
    melody: tuple[MelodyNote, ...]
    """In order of beat; a pickup has negative beats."""
    written: tuple[WrittenPart, ...] = ()
    """The parts of the arrangement that are written, one of a name; the others are free."""

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        """Worked out once: what is arranged and followed is kept by form, and looked up often."""
        how = self.metre, self.fifths, self.minor, self.tempo, self.feel
        return hash((how, self.sections, self.chords, self.melody, self.written))

    @cached_property
    def free(self) -> Form:
        """The same form with nothing of its arrangement written."""
        return replace(self, written=()) if self.written else self

    def written_part(self, part: str) -> WrittenPart | None:
        """What is written of a part; None when all of it is free."""
        return next((one for one in self.written if one.part == part), None)

    @cached_property
    def pickup(self) -> Fraction:
        """How far the melody begins before the first downbeat, in quarters; 0 without a pickup."""
        return max(Fraction(0), -self.melody[0].beat) if self.melody else Fraction(0)

    @cached_property
    def _chord_starts(self) -> tuple[float, ...]:
        return tuple(float(span.start) for span in self.chords)

    def chord_at(self, beat: Fraction | float) -> ChordSpan:
        """The chord that rules a beat; the form repeats for ever in both directions."""
        place = float(beat) % float(self.length) + 1e-9  # a float that should be a chord's start may lie a hair before
        return self.chords[bisect.bisect_right(self._chord_starts, place) - 1]

    @cached_property
    def bar_starts(self) -> tuple[float, ...]:
        """Where each bar starts, in quarters, as floats, which are found much faster than Fractions."""
        return tuple(float(bar) for bar in self.bars)

    def bar_at(self, beat: Fraction | float) -> int:
        """Number of the bar in which a beat lies, 1 = the first full bar of the form."""
        place = float(beat)
        if not 0 <= place < self._end:
            place = float(beat % self.length)
        return bisect.bisect_right(self.bar_starts, place)

    @cached_property
    def _end(self) -> float:
        return float(self.length)

    def section_at(self, beat: Fraction | float) -> FormSection:
        """The section in which a beat lies; the form repeats for ever in both directions."""
        beat = beat % self.length
        return next((s for s in self.sections if s.start <= beat < s.end), self.sections[-1])


@dataclass(frozen=True)
class Chart:
    """A chart as written: sections, the form that names them in order, and the order of events."""

    title: str
    sections: tuple[Section, ...]
    form: tuple[str, ...]
    """Names of sections in the order of playing."""
    metre: Metre = Metre()
    fifths: int = 0
    minor: bool = False
    tempo: float = 120.0
    feel: str = "swing"
    composer: str | None = None
    events: tuple[Event, ...] = field(default=())
    written: tuple[WrittenPart, ...] = ()
    """The written arrangement, over the unfolded form; see :class:`Form`."""
    source: str | None = None
    """The file it was read from."""

    def unfold(self) -> Form:
        """Lay the sections out in the order of the form.

        A section's pickup is laid into the bar before it: it takes the place of what the section before has there.

        Returns
        -------
        Form
            Its chords cover the whole length without overlap (no-chord where nothing is written); its melody has one
            note at a time, in order.

        Raises
        ------
        ChartError
            When the form names a section that isn't there, or has no bar to play.
        """
        return self._form

    @cached_property
    def _form(self) -> Form:
        """Worked out once: whoever plays and judges asks for it again and again."""
        return _unfolded(self)


def _unfolded(chart: Chart) -> Form:
    by_name = {section.name: section for section in chart.sections}
    start = Fraction(0)
    bars: list[Fraction] = []
    places: list[FormSection] = []
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
        places.append(FormSection(section.name, start, beat, section.treatment))
        start = beat
        if len(bars) > MOST_BARS:
            raise ChartError(f"the form has more than {MOST_BARS} bars", file=chart.source, where="form")
    if start <= 0:
        raise ChartError("the form has no bar to play", file=chart.source, where="form")
    form = Form(
        metre=chart.metre,
        fifths=chart.fifths,
        minor=chart.minor,
        tempo=chart.tempo,
        feel=chart.feel,
        length=start,
        bars=tuple(bars),
        sections=tuple(places),
        chords=tuple(_filled_with_no_chord(chords, Fraction(0), start)),
        melody=tuple(melody),
        written=chart.written,
    )
    return _UNFOLDED.setdefault(form, form)


_UNFOLDED: WeakValueDictionary[Form, Form] = WeakValueDictionary()
"""Equal forms are one object: what is kept by form is found by its identity, not by comparing note with note."""


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


def _filled_with_no_chord(spans: Iterable[ChordSpan], start: Fraction, end: Fraction) -> list[ChordSpan]:
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
