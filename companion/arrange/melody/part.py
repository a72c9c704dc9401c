"""The melody as a part, and an index of it for the other parts, which leave room for it.

Conventions: beats in quarters from the first downbeat of the form; a pickup has negative beats.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.harmony import harmonies
from companion.arrange.melody.turning import last_phrase, turned
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form, MelodyNote
from companion.preferences import preferences
from companion.preferences.turning import TurningPreferences


def melody_notes(form: Form, plan: TreatmentPlan = ()) -> tuple[Note, ...]:
    """The melody, each note with its degree of the chord; the treatments of ``plan`` may turn an ending or drop it."""
    chords = harmonies(form)
    starts = [float(h.start) for h in chords]
    found: list[Note] = []
    for note, reason in treated(form, plan):
        at = float(note.beat % form.length)
        harmony = chords[max(0, bisect.bisect_right(starts, at + _TINY) - 1)]
        degree = harmony.degree(note.pitch.name.pc)
        found.append(Note(note.beat, note.length, note.pitch, "melody", "right", 1, degree, reason))
    return tuple(found)


def treated(form: Form, plan: TreatmentPlan = ()) -> list[tuple[MelodyNote, str]]:
    """The melody as its treatments have it, each note with its reason.

    'dropped' leaves out the last eight bars of a section (all of a shorter one); 'turned' turns the ending of a section
    the other way when it comes for the last time of several.
    """
    return list(_treated(preferences(TurningPreferences), form, _ways(plan)))


MelodyWays = tuple[tuple[Fraction, Fraction, str], ...]
"""From where to where, in quarters, the melody is 'as-written', 'turned' or 'dropped'."""


def _ways(plan: TreatmentPlan) -> MelodyWays:
    """What of a plan concerns the melody: many treatments have it the same way."""
    return tuple((start, end, one.melody) for start, end, one in plan)


@lru_cache(maxsize=32)
def _treated(taste: TurningPreferences, form: Form, ways: MelodyWays) -> tuple[tuple[MelodyNote, str], ...]:
    """The same, kept for each set of preferences by which an ending is turned."""
    written = [(note, "the melody, as written") for note in form.melody]
    names = [place.name for place in form.sections]
    for n, place in enumerate(form.sections):
        way = next((way for a, b, way in ways if a <= place.start < b), "as-written")
        bars = [bar for bar in form.bars if place.start <= bar < place.end]
        if way == "dropped" and bars:
            start = bars[-min(8, len(bars))]
            written = [(n, why) for n, why in written if not start <= n.beat < place.end]
        elif way == "turned" and place.name in names[:n] and place.name not in names[n + 1 :]:
            inside = last_phrase(form, place.start, place.end)
            other = dict(zip((n.beat for n in inside), turned(form, inside), strict=True))
            why = "the ending, turned the other way this time"
            written = [(other[n.beat], why) if n.beat in other else (n, was) for n, was in written]
    return tuple(_as_arranged(form, written))


def _as_arranged(form: Form, melody: list[tuple[MelodyNote, str]]) -> list[tuple[MelodyNote, str]]:
    """The melody with the bars that a written arrangement has of it."""
    part = form.written_part("melody")
    if part is None:
        return melody
    plain = {(n.beat, n.length, n.pitch) for n in form.melody}
    kept = [
        (MelodyNote(n.beat, n.length, n.pitch), _ARRANGED[(n.beat, n.length, n.pitch) in plain]) for n in part.notes
    ]
    free = [(n, why) for n, why in melody if (form.bar_at(n.beat) if n.beat > 0 else 1) not in part.bars]
    return sorted([*kept, *free], key=lambda one: one[0].beat)


@dataclass(frozen=True, eq=False)
class MelodyIndex:
    """A melody laid out for looking up: what sounds when, and when the next note comes. Beats are floats here.

    Compared by identity, so that what is worked out from it can be kept by it.
    """

    notes: tuple[MelodyNote, ...]
    onsets: tuple[float, ...]
    ends: tuple[float, ...]
    home: float = float("inf")
    """From this beat on its notes are the pickup to the next chorus."""

    def within(self, start: float, end: float) -> Sequence[MelodyNote]:
        """Notes that begin from ``start`` to before ``end``."""
        return self.notes[bisect.bisect_left(self.onsets, start - _TINY) : bisect.bisect_left(self.onsets, end - _TINY)]

    def begins(self, start: float, end: float) -> bool:
        """Whether a note begins from ``start`` to before ``end``."""
        return bool(self.within(start, end))

    def rests(self, start: float, end: float) -> bool:
        """Whether no note of this chorus begins in a stretch, a pickup to the next apart."""
        return not self.begins(start, min(end, self.home))

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


_ARRANGED = {True: "the melody, as written", False: "the melody, as arranged"}
_TINY = 1e-6
"""Quarters that make no difference between two floats."""
_LONGEST = 32.0
"""Quarters that a melody note lasts, at most, where sounding notes are looked up; stands for none before or after."""
_AROUND = 8
"""Quarters of the choruses before and after that the index has, too."""
NOTHING = MelodyIndex((), (), ())


def index_melody(form: Form, plan: TreatmentPlan = ()) -> MelodyIndex:
    """The melody of a form as heard over and over.

    The pickup to the next chorus lies in its last bar too, and what the chorus before it ends with lies before 0.
    """
    return _index_melody(preferences(TurningPreferences), form, _ways(plan))


@lru_cache(maxsize=32)
def _index_melody(taste: TurningPreferences, form: Form, ways: MelodyWays) -> MelodyIndex:
    melody = sorted((note for note, _ in _treated(taste, form, ways)), key=lambda n: n.beat)
    if not melody:
        return NOTHING
    pickup = min(Fraction(0), melody[0].beat)
    home = melody[-1].beat
    again = [n for n in _moved(melody, form.length) if home < n.beat < form.length + _AROUND]
    before = [
        replace(n, length=min(n.length, pickup - n.beat))
        for n in _moved(melody, -form.length)
        if -_AROUND <= n.beat < pickup
    ]
    notes = (*before, *melody, *again)
    return MelodyIndex(
        notes,
        tuple(float(n.beat) for n in notes),
        tuple(float(n.beat + n.length) for n in notes),
        float(again[0].beat) if again else float("inf"),
    )


def _moved(notes: Sequence[MelodyNote], by: Fraction) -> list[MelodyNote]:
    return [replace(n, beat=n.beat + by) for n in notes]
