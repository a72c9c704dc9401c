"""Why each hand plays what it plays, bar by bar, in a musician's words.

Use it so::

    for bar in explain(form, first=5, last=8):
        print(bar)

Conventions: bars are numbered from 1, the first full bar of the form; beats within a bar from 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from companion.arrange.lookup import harmony_at, numbered_bars, treatment_at
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import USUAL, Request
from companion.arrange.scales import named_scales
from companion.chart.model import Form
from companion.music.scales import Scale, tune_scales_in_words


@dataclass(frozen=True)
class BarExplanation:
    """One bar: what stands above it, and what each part plays there and why."""

    bar: int
    section: str
    treatment: str
    about: str
    """The treatment in one line."""
    symbols: str
    scales: str
    """For each chord that begins here, the scale that serves."""
    lines: tuple[tuple[str, str], ...]
    """Part and sentence, in order of the beats."""
    opens: bool = False
    """It is the first bar of its section, or the first asked for."""

    def __str__(self) -> str:
        heading = [
            f"{self.section}: {self.treatment}, {self.about}" if self.section else f"{self.treatment}, {self.about}"
        ]
        head = f"{self.bar}  | {self.symbols} |"
        rows = [*self.lines, ("scales", self.scales)] if self.scales else self.lines
        return "\n".join([*(heading if self.opens else []), head, *(f"    {part:7s} {text}" for part, text in rows)])


def explain(
    form: Form, request: Request = USUAL, *, first: int = 1, last: int | None = None
) -> tuple[BarExplanation, ...]:
    """The reasons, from bar ``first`` to ``last``; for the rest see :func:`companion.arrange.plan.arrange`."""
    treatments = plan(form, request.treatment)
    parts = {part: arrange(form, part, request) for part in ("bass", "chords", "melody")}
    scales = named_scales(form, parts["chords"])
    found: list[BarExplanation] = []
    for number, start, end in numbered_bars(form):
        if number < first or (last is not None and number > last):
            continue
        ruled = treatment_at(treatments, start)
        lines = [("bass", _line(parts["bass"], start, end)), *_chords(parts["chords"], start, end, form)]
        lines += _turned(parts["melody"], start, end)
        lines += _dropped(form, parts["melody"], start, end)
        found.append(
            BarExplanation(
                bar=number,
                section=form.section_at(start).name,
                treatment=ruled.name,
                about=ruled.about,
                symbols=_symbols(form, start, end),
                scales=_scales(form, scales, start, end),
                lines=tuple((part, text) for part, text in lines if text),
                opens=not found or any(place.start == start for place in form.sections),
            )
        )
    return tuple(found)


def scales_for_form(form: Form) -> str:
    """The two or three scales that serve for improvising over the whole form, and which section they don't serve."""
    return tune_scales_in_words(form)


def _symbols(form: Form, start: Fraction, end: Fraction) -> str:
    inside = [span for span in form.chords if span.start < end and span.end > start]
    return "  ".join(span.chord.symbol if span.start >= start else f"({span.chord.symbol})" for span in inside) or str(
        harmony_at(form, start).chord.symbol
    )


def _inside(notes: Iterable[Note], start: Fraction, end: Fraction) -> list[Note]:
    return [n for n in notes if start <= n.beat < end]


def _line(notes: Iterable[Note], start: Fraction, end: Fraction) -> str:
    return "; ".join(f"{n.pitch} {n.reason}" for n in _inside(notes, start, end))


def _chords(notes: Iterable[Note], start: Fraction, end: Fraction, form: Form) -> list[tuple[str, str]]:
    """A sentence for each chord struck in a bar; one that leads into the form stands in its first."""
    found = []
    inside = _inside(notes, min((n.beat for n in notes), default=start) if start == 0 else start, end)
    late = [n for n in inside if n.reason.startswith("late")]
    for beat, struck in groupby((n for n in inside if n not in late), key=lambda n: n.beat):
        chord = sorted(struck, key=lambda n: n.midi)
        pitches, degrees = " ".join(str(n.pitch) for n in chord), " ".join(n.degree for n in chord)
        where = f"beat {float(beat - start) + 1:g}" if beat >= start else "the quaver before"
        found.append((beat, f"{where}: {pitches} ({degrees}), {chord[0].reason}"))
    found += [(n.beat, f"beat {float(n.beat - start) + 1:g}: {n.pitch} ({n.degree}), {_first(n.reason)}") for n in late]
    return [("chords", text) for _, text in sorted(found)]


def _first(reason: str) -> str:
    """What a late voice has to say of itself; the rest stands with its chord."""
    return reason.partition(";")[0]


def _scales(form: Form, scales: Mapping[Fraction, Scale], start: Fraction, end: Fraction) -> str:
    """The scale for each chord of a bar, said where the chord begins."""
    inside = [
        (span.chord.symbol, scales[span.start])
        for span in form.chords
        if start <= span.start < end and span.start in scales
    ]
    if len(inside) == 1:
        return str(inside[0][1])
    return "; ".join(f"{symbol}: {scale}" for symbol, scale in inside)


def _dropped(form: Form, notes: Iterable[Note], start: Fraction, end: Fraction) -> list[tuple[str, str]]:
    """Where the treatment lets the melody go."""
    written = any(start <= n.beat < end for n in form.melody)
    return [("melody", "let go here")] if written and not _inside(notes, start, end) else []


def _turned(notes: Iterable[Note], start: Fraction, end: Fraction) -> list[tuple[str, str]]:
    """What is not as written in the melody."""
    changed = [n for n in _inside(notes, start, end) if "as written" not in n.reason]
    return [("melody", f"{' '.join(str(n.pitch) for n in changed)}: {changed[0].reason}")] if changed else []
