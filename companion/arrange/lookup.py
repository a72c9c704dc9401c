"""Look-ups over the form: the bar, the treatment and the chord at a beat, and the notes that sound in a span.

Conventions: beats in quarters from the first downbeat of the form.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Generic, Protocol, TypeVar

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.treatments import Treatment, TreatmentPlan
from companion.chart.model import Form


class Lasting(Protocol):
    """Anything that begins on a beat and lasts."""

    @property
    def beat(self) -> Fraction:
        """Where it begins, in quarters."""
        ...

    @property
    def length(self) -> Fraction:
        """How long it lasts, in quarters."""
        ...


N = TypeVar("N", bound=Lasting)


class NoteIndex(Generic[N]):
    """Notes, to be asked which of them sound between two beats.

    Beats are compared as floats, much faster: each is rounded from its Fraction, so that equal ones stay equal.
    """

    def __init__(self, notes: Iterable[N]) -> None:
        self._notes = sorted(notes, key=lambda note: float(note.beat))
        self._starts = [float(note.beat) for note in self._notes]
        self._ends = [float(note.beat + note.length) for note in self._notes]
        self._longest = max((float(note.length) for note in self._notes), default=0.0)

    def between(self, start: Fraction, end: Fraction) -> list[N]:
        """Those that sound at any time from ``start`` up to ``end``."""
        since = float(start)
        low = bisect_left(self._starts, since - self._longest - 1e-6)
        high = bisect_left(self._starts, float(end))
        return [self._notes[n] for n in range(low, high) if self._ends[n] > since]


def treatment_at(plan: TreatmentPlan, beat: Fraction) -> Treatment:
    """The treatment at a beat; a chord before the first downbeat belongs to the first."""
    return next((t for a, b, t in plan if a <= beat < b), plan[0][2])


def harmony_at(form: Form, beat: Fraction) -> Harmony:
    """The chord that rules a beat; the form repeats in both directions."""
    return harmonies(form)[max(0, bisect_right(_starts(form), float(beat % form.length) + 1e-9) - 1)]


@lru_cache(maxsize=32)
def _starts(form: Form) -> tuple[float, ...]:
    """Where each chord begins, as floats, which are found faster than Fractions."""
    return tuple(float(h.start) for h in harmonies(form))


def numbered_bars(form: Form) -> list[tuple[int, Fraction, Fraction]]:
    """Number, start and end of each bar, 1 = the first."""
    return [(n, a, b) for n, (a, b) in enumerate(pairwise([*form.bars, form.length]), 1)]


def bar_and_beat(form: Form, beat: Fraction) -> str:
    """A beat as musicians name it: bar and beat, counted from 1."""
    bar = form.bar_at(beat)
    return f"bar {bar} beat {float(beat % form.length - form.bars[bar - 1]) + 1:g}"
