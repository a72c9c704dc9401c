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
    """A melody laid out for looking up: what sounds when, and when the next note comes."""

    notes: tuple[MelodyNote, ...]
    onsets: tuple[Fraction, ...]

    def sounding(self, start: Fraction, end: Fraction) -> list[MelodyNote]:
        """Notes that sound at any moment from ``start`` to before ``end``."""
        k = bisect.bisect_left(self.onsets, end)
        found = []
        for note in reversed(self.notes[max(0, k - 12) : k]):
            if note.beat + note.length > start:
                found.append(note)
        return found

    def before(self, beat: Fraction) -> MelodyNote | None:
        """The last note that began at or before a beat."""
        k = bisect.bisect_right(self.onsets, beat)
        return self.notes[k - 1] if k else None

    def after(self, beat: Fraction) -> MelodyNote | None:
        """The next note that begins after a beat."""
        k = bisect.bisect_right(self.onsets, beat)
        return self.notes[k] if k < len(self.notes) else None

    def within(self, start: Fraction, end: Fraction) -> Sequence[MelodyNote]:
        """Notes that begin from ``start`` to before ``end``."""
        return self.notes[bisect.bisect_left(self.onsets, start) : bisect.bisect_left(self.onsets, end)]


@lru_cache(maxsize=32)
def line(form: Form) -> Line:
    """The melody of a form as heard over and over: the pickup to the next chorus lies in the last bar too."""
    again = [MelodyNote(n.beat + form.length, n.length, n.pitch) for n in form.melody if n.beat < 8]
    seen = {n.beat for n in form.melody}
    last = max(seen, default=Fraction(-1))
    everything = [*form.melody, *(n for n in again if n.beat > last)]
    ordered = sorted(everything, key=lambda n: n.beat)
    return Line(tuple(ordered), tuple(n.beat for n in ordered))


NOTHING = Line((), ())
