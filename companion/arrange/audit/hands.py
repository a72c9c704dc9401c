"""Figures of what each hand holds at once: chord and melody in the right, bass and a chord's lower notes in the left.

Every moment counts at which a key goes down while the hand holds, or strikes, notes of two parts: a chord under a held
melody note, a melody note over a held chord. A chord alone is measured in :mod:`companion.arrange.audit.chords`.

A hand may let go of what the pedal holds. The pedal does so if it went down before the moment: where it is changed at
that very moment, the hand has to hold on. What is struck together has to be reached together, pedal or not.

Conventions: as in :mod:`companion.arrange.lookup`; lengths as they are written, before any touch is put on. A ninth is
what most hands hold, a tenth what some do (common practice).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial

from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.holding import PedalIndex
from companion.arrange.lookup import NoteIndex, bar_and_beat
from companion.arrange.part import Note
from companion.chart.model import Form

NINTH, TENTH = 14, 16
"""Semitones."""
FINGERS = 5
MOMENT = Fraction(1, 1024)
"""Quarters within which keys go down together."""


def hand_figures(form: Form, basses: Choruses, chords: Choruses, melodies: Choruses) -> list[AuditFigure]:
    """Figures of both hands; the parts' choruses belong together by their index."""
    ninth, tenth, fingers = HitCount(), HitCount(), HitCount()
    for chorus in zip(basses, chords, melodies, strict=True):
        for held in held_together(form, [note for part in chorus for note in part]):
            span = _span(held)
            where = partial(_named, form, held)
            ninth.add(span > NINTH, where, span > NINTH)
            tenth.add(span > TENTH, where, span > TENTH)
            fingers.add(len(held) > FINGERS, where, len(held) > FINGERS)
    return [
        ninth.figure("a hand holds more than a ninth", at_most=0.05),
        tenth.figure("a hand holds more than a tenth", at_most=0.0),
        fingers.figure("a hand holds more than five notes", at_most=0.0),
    ]


def held_together(form: Form, notes: Iterable[Note]) -> list[list[Note]]:
    """Notes of two parts or more that one hand holds, moment by moment; what the pedal holds is left out.

    What ends with a chorus may sound into the next: its end is looked for at the beginning, too.
    """
    there = list(notes)
    around = [replace(n, beat=n.beat - form.length) for n in there if n.beat + n.length > form.length]
    pedal = PedalIndex(form, (*around, *there))
    found: list[list[Note]] = []
    for hand in ("left", "right"):
        mine = [n for n in there if n.hand == hand]
        index = NoteIndex([*(n for n in around if n.hand == hand), *mine])
        for beat in sorted({n.beat for n in mine}, key=float):
            held = index.between(beat, beat + MOMENT)
            if pedal.is_down(beat):
                held = [n for n in held if n.beat == beat]
            if len({n.part for n in held}) > 1:
                found.append(sorted(held, key=lambda n: n.midi))
    return found


def _span(held: Sequence[Note]) -> int:
    return held[-1].midi - held[0].midi


def _named(form: Form, held: Sequence[Note]) -> str:
    return f"{bar_and_beat(form, max(n.beat for n in held))}: {' '.join(str(n.pitch) for n in held)}"
