"""The melody as a part, and as the thing that the other parts listen to.

Conventions: beats in quarters from the first downbeat of the form; a pickup has negative beats.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from companion.arrange.harmony import harmonies
from companion.arrange.part import Note
from companion.chart.model import Form, MelodyNote


def notes(form: Form) -> tuple[Note, ...]:
    """The melody as written, each note with its degree of the chord."""
    chords = harmonies(form)
    starts = [h.start for h in chords]
    found: list[Note] = []
    for note in form.melody:
        at = note.beat % form.length if form.length else note.beat
        harmony = chords[max(0, bisect.bisect_right(starts, at) - 1)] if chords else None
        degree = harmony.degree(note.pitch.name.pc) if harmony else ""
        found.append(
            Note(note.beat, note.length, note.pitch, "melody", "right", 1, degree, "the melody, as written", 1.0)
        )
    return tuple(found)


@dataclass(frozen=True)
class Line:
    """A melody laid out for looking up: what sounds when, and when the next note comes. Beats are floats here."""

    notes: tuple[MelodyNote, ...]
    onsets: tuple[float, ...]
    ends: tuple[float, ...]

    def within(self, start: float, end: float) -> Sequence[MelodyNote]:
        """Notes that begin from ``start`` to before ``end``."""
        return self.notes[bisect.bisect_left(self.onsets, start - _TINY) : bisect.bisect_left(self.onsets, end - _TINY)]

    def begins(self, start: float, end: float) -> bool:
        """Whether a note begins from ``start`` to before ``end``."""
        return bool(self.within(start, end))

    def sounding(self, start: float, end: float) -> list[MelodyNote]:
        """Notes that sound at any moment from ``start`` to before ``end``, in order."""
        last = bisect.bisect_left(self.onsets, end - _TINY)
        first = bisect.bisect_right(self.onsets, start - _LONGEST)
        return [self.notes[k] for k in range(first, last) if self.ends[k] > start + _TINY]

    def heard(self, start: float, end: float) -> list[tuple[float, int]]:
        """When and as which pitch class notes sound in a stretch: those under way count from its start."""
        return [(max(start, float(n.beat)), n.pitch.name.pc) for n in self.sounding(start, end)]

    def classes(self, start: float, end: float) -> set[int]:
        """Pitch classes that sound in a stretch."""
        return {n.pitch.name.pc for n in self.sounding(start, end)}

    def around(self, beat: float) -> tuple[float, float, float]:
        """Of the note that began last, at or before a beat: its start and length; and the start of the next one."""
        k = bisect.bisect_right(self.onsets, beat + _TINY)
        start = self.onsets[k - 1] if k else -_LONGEST
        long = self.ends[k - 1] - start if k else 0.0
        after = self.onsets[k] if k < len(self.onsets) else beat + _LONGEST
        return start, long, after

    def after(self, beat: float) -> MelodyNote | None:
        """The next note that begins after a beat."""
        k = bisect.bisect_right(self.onsets, beat + _TINY)
        return self.notes[k] if k < len(self.notes) else None


_TINY = 1e-6
_LONGEST = 32.0
"""Quarters: no melody note is looked for further back."""
NOTHING = Line((), (), ())


def _line(notes: Sequence[MelodyNote]) -> Line:
    ordered = tuple(sorted(notes, key=lambda n: n.beat))
    return Line(ordered, tuple(float(n.beat) for n in ordered), tuple(float(n.beat + n.length) for n in ordered))


@lru_cache(maxsize=32)
def line(form: Form) -> Line:
    """The melody of a form as heard over and over: the pickup to the next chorus lies in its last bar too."""
    last = max((n.beat for n in form.melody), default=Fraction(-1))
    again = (MelodyNote(n.beat + form.length, n.length, n.pitch) for n in form.melody if n.beat < 8)
    return _line([*form.melody, *(n for n in again if n.beat > last)])
