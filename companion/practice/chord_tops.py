"""The top note of a chord that was taken for a wrong note of the melody, where the player has both.

Of keys struck together the highest may be the melody's. Where the melody's own note wasn't played, the top of the chord
under it stands in its place: it isn't wrong, the melody's note is missing. A slip of the melody lies near its note or
isn't of the chord; a chord's top is of the chord and lies anywhere.

Conventions: MIDI numbers; seconds.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.practice.alignment import Alignment
from companion.practice.judging import TOGETHER, JudgedNote

NEAR = 2
"""Semitones from its note within which a wrong note is a slip."""
UNDER = 2
"""Keys of a chord under its top."""


def without_chord_tops(form: Form, alignment: Alignment, parts: Collection[str]) -> Alignment:
    """The alignment with tops of chords given back to their chords."""
    if not {"melody", "chords"} <= set(parts) or form.written_part("chords"):
        return alignment
    return replace(alignment, judged=tuple(_given_back(form, notes) for notes in alignment.judged))


def _given_back(form: Form, notes: Sequence[JudgedNote]) -> tuple[JudgedNote, ...]:
    chords = [note.seconds for note in notes if note.part == "chords" and note.seconds is not None]
    found: list[JudgedNote] = []
    for note in notes:
        if note.kind == "wrong" and note.part == "melody" and _is_top(form, note, chords):
            found.append(replace(note, kind="missing", pitch=None, seconds=None, deviation_ms=None))
            found.append(replace(note, kind="right", part="chords", expected=None, deviation_ms=None))
        else:
            found.append(note)
    return tuple(found)


def _is_top(form: Form, note: JudgedNote, chords: Sequence[float]) -> bool:
    if note.pitch is None or note.expected is None or note.seconds is None:
        return False
    under = sum(abs(seconds - note.seconds) <= TOGETHER for seconds in chords)
    harmony = harmony_at(form, Fraction(note.chart_beat % float(form.length)).limit_denominator(960))
    return (
        under >= UNDER
        and abs(note.expected - note.pitch) > NEAR
        and note.pitch % 12 in {*harmony.tones, *harmony.scale}
    )
