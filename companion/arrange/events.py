"""The order of events: introduction, head, solo choruses, head, ending; and what each is made of.

:func:`order` lays a chart's events one after the other as stretches, :func:`stretch_notes` arranges a part of one.
Whoever plays, prints or explains a whole tune goes through the stretches; nobody else need know how an ending is made.

Conventions: chart beats are quarters from the first downbeat of the form; an introduction lies below 0, each time
through the form starts again at 0, an ending lies above the form's length. A stretch starts at so many quarters from
the first downbeat of the first chorus, through all choruses: beat + ``stretch.zero`` is that of a chart beat.

How they are made is in :mod:`companion.arrange.introductions` and :mod:`companion.arrange.endings`, how much an ending
slows down in ``configs/order.toml``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.endings import AT_REST, ENDINGS, before_the_last_chord, last_chord
from companion.arrange.excerpts import excerpt as excerpt
from companion.arrange.excerpts import joined, sections_as
from companion.arrange.introductions import INTRODUCTIONS, introduction
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import USUAL, Request
from companion.arrange.solo.story import ALONE, SoloChorus
from companion.chart.model import Chart, Event, Form
from companion.errors import UseError, right_name
from companion.messages import EventKind

HELD = Event("ending", how="held")
"""The ending of a tune whose chart says none."""
_OTHER_NAMES = {"last-four": ("last", 4), "last-eight": ("last", 8)}
_USUAL_BARS = 4
"""Bars of an introduction or a vamp that gives none."""


@dataclass(frozen=True)
class Stretch:
    """One stretch of a tune as it is played: an introduction, once through the form, or an ending."""

    kind: EventKind
    chorus: int
    """Which time through the form it belongs to, 1 = the first: an introduction to the first, an ending to the last."""
    start: Fraction
    """Quarters from the first downbeat of the first chorus."""
    form: Form
    """Its bars, chords and melody, as a form that begins with the stretch."""
    treatment: str | None = None
    """How it is played; None: as each section says."""
    time: int = 1
    """Which of the event's choruses it is."""
    times: int = 1
    """How many the event has."""
    onward: Form | None = None
    """What comes after, where that isn't the form from the top."""
    before: Stretch | None = None
    """What comes before and leads here: to the first note of the bass, with chords that come early."""
    how: str | None = None
    """How an introduction or an ending is made."""
    zero: Fraction = Fraction(0)
    """Where chart beat 0 of its chorus lies, in quarters from the first downbeat of the first chorus."""

    @property
    def length(self) -> Fraction:
        """Quarters."""
        return self.form.length

    @property
    def end(self) -> Fraction:
        """Quarters from the first downbeat of the first chorus."""
        return self.start + self.form.length

    @property
    def first(self) -> Fraction:
        """Chart beat at which it begins."""
        return self.start - self.zero

    @property
    def hold(self) -> Fraction | None:
        """Of an ending: where its last chord is struck, in quarters as ``start``."""
        return self.start + self.form.bars[-1] if self.kind == "ending" else None


def order(chart: Chart, choruses: int | None = None) -> tuple[Stretch, ...]:
    """The stretches of a tune, one after the other.

    Parameters
    ----------
    chart : Chart
        A chart that says no order is played once through, and comes to rest.
    choruses : int, optional
        How many times through the form in all, instead of the chart's: the solos have what the heads leave, and of the
        heads the first and the last are kept longest.

    Returns
    -------
    tuple of Stretch

    Raises
    ------
    UseError
        When an introduction or an ending is made in no known way.
    """
    try:
        return _ordered(chart, choruses)
    except UseError as error:
        raise error.within(file=chart.source, where="order") from None


def _ordered(chart: Chart, choruses: int | None) -> tuple[Stretch, ...]:
    form = chart.unfold()
    events = chart.events or (Event("head"), HELD)
    between = [e for e in events if e.kind not in ("introduction", "ending")] or [Event("head")]
    if choruses is not None:
        between = _fitted(between, choruses)
    laid = [chorus(form, n, e, time) for n, (e, time) in enumerate(_each(between), 1)]
    if events[0].kind == "introduction":
        before = introduction_form(form, events[0])
        opening = Stretch("introduction", 1, -before.length, before, onward=form, how=events[0].how)
        laid = [opening, replace(laid[0], before=opening), *laid[1:]]
    return ended(laid, events[-1]) if events[-1].kind == "ending" else tuple(laid)


def chorus(form: Form, number: int, event: Event, time: int = 1) -> Stretch:
    """Once through the form: the ``number``-th time of the tune (from 1), the ``time``-th of its event."""
    start = (number - 1) * form.length
    return Stretch(event.kind, number, start, form, event.treatment, time, max(time, event.choruses), zero=start)


def ended(stretches: Sequence[Stretch], event: Event = HELD) -> tuple[Stretch, ...]:
    """Stretches with an ending after them, to which the last of them leads."""
    last = stretches[-1]
    closing = ending_form(last.form, event)
    last = replace(last, onward=closing)
    ending = Stretch("ending", last.chorus, last.end, closing, zero=last.zero, before=last, how=event.how)
    return (*stretches[:-1], last, ending)


def _each(events: Sequence[Event]) -> list[tuple[Event, int]]:
    return [(event, time) for event in events for time in range(1, event.choruses + 1)]


def _fitted(events: Sequence[Event], choruses: int) -> list[Event]:
    """The events with so many choruses in all."""
    counts = [0] * len(events)
    heads = [n for n, event in enumerate(events) if event.kind == "head"]
    wanted = [heads[0], heads[-1], *heads] if heads else []
    for n in [*wanted, *(n for n in range(len(events)) if n not in heads)]:
        more = 1 if n in wanted[:2] and not counts[n] else events[n].choruses - counts[n]
        counts[n] += max(0, min(more, choruses - sum(counts)))
    others = [n for n in range(len(events)) if n not in heads] or heads[:1]
    counts[others[-1]] += choruses - sum(counts)
    return [replace(event, choruses=count) for event, count in zip(events, counts, strict=True) if count]


def stretch_notes(stretch: Stretch, part: str, request: Request = USUAL) -> tuple[Note, ...]:
    """The notes of one part over one stretch, at chart beats.

    The last bar leads to what comes after. Solo choruses are free, whatever is written.

    Parameters
    ----------
    stretch : Stretch
    part : str
        'bass', 'chords', 'melody' or 'solo'.
    request : Request, optional
        Its treatment is taken instead of the stretch's own; chorus, freedom and the way in are the stretch's.
    """
    found = _arranged(stretch, part, request)
    kept: Iterable[Note] = (note for note in found if note.beat < stretch.length)
    if stretch.before is not None and part != "melody":
        kept = (note for note in kept if note.beat >= 0)
    if stretch.kind == "ending":
        kept = _at_rest(kept, stretch.form)
    return tuple(replace(note, beat=note.beat + stretch.first) for note in kept)


def _at_rest(ending: Iterable[Note], form: Form) -> Iterator[Note]:
    """What a part strikes first in the last bar is held to its end; only a melody goes on after it, in a figure."""
    last, struck = form.bars[-1], None
    for note in ending:
        if note.part == "melody":
            yield note
            continue
        if note.beat >= last:
            struck = note.beat if struck is None else struck
            note = replace(note, length=form.length - note.beat)
        if struck is None or note.beat == struck:
            yield note


def _arranged(stretch: Stretch, part: str, request: Request) -> tuple[Note, ...]:
    """One part with the bar that it leads to, beats from the stretch's start."""
    form = stretch.form if stretch.onward is None else _led_on(stretch.form, stretch.onward)
    chosen = request.treatment or stretch.treatment
    if stretch.kind in ("introduction", "ending"):
        form, chosen = _treated(form, request.treatment), None
        # What comes twice within them comes as it is: no ending is turned there.
        form = replace(form, sections=tuple(replace(s, name=f"{s.name} {n}") for n, s in enumerate(form.sections)))
    first = None
    if stretch.before is not None and part != "solo":
        led = _arranged(stretch.before, "bass", request)
        first = next((note.midi for note in led if note.beat >= stretch.before.length), None)
    free = stretch.kind == "solos"
    place = SoloChorus(stretch.time, max(stretch.time, stretch.times)) if free else ALONE
    asked = replace(request, treatment=chosen, chorus=stretch.chorus, free=free, first=first, solo=place)
    return arrange(form, part, asked)


# Introductions and endings


@lru_cache(maxsize=32)
def introduction_form(form: Form, event: Event) -> Form:
    """The bars of an introduction as a form of their own, its melody made of the tune's motif or of its last phrase.

    Raises UseError when the event says no known way.
    """
    how, bars = _way(event, INTRODUCTIONS, "last")
    return sections_as(introduction(form, how, bars), "pedal" if how == "pedal" else event.treatment)


@lru_cache(maxsize=32)
def ending_form(form: Form, event: Event) -> Form:
    """The bars of an ending as a form of their own; the last is the held chord's, and as long as two.

    Raises UseError when the event says no known way.
    """
    how, bars = _way(event, ENDINGS, "held")
    before = (sections_as(one, event.treatment) for one in before_the_last_chord(form, how, bars))
    return joined([*before, last_chord(form, how)])


def _way(event: Event, ways: tuple[str, ...], usual: str) -> tuple[str, int]:
    """How an event is made, and of how many bars."""
    how, bars = _OTHER_NAMES.get(event.how or usual, (event.how or usual, _USUAL_BARS))
    if how not in ways:
        known = [*ways, *(other for other, (way, _) in _OTHER_NAMES.items() if way in ways)]
        raise UseError(f"{how!r} is no way to make an {event.kind}", mend=right_name(how, known))
    return how, event.bars or bars


@lru_cache(maxsize=32)
def _led_on(form: Form, onward: Form) -> Form:
    """A form with the first bar of what follows after it, so that it leads there."""
    first = excerpt(onward, 0, 1)
    return replace(joined([form, replace(first, melody=())]), written=form.written)


@lru_cache(maxsize=32)
def _treated(form: Form, treatment: str | None) -> Form:
    """An introduction or an ending under another treatment: a pedal and the last chord stay what they are."""
    if treatment is None:
        return form
    fixed = ("pedal", AT_REST)
    places = (p if p.treatment in fixed else replace(p, treatment=treatment) for p in form.sections)
    return replace(form, sections=tuple(places))
