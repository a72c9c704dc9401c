"""A whole tune in its order of events: what of it stands on paper, and what of it sounds.

On paper the head stands once, between introduction and ending, both written out; what is played between the first head
and the ending is said in words, and a leap (D.S. al Coda, say) leads back to the head where it comes again (common
practice). In sound every event is played. A chart that says no order is its form once through, on paper and in sound.

Conventions: beats in quarters from the first downbeat of the form: an introduction lies below 0, an ending above the
form's length. In sound the tune begins at 0 with whatever comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Any

from companion.arrange.events import Stretch, order, stretch_notes
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Chart, ChordSpan, Form, FormSection
from companion.engrave.score import SheetContent, form_bars, lay_out, pickup_bars
from companion.engrave.sheet import LEFT, RIGHT, Bar, Sheet
from companion.engrave.voices import staff_of
from companion.preferences import preferences
from companion.preferences.order import OrderPreferences

PARTS = ("melody", "chords", "bass")
BREATH_AT_THE_END = Fraction(2)
"""Quarters before the end of a tune: a note held up to there is held to the end on paper."""


def arrangement(
    chart: Chart, *, staves: tuple[int, ...] = (RIGHT, LEFT), treatment: str | None = None, seed: int = 0
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

    Raises
    ------
    UseError
        When there is no such treatment, or an introduction or an ending is made in no known way.
    """
    form = chart.unfold()
    stretches = _stretches(chart)
    on_paper = _on_paper(stretches)
    played = _arranged(on_paper, treatment, seed) if stretches else _once_through(form, treatment, seed)
    first, last = -_length(on_paper, "introduction"), form.length + _length(on_paper, "ending")
    kept = [note for note in played if staff_of(note) in staves and note.beat < last]
    low = min((note.beat for note in kept), default=Fraction(0))
    places = [FormSection("Introduction", first, Fraction(0))] if first else []
    places += form.sections
    places += (
        [FormSection("Coda" if _head_again(stretches) else "Ending", form.length, last)] if last > form.length else []
    )
    content = SheetContent(
        notes=tuple(_not_before(kept, first) if first else kept),
        bars=(
            *(_bars_before(on_paper[0]) if first else pickup_bars(form, low)),
            *form_bars(form),
            *(_bars_after(on_paper[-1], len(form.bars)) if last > form.length else ()),
        ),
        places=tuple(places),
        chords=_chords(on_paper) if stretches else form.chords,
    )
    return with_order(_marked(lay_out(chart, form, content, staves), stretches), chart)


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


def sounding(chart: Chart, *, treatment: str | None = None, seed: int = 0) -> tuple[Form, list[Note]]:
    """The whole tune as it sounds: its bars, names and chords as one long form, and the notes of all parts.

    Solo choruses are accompanied; who improvises plays over them.
    """
    form = chart.unfold()
    stretches = _stretches(chart)
    if not stretches:
        return form, _once_through(form, treatment, seed)
    origin = stretches[0].start
    found: list[Note] = []
    for stretch in stretches:
        for part in ("chords", "bass") if stretch.kind == "solos" else PARTS:
            made = stretch_notes(stretch, part, Request(treatment=treatment, seed=seed))
            found += (replace(note, beat=note.beat + stretch.zero - origin) for note in made)
    return _joined(form, stretches, origin), [note for note in found if note.beat >= 0 or not origin]


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


def _arranged(stretches: Iterable[Stretch], treatment: str | None, seed: int) -> list[Note]:
    found: list[Note] = []
    for stretch in stretches:
        for part in ("chords", "bass") if stretch.kind == "solos" else PARTS:
            made = stretch_notes(stretch, part, Request(treatment=treatment, seed=seed))
            found += made if stretch.hold is None else _held(made, stretch.first + stretch.length)
    return found


def _held(found: Sequence[Note], last: Fraction) -> list[Note]:
    """The notes of an ending: those that end a little before its end last to it."""
    return [
        replace(note, length=last - note.beat) if last - note.beat - note.length < BREATH_AT_THE_END else note
        for note in found
    ]


def _once_through(form: Form, treatment: str | None, seed: int) -> list[Note]:
    return [note for part in PARTS for note in arrange(form, part, Request(treatment=treatment, seed=seed))]


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


# what is said about the rest


def _marked(sheet: Sheet, stretches: Sequence[Stretch]) -> Sheet:
    """The sheet with the leaps and words that lead through the rest of the tune, and the last chord held."""
    if not stretches:
        return sheet
    bars = list(sheet.bars)
    ending = stretches[-1].kind == "ending"
    begins = len(bars)
    if ending:  # it is the last that has a heading
        begins = max(k for k, bar in enumerate(bars) if bar.heading)
    top = next(k for k, bar in enumerate(bars) if bar.number == 1)
    between = _between(stretches)
    again = _head_again(stretches)
    bars[begins - 1] = replace(bars[begins - 1], words=_steps(between[:-1] if again else between))
    if again:
        until = "coda" if ending else "fine"
        jump = "segno" if top else "capo"
        bars[top] = _with_marks(bars[top], segno=jump == "segno")
        bars[begins - 1] = _with_marks(bars[begins - 1], jump=jump, until=until, to_coda=ending, fine=not ending)
        if ending:
            bars[begins] = _with_marks(bars[begins], coda=True)
        repeats = [k for k in range(top, begins) if bars[k].marks.repeat_end]
        for k in repeats:  # which a leap leaves out unless it says otherwise
            bars[k] = _with_marks(bars[k], repeat_after_jump=True)
        bars[begins - 1] = replace(bars[begins - 1], with_repeats=bool(repeats))
    if ending:
        bars[-1] = replace(bars[-1], fermata=True)
        slower, text = _slower(stretches[-1], len(bars), begins, again=again)
        if 0 <= slower < len(bars):
            bars[slower] = replace(bars[slower], manner=text)
    return replace(sheet, bars=tuple(bars))


def _slower(ending: Stretch, count: int, begins: int, *, again: bool) -> tuple[int, str]:
    """From which bar an ending slows down, and how that is said; a bar that isn't there when it doesn't."""
    bars = preferences(OrderPreferences).ritardando.bars.of(ending.how)
    held = len(_bars_after(ending, 0)) - len(ending.form.bars) + 1
    first = count - held - bars
    return (first if bars else -1), "rit. the last time" if again and first < begins else "rit."


def _between(stretches: Sequence[Stretch]) -> list[Stretch]:
    """What comes between the first time through and the ending."""
    return [stretch for stretch in stretches if stretch.kind in ("head", "solos")][1:]


def _head_again(stretches: Sequence[Stretch]) -> bool:
    between = _between(stretches)
    return bool(between) and between[-1].kind == "head"


def _with_marks(bar: Bar, **marks: Any) -> Bar:
    return replace(bar, marks=replace(bar.marks, **marks))


def _steps(between: Sequence[Stretch]) -> str:
    """What is played before the head comes again, in words."""
    said = []
    for kind, run in groupby(between, key=lambda stretch: stretch.kind):
        count = len(list(run))
        again = "head again" if count == 1 else f"head {count} times"
        said.append(f"solos, {count} chorus{'es' if count > 1 else ''}" if kind == "solos" else again)
    text = "; ".join(said)
    return text[:1].upper() + text[1:]


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
