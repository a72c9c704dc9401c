"""A whole tune in its order of events: what of it stands on paper, and what of it sounds.

On paper the head stands once, between introduction and ending, both written out; how the page leads through the rest
is for :mod:`companion.engrave.road_map`. In sound every event is played. A chart that says no order is its form once
through, on paper and in sound.

Conventions: beats in quarters from the first downbeat of the form: an introduction lies below 0, an ending above the
form's length. In sound the tune begins at 0 with whatever comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from companion.arrange.chords.comping_style import CompingStyle
from companion.arrange.events import Stretch, chorus, order, stretch_notes
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Chart, ChordSpan, Event, Form, FormSection
from companion.engrave.road_map import with_road_map
from companion.engrave.score import SheetContent, chart_melody, form_bars, lay_out, pickup_bars
from companion.engrave.sheet import LEFT, RIGHT, Sheet
from companion.engrave.voices import staff_of
from companion.messages import EventKind
from companion.stage.ritardando import Ritardando, ritardando_of

PARTS = ("melody", "chords", "bass")
BREATH_AT_THE_END = Fraction(2)
"""Quarters before the end of a tune: a note held up to there is held to the end on paper."""


def arrangement(
    chart: Chart,
    *,
    staves: tuple[int, ...] = (RIGHT, LEFT),
    treatment: str | None = None,
    seed: int = 0,
    style: CompingStyle | None = None,
    remarks: Mapping[int, str] | None = None,
) -> Sheet:
    """The arrangement of a chart as a sheet.

    Parameters
    ----------
    chart : Chart
    staves : tuple of int
        1: the right hand's, 2: the left hand's.
    treatment : str, optional
        One for the whole tune; otherwise each section's own.
    seed : int
        Another seed, other notes.
    style : CompingStyle, optional
        How the player comps, where free chords are to be like theirs.
    remarks : mapping of int to str, optional
        What is said over bars, 1 = the first full one.

    Raises
    ------
    UseError
        When there is no such treatment, or an introduction or an ending is made in no known way.
    """
    form = chart.unfold()
    stretches = _stretches(chart)
    content = _content(form, _on_paper(stretches), Request(treatment=treatment, seed=seed, style=style), staves)
    content = replace(content, remarks=remarks or {})
    lead_in = [note for note in chart_melody(form) if note.beat < 0]
    sheet = with_road_map(lay_out(chart, form, content, staves), stretches, lead_in, _bars_at_rest(stretches))
    return with_order(sheet, chart)


def chorus_content(
    chart: Chart, request: Request, event: EventKind | None, staves: tuple[int, ...] = (RIGHT, LEFT)
) -> SheetContent:
    """One time through the form as it is played: in an order of events with what comes before and after it.

    Parameters
    ----------
    chart : Chart
    request : Request
        Which chorus it is (1 = the first), and how its parts are arranged.
    event : str, optional
        The event it belongs to; None where no order of events is played, or where it isn't known.
    staves : tuple of int
        1: the right hand's, 2: the left hand's.
    """
    form = chart.unfold()
    if event is None:
        through = chorus(form, request.chorus, Event("head"))
        return _content(form, [replace(through, zero=Fraction(0), start=Fraction(0))], request, staves)
    stretches = order(chart)
    found = next(
        (s for s in stretches if s.chorus == request.chorus and s.kind == event),
        chorus(form, request.chorus, Event(event)),
    )
    ends = [s for s in stretches if s.kind == "introduction" and request.chorus == 1]
    row = [*ends, found, *(s for s in stretches if s.kind == "ending")]
    return _content(form, [replace(s, zero=Fraction(0), start=s.start - s.zero) for s in row], request, staves)


def _content(form: Form, on_paper: Sequence[Stretch], request: Request, staves: tuple[int, ...]) -> SheetContent:
    """What is written of an introduction, one time through and an ending; of a form alone, if there are none."""
    played = _arranged(on_paper, request) if on_paper else _once_through(form, request)
    first, last = -_length(on_paper, "introduction"), form.length + _length(on_paper, "ending")
    kept = [note for note in played if staff_of(note) in staves and note.beat < last]
    low = min((note.beat for note in kept), default=Fraction(0))
    places = [FormSection("Introduction", first, Fraction(0))] if first else []
    places += form.sections
    places += [FormSection("Ending", form.length, last)] if last > form.length else []
    return SheetContent(
        notes=tuple(_not_before(kept, first) if first else kept),
        bars=(
            *(_bars_before(on_paper[0]) if first else pickup_bars(form, low)),
            *form_bars(form),
            *(_bars_after(on_paper[-1], len(form.bars)) if last > form.length else ()),
        ),
        places=tuple(places),
        chords=_chords(on_paper) if on_paper else form.chords,
    )


def with_order(sheet: Sheet, chart: Chart) -> Sheet:
    """A sheet with the order of events in words."""
    words = []
    for event in chart.events:
        how = (event.how or "").replace("-", " ")
        times = f"{event.choruses} choruses" if event.kind == "solos" or event.choruses > 1 else ""
        said = how or times.replace("1 choruses", "1 chorus") if event.kind != "head" else times
        words.append(f"{event.kind} ({said})" if said else event.kind)
    text = " – ".join(words)
    return replace(sheet, order=text[:1].upper() + text[1:])


def sounding(
    chart: Chart, *, treatment: str | None = None, seed: int = 0, style: CompingStyle | None = None
) -> tuple[Form, list[Note]]:
    """The whole tune as it sounds: its bars, names and chords as one long form, and the notes of all parts.

    Solo choruses are accompanied; who improvises plays over them.
    """
    form = chart.unfold()
    stretches = _stretches(chart)
    if not stretches:
        return form, _once_through(form, Request(treatment=treatment, seed=seed, style=style))
    origin = stretches[0].start
    found: list[Note] = []
    for stretch in stretches:
        for part in ("chords", "bass") if stretch.kind == "solos" else PARTS:
            made = stretch_notes(stretch, part, Request(treatment=treatment, seed=seed, style=style))
            found += (replace(note, beat=note.beat + stretch.zero - origin) for note in made)
    return _joined(form, stretches, origin), [note for note in found if note.beat >= 0 or not origin]


def slowing(chart: Chart) -> Ritardando | None:
    """Where the whole tune slows down as it sounds, in quarters from its start; None where it doesn't."""
    stretches = _stretches(chart)
    slows = ritardando_of(stretches[-1]) if stretches else None
    return slows.moved(-float(stretches[0].start)) if slows and slows.low < slows.high else None


# what stands where


def _stretches(chart: Chart) -> tuple[Stretch, ...]:
    return order(chart) if chart.events else ()


def _on_paper(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The introduction, the first time through and the ending, the last two as if nothing came between."""
    found = []
    for kind in ("introduction", "through", "ending"):
        found += next(
            ([s] for s in stretches if s.kind == kind or (kind == "through" and s.kind in ("head", "solos"))), []
        )
    return [replace(s, zero=Fraction(0), start=s.start - s.zero) if s.kind == "ending" else s for s in found]


def _length(stretches: Sequence[Stretch], kind: str) -> Fraction:
    return next((stretch.length for stretch in stretches if stretch.kind == kind), Fraction(0))


def _arranged(stretches: Iterable[Stretch], request: Request) -> list[Note]:
    found: list[Note] = []
    for stretch in stretches:
        for part in ("chords", "bass") if stretch.kind == "solos" else PARTS:
            made = stretch_notes(stretch, part, request)
            found += made if stretch.hold is None else _held(made, stretch.first + stretch.length)
    return found


def _held(found: Sequence[Note], last: Fraction) -> list[Note]:
    """The notes of an ending: those that end a little before its end last to it."""
    return [
        replace(note, length=last - note.beat) if last - note.beat - note.length < BREATH_AT_THE_END else note
        for note in found
    ]


def _once_through(form: Form, request: Request) -> list[Note]:
    return [note for part in PARTS for note in arrange(form, part, request)]


def _not_before(found: Iterable[Note], first: Fraction) -> list[Note]:
    """The notes with nothing before the introduction: what begins there begins with it."""
    return [
        note if note.beat >= first else replace(note, beat=first, length=note.length - (first - note.beat))
        for note in found
        if note.beat + note.length > first
    ]


def _bars_before(stretch: Stretch) -> list[tuple[int, Fraction, Fraction]]:
    bars = form_bars(stretch.form)
    return [(number - len(bars), start - stretch.length, length) for number, start, length in bars]


def _bars_after(stretch: Stretch, count: int) -> list[tuple[int, Fraction, Fraction]]:
    """The ending's bars."""
    spans = pairwise([*_bar_lines(stretch), stretch.length])
    return [(count + k, stretch.start + start, end - start) for k, (start, end) in enumerate(spans, 1)]


def _bars_at_rest(stretches: Sequence[Stretch]) -> int:
    """How many whole bars the last chord of a tune is held."""
    last = stretches[-1] if stretches else None
    return len(_bars_after(last, 0)) - len(last.form.bars) + 1 if last and last.kind == "ending" else 0


def _bar_lines(stretch: Stretch) -> list[Fraction]:
    """Where the bars of a stretch start; an ending's long last one is written in bars of the metre."""
    usual = stretch.form.metre.bar
    lines: list[Fraction] = []
    for start, end in pairwise([*stretch.form.bars, stretch.length]):
        long = end - start > usual and (end - start) % usual == 0 and stretch.kind == "ending"
        lines += [start + k * usual for k in range(int((end - start) / usual))] if long else [start]
    return lines


def _chords(stretches: Iterable[Stretch]) -> tuple[ChordSpan, ...]:
    return tuple(
        replace(span, start=span.start + stretch.first, end=span.end + stretch.first)
        for stretch in stretches
        for span in stretch.form.chords
    )


# what sounds


def _joined(form: Form, stretches: Sequence[Stretch], origin: Fraction) -> Form:
    bars: list[Fraction] = []
    places: list[FormSection] = []
    chords: list[ChordSpan] = []
    for stretch in stretches:
        at = stretch.start - origin
        bars += (bar + at for bar in _bar_lines(stretch))
        chords += (replace(span, start=span.start + at, end=span.end + at) for span in stretch.form.chords)
        if stretch.kind == "head":
            places += (replace(p, start=p.start + at, end=p.end + at) for p in stretch.form.sections)
        else:
            places.append(FormSection(stretch.kind.capitalize(), at, at + stretch.length))
    return replace(
        form,
        length=stretches[-1].end - origin,
        bars=tuple(bars),
        sections=tuple(places),
        chords=tuple(chords),
        melody=(),
        written=(),
    )
