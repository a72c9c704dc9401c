"""What stands on the page: staves of voices, bar by bar, before it is put into any file format.

Conventions: beats in quarters from the first downbeat of the form, as Fractions; a bar's own content counts from the
bar's start. The melody is the upper voice of the right hand and the chords are the lower; the bass is the left hand's.

What a bass or a chord lasts is how it is touched; on paper it fills up to the next note or to the beat, as a copyist
would write it. The melody's lengths are the chart's and stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from companion.arrange.part import Note
from companion.chart.model import Chart, ChordSpan, Form
from companion.engrave.values import Head, Stretch, write_bar
from companion.music.chords import Chord
from companion.music.meter import Metre

VOICES = {"melody": (1, 1), "solo": (1, 1), "chords": (1, 2), "bass": (2, 5)}
"""Staff and voice of each part; the left hand's voices count from 5 (common practice in MusicXML)."""
BARS_A_LINE = 4
"""Phrases are multiples of it (common practice on lead sheets)."""
BREATH = Fraction(1, 2)
"""Rests up to this long between notes of an accompanying part are touch, not rhythm."""


@dataclass(frozen=True)
class Voice:
    """One voice of one staff in one bar."""

    staff: int
    number: int
    heads: tuple[Head, ...]
    hidden: bool = False
    """Nothing of it is printed: the melody's silence beside chords, kept so that other readers find the melody."""


@dataclass(frozen=True)
class Bar:
    """One bar of the page."""

    number: int
    """1 = the first full bar of the form; 0 is the pickup."""
    length: Fraction
    metre: Metre
    voices: tuple[Voice, ...]
    chords: tuple[tuple[Fraction, Chord], ...] = ()
    pedals: tuple[tuple[Fraction, str], ...] = ()
    """Where the left hand's pedal goes down ('start') and comes up ('stop'), in order."""
    heading: str | None = None
    """The section that begins here."""
    double: bool = False
    """A section ends here."""
    new_line: bool = False
    new_page: bool = False


@dataclass(frozen=True)
class Sheet:
    """All that is printed."""

    title: str
    composer: str | None
    metre: Metre
    fifths: int
    minor: bool
    tempo: float
    """Quarters a minute."""
    feel: str
    staves: tuple[int, ...]
    """1: the right hand's, 2: the left hand's."""
    bars: tuple[Bar, ...]


def lead_sheet(chart: Chart) -> Sheet:
    """The melody and the chord symbols, sections one after the other as they are played."""
    form = chart.unfold()
    return sheet(chart, form, as_written(form), (1,))


def as_written(form: Form) -> list[Note]:
    """The melody as the chart has it."""
    return [Note(note.beat, note.length, note.pitch, "melody") for note in form.melody]


def sheet(chart: Chart, form: Form, notes: Iterable[Note], staves: tuple[int, ...] = (1, 2)) -> Sheet:
    """Lay parts out on staves.

    Parameters
    ----------
    chart : Chart
        For its title and composer.
    form : Form
        The unfolded chart.
    notes : iterable of Note
        Of any parts; those whose hand has no staff are left out.
    staves : tuple of int
        1: the right hand's, 2: the left hand's.
    """
    lines = {
        place: _stretches([note for note in notes if VOICES[note.part] == place])
        for notes in [list(notes)]
        for place in dict.fromkeys(VOICES.values())
        if place[0] in staves
    }
    first = min((line[0].start for line in lines.values() if line), default=Fraction(0))
    bars = []
    for number, start, length in _bar_lines(form, first):
        metre = form.metre if not number or length == form.metre.bar else metre_of(length)
        section = next((place for place in form.sections if place.start == start), None) if number else None
        bars.append(
            Bar(
                number=number,
                length=length,
                metre=metre,
                voices=_voices(lines, start, length, metre, staves),
                chords=_symbols(form.chords, start, length) if number else (),
                pedals=_pedals(lines.get(VOICES["bass"], []), start, length),
                heading=section.name if section else None,
                double=any(place.end == start + length for place in form.sections) and bool(number),
            )
        )
    return Sheet(
        title=chart.title,
        composer=chart.composer,
        metre=form.metre,
        fifths=form.fifths,
        minor=form.minor,
        tempo=form.tempo,
        feel=form.feel,
        staves=staves,
        bars=tuple(_lined(bars)),
    )


def _bar_lines(form: Form, first: Fraction) -> list[tuple[int, Fraction, Fraction]]:
    """Number, start and length of each bar; a pickup lasts whole halves of a quarter, or whole quarters."""
    lines = [*form.bars, form.length]
    found = [(k, start, end - start) for k, (start, end) in enumerate(pairwise(lines), 1)]
    if first < 0:
        unit = Fraction(1, 2) if (2 * first).denominator == 1 else Fraction(1)
        length = -(first // unit) * unit
        found.insert(0, (0, -length, length))
    return found


def metre_of(length: Fraction) -> Metre:
    """A metre for a bar of so many quarters."""
    beat_type = next((t for t in (4, 8, 16, 32, 64) if (length * t / 4).denominator == 1), 64)
    return Metre(int(length * beat_type / 4), beat_type)


def _stretches(notes: Sequence[Note]) -> list[Stretch]:
    """Chords gathered, nothing overlapping, lengths as they are written."""
    together: dict[Fraction, list[Note]] = {}
    for note in sorted(notes, key=lambda note: (note.beat, note.midi)):
        together.setdefault(note.beat, []).append(note)
    starts = [*together, None]
    found = []
    for (start, chord), following in zip(together.items(), starts[1:], strict=True):
        end = max(note.beat + note.length for note in chord)
        if chord[0].part in ("chords", "bass"):
            end = _rounded(end, following)
        end = end if following is None else min(end, following)
        pitches = tuple({note.midi: note.pitch for note in chord}.values())
        found.append(Stretch(start, end, pitches, pedal=any(note.pedal for note in chord)))
    return found


def _rounded(end: Fraction, following: Fraction | None) -> Fraction:
    """Where a touched note ends on paper."""
    if following is not None and following - end < BREATH:
        return following
    return end if (end * 2).denominator == 1 else -(-end // BREATH) * BREATH


def _voices(
    lines: dict[tuple[int, int], list[Stretch]],
    start: Fraction,
    length: Fraction,
    metre: Metre,
    staves: tuple[int, ...],
) -> tuple[Voice, ...]:
    """The voices of a bar; one that is silent beside another of its staff isn't written."""
    inside = {place: _inside(line, start, start + length) for place, line in lines.items()}
    voices = []
    for staff in staves:
        here = {number: found for (on, number), found in inside.items() if on == staff}
        sounding = {number: found for number, found in here.items() if found} or dict(list(here.items())[:1])
        if staff == 1 and 1 not in sounding and lines.get(VOICES["melody"]):
            voices.append(Voice(1, 1, write_bar([], length, metre), hidden=True))
        voices += [Voice(staff, number, write_bar(found, length, metre)) for number, found in sounding.items()]
    return tuple(voices)


def _inside(line: Sequence[Stretch], start: Fraction, end: Fraction) -> list[Stretch]:
    return [
        replace(
            stretch,
            start=max(stretch.start, start) - start,
            end=min(stretch.end, end) - start,
            tied_back=stretch.start < start,
            tied_on=stretch.end > end,
        )
        for stretch in line
        if stretch.start < end and stretch.end > start
    ]


def _pedals(line: Sequence[Stretch], start: Fraction, length: Fraction) -> tuple[tuple[Fraction, str], ...]:
    """A pedal that ends with the bar comes up in it; one that goes on without a break is changed."""
    held = [stretch for stretch in line if stretch.pedal]
    down = [(s.start - start, "start") for s in held if start <= s.start < start + length]
    up = [(s.end - start, "stop") for s in held if start < s.end <= start + length]
    return tuple(sorted([*up, *down], key=lambda sign: (sign[0], sign[1] == "start")))


def _symbols(spans: Sequence[ChordSpan], start: Fraction, length: Fraction) -> tuple[tuple[Fraction, Chord], ...]:
    if not any(span.chord.is_chord for span in spans):
        return ()
    return tuple((span.start - start, span.chord) for span in spans if start <= span.start < start + length)


def _lined(bars: Sequence[Bar]) -> list[Bar]:
    """Lines of four bars, even ones where a section has another number; a section begins a line."""
    heads = [k for k, bar in enumerate(bars) if bar.heading] or [0]
    new: set[int] = set()
    for first, after in pairwise([*heads, len(bars)]):
        count = after - first
        lines = -(-count // BARS_A_LINE)
        new |= {first + line * count // lines for line in range(lines)}
    new.discard(heads[0])
    return [replace(bar, new_line=k in new) for k, bar in enumerate(bars)]
