"""Why each hand plays what it plays, bar by bar, in a musician's words.

Use it so::

    for bar in explain(form, first=5, last=8):
        print(bar)

Conventions: bars are numbered from 1, the first full bar of the form; beats within a bar from 1.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from companion.arrange.figures import bars, harmony_at, ruling
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.chart.model import Form


@dataclass(frozen=True)
class Explained:
    """One bar: what stands above it, and what each part plays there and why."""

    bar: int
    section: str
    treatment: str
    about: str
    """The treatment in one line."""
    symbols: str
    lines: tuple[tuple[str, str], ...]
    """Part and sentence, in order of the beats."""

    def __str__(self) -> str:
        head = f"{self.bar}  {self.section}  | {self.symbols} |  {self.treatment}"
        return "\n".join([head, *(f"    {part:7s} {text}" for part, text in self.lines)])


def explain(
    form: Form,
    *,
    treatment: str | None = None,
    chorus: int = 1,
    seed: int = 0,
    player: frozenset[str] = frozenset(),
    first: int = 1,
    last: int | None = None,
) -> tuple[Explained, ...]:
    """The reasons, from bar ``first`` to ``last``; for the rest see :func:`companion.arrange.plan.arrange`."""
    treatments = plan(form, treatment)
    parts = {
        part: arrange(form, part, treatment=treatment, chorus=chorus, seed=seed, player=player)
        for part in ("bass", "chords", "melody")
    }
    found = []
    for number, start, end in bars(form):
        if number < first or (last is not None and number > last):
            continue
        ruled = ruling(treatments, start)
        lines = [("bass", _line(parts["bass"], start, end)), *_chords(parts["chords"], start, end)]
        lines += _turned(parts["melody"], start, end)
        found.append(
            Explained(
                bar=number,
                section=form.section_at(start).name,
                treatment=ruled.name,
                about=ruled.about,
                symbols=_symbols(form, start, end),
                lines=tuple((part, text) for part, text in lines if text),
            )
        )
    return tuple(found)


def _symbols(form: Form, start: Fraction, end: Fraction) -> str:
    inside = [span for span in form.chords if span.start < end and span.end > start]
    return "  ".join(span.chord.symbol if span.start >= start else f"({span.chord.symbol})" for span in inside) or str(
        harmony_at(form, start).chord.symbol
    )


def _inside(notes: Iterable[Note], start: Fraction, end: Fraction) -> list[Note]:
    return [n for n in notes if start <= n.beat < end]


def _line(notes: Iterable[Note], start: Fraction, end: Fraction) -> str:
    return "; ".join(f"{n.pitch} {n.reason}" for n in _inside(notes, start, end))


def _chords(notes: Iterable[Note], start: Fraction, end: Fraction) -> list[tuple[str, str]]:
    """A sentence for each chord struck in a bar."""
    found = []
    for beat, struck in groupby(_inside(notes, start, end), key=lambda n: n.beat):
        chord = sorted(struck, key=lambda n: n.midi)
        pitches, degrees = " ".join(str(n.pitch) for n in chord), " ".join(n.degree for n in chord)
        found.append(("chords", f"beat {float(beat - start) + 1:g}: {pitches} ({degrees}), {chord[0].reason}"))
    return found


def _turned(notes: Iterable[Note], start: Fraction, end: Fraction) -> list[tuple[str, str]]:
    """What is not as written in the melody."""
    changed = [n for n in _inside(notes, start, end) if "as written" not in n.reason]
    return [("melody", f"{' '.join(str(n.pitch) for n in changed)}: {changed[0].reason}")] if changed else []
