"""What stands on the page: staves of voices, bar by bar, before it is put into any file format.

Conventions: beats in quarters from the first downbeat of the form, as Fractions; a bar's own content counts from the
bar's start. What comes before the head lies below 0, what comes after it above the form's length.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from companion.arrange.part import Note
from companion.chart.model import Chart, ChordSpan, Form, FormSection
from companion.engrave.breaks import lined
from companion.engrave.fold import folded
from companion.engrave.sheet import LEFT, RIGHT, Bar, Sheet, Sign, Voice
from companion.engrave.spelling import respelled
from companion.engrave.values import VoiceSpan, write_bar
from companion.engrave.voices import (
    BASS,
    CHORDS,
    MELODY,
    OTTAVA,
    OTTAVA_BASSA,
    SpansByVoice,
    octaves,
    pedals,
    spans_by_voice,
    staff_of,
)
from companion.errors import ChartError
from companion.music.chords import Chord
from companion.music.meter import Metre

BarSpan = tuple[int, Fraction, Fraction]
"""Number, start and length of a bar."""


@dataclass(frozen=True)
class SheetContent:
    """What is laid out: the notes, and the bars, names and symbols over them."""

    notes: tuple[Note, ...]
    bars: tuple[tuple[int, Fraction, Fraction], ...]
    """Number, start and length of each."""
    places: tuple[FormSection, ...]
    """Sections, introduction and ending, in order."""
    chords: tuple[ChordSpan, ...]
    remarks: Mapping[int, str] = field(default_factory=dict)
    """By a bar's number."""


def lead_sheet(chart: Chart, remarks: Mapping[int, str] | None = None) -> Sheet:
    """The melody and the chord symbols; sections that come again are folded into repeats and endings.

    A chart without a melody has slashes instead. ``remarks`` are said over bars, 1 = the first full one.
    """
    form = chart.unfold()
    made = sheet(chart, form, chart_melody(form), (RIGHT,), remarks)
    return replace(made, slashes=not form.melody)


def chart_melody(form: Form) -> list[Note]:
    """The melody as the chart has it."""
    return [Note(note.beat, note.length, note.pitch, "melody") for note in form.melody]


def sheet(
    chart: Chart,
    form: Form,
    notes: Iterable[Note],
    staves: tuple[int, ...] = (RIGHT, LEFT),
    remarks: Mapping[int, str] | None = None,
    *,
    fold: bool = True,
) -> Sheet:
    """Lay parts out on staves, once through the form.

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
    remarks : mapping of int to str, optional
        What is said over bars, 1 = the first full one.
    fold : bool
        Whether what comes again is written once.
    """
    played = tuple(notes)
    low = min((note.beat for note in played if staff_of(note) in staves), default=Fraction(0))
    bars = (*pickup_bars(form, low), *form_bars(form))
    content = SheetContent(played, bars, form.sections, form.chords, remarks or {})
    return lay_out(chart, form, content, staves, fold=fold)


def lay_out(chart: Chart, form: Form, content: SheetContent, staves: tuple[int, ...], *, fold: bool = True) -> Sheet:
    """Lay a content out on staves, and fold what comes again, unless it is to be written out."""
    written = {(note.beat, note.pitch.midi) for part in form.written for note in part.notes}
    found = spans_by_voice(respelled(content.notes, content.chords, form.fifths, written), staves)
    changes = [*(start for _, start, _ in content.bars), *(span.start for span in content.chords)]
    signs = pedals(content.notes, changes) if LEFT in staves else []  # the right hand alone has nothing to be caught
    borders = [place.start for place in content.places]
    low, high = (octaves(found, borders, rule) for rule in (OTTAVA_BASSA, OTTAVA))
    symbols = _symbols(content.chords)
    starts = {place.start: place.name for place in content.places}
    ends = {place.end for place in content.places}
    bars = []
    for number, start, length in content.bars:
        with at_place(content.places, content.bars, start):
            metre, voices = written_bar(found, form, number, start, length, staves)
        bars.append(
            Bar(
                number=number,
                length=length,
                metre=metre,
                voices=voices,
                chords=_within_bar(symbols, start, length),
                pedals=_within(signs, start, length),
                octaves=_within(low, start, length),
                high=_within(high, start, length),
                heading=starts.get(start) or None,
                remark=content.remarks.get(number, ""),
                double=start + length in ends,
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
        bars=tuple(lined(folded(bars) if fold else bars)),
        form=tuple(place.name for place in form.sections if place.name),
    )


def written_bar(
    found: SpansByVoice, form: Form, number: int, start: Fraction, length: Fraction, staves: tuple[int, ...]
) -> tuple[Metre, tuple[Voice, ...]]:
    """The time signature of a bar, and its voices written out. Raises ChartError when they can't be."""
    usual = length == form.metre.bar or (number <= 0 and length < form.metre.bar)
    metre = form.metre if usual else metre_of(length)
    short = number <= 0 and length < metre.bar
    if not usual and metre.bar != length:
        raise ChartError(f"lasts {length} quarters, which no time signature says", mend="give it a metre such as 2/4")
    return metre, _voices(found, start, length, metre, staves, metre.bar - length if short else Fraction(0))


@contextmanager
def at_place(places: Sequence[FormSection], bars: Sequence[BarSpan], start: Fraction) -> Iterator[None]:
    """Give what is wrong in a bar its place: section and bar, as the chart counts them."""
    try:
        yield
    except ChartError as error:
        place = next((place for place in places if place.start <= start < place.end), None)
        if place is None:
            raise error.within(where="pickup") from None
        number = sum(place.start <= other <= start for _, other, _ in bars)
        raise error.within(where=f"section {place.name}, bar {number}") from None


def form_bars(form: Form) -> list[tuple[int, Fraction, Fraction]]:
    """Number, start and length of each bar of a form."""
    return [(k, start, end - start) for k, (start, end) in enumerate(pairwise([*form.bars, form.length]), 1)]


def pickup_bars(form: Form, first: Fraction) -> list[tuple[int, Fraction, Fraction]]:
    """The bars before the form, from beat ``first`` on; a short one lasts whole halves of a quarter, or quarters."""
    if first >= 0:
        return []
    unit = Fraction(1, 2) if (2 * first).denominator == 1 else Fraction(1)
    length = -(first // unit) * unit
    whole, rest = divmod(length, form.metre.bar)
    bars = [(-k, -(k + 1) * form.metre.bar, form.metre.bar) for k in reversed(range(int(whole)))]
    return [(-int(whole), -length, rest), *bars] if rest else bars


def metre_of(length: Fraction) -> Metre:
    """A metre for a bar of so many quarters."""
    beat_type = next((t for t in (4, 8, 16, 32, 64) if (length * t / 4).denominator == 1), 64)
    return Metre(int(length * beat_type / 4), beat_type)


def _voices(
    found: SpansByVoice, start: Fraction, length: Fraction, metre: Metre, staves: tuple[int, ...], first: Fraction
) -> tuple[Voice, ...]:
    """The voices of a bar, each with all its rests; one that is silent beside another of its staff isn't printed."""
    inside = {place: _inside(line, start, start + length) for place, line in found.items()}
    voices: list[Voice] = []
    for staff in staves:
        here = {place: held for place, held in inside.items() if place[0] == staff and held}
        alone = MELODY if staff == RIGHT else BASS
        if not here:
            kept = CHORDS if staff == RIGHT and not found.get(MELODY) else alone
            voices.append(Voice(*kept, write_bar([], length, metre, first)))
            continue
        written = [Voice(*place, write_bar(held, length, metre, first)) for place, held in sorted(here.items())]
        if staff == RIGHT and MELODY not in here and found.get(MELODY):
            silent = (replace(head, hidden=True) for head in write_bar([], length, metre, first))
            written = [Voice(*MELODY, tuple(silent)), *written]
        voices += written
    return tuple(voices)


def _inside(line: Sequence[VoiceSpan], start: Fraction, end: Fraction) -> list[VoiceSpan]:
    return [
        replace(
            stretch,
            start=max(stretch.start, start) - start,
            end=min(stretch.end, end) - start,
            tied_back=stretch.tied_back or stretch.start < start,
            tied_on=stretch.tied_on or stretch.end > end,
            joining=() if stretch.start < start else stretch.joining,
        )
        for stretch in line[
            bisect_right(line, start, key=lambda stretch: stretch.end) :
            bisect_left(line, end, key=lambda stretch: stretch.start)
        ]
    ]  # fmt: skip


def _within(signs: Sequence[Sign], start: Fraction, length: Fraction) -> tuple[Sign, ...]:
    """The signs of a bar; one that ends with the bar stands in it."""
    end = start + length
    return tuple(
        (beat - start, what) for beat, what in signs if (start < beat <= end if what == "stop" else start <= beat < end)
    )


def _symbols(spans: Sequence[ChordSpan]) -> list[tuple[Fraction, Chord]]:
    """The symbols that are printed; that there is no chord is said once, not bar by bar."""
    if not any(span.chord.is_chord for span in spans):
        return []
    said = [spans[0], *(span for before, span in pairwise(spans) if before.chord.is_chord or span.chord.is_chord)]
    return [(span.start, span.chord) for span in said]


def _within_bar(
    symbols: Sequence[tuple[Fraction, Chord]], start: Fraction, length: Fraction
) -> tuple[tuple[Fraction, Chord], ...]:
    first, after = (bisect_left(symbols, beat, key=lambda symbol: symbol[0]) for beat in (start, start + length))
    return tuple((beat - start, chord) for beat, chord in symbols[first:after])
