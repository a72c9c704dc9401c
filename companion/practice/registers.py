"""Whose a key is that isn't written, where one player has the melody and free chords or a free bass as well.

The chart can't tell; where it lies does. The bass lies lowest: under a pianist's chords, or a fourth and more under
whatever sounds with it. A key by itself at the height of the melody is the melody hand's, and one too many: chords have
more voices than one, and a voice that comes after its chord is of the chord and lies under the melody. What is so left
over may still be a fill (:mod:`companion.practice.added_notes`).

Conventions: MIDI numbers; seconds; chart beats in quarters.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.practice.alignment import Alignment
from companion.practice.judging import OCTAVE, TOGETHER, JudgedNote

CHORDS_LEAST, BASS_MOST = 48, 55
"""The lowest keys of chords without their roots, and the highest of a bass under them: C3 and G3 (common practice)."""
UNDER_ALL = 5
"""Semitones from the bass to the next key above it: a fourth."""
BESIDE, UNDER_MELODY = 5, 3
"""Semitones from the melody within which a key by itself is the melody hand's; from which below it one of the chord is
a voice of it."""
OWN_OCTAVE = 0.5
"""Share of the melody's notes in an octave from which the player has it there."""
NEAR = 2.0
"""Quarters from a key to the notes of the melody that it is held against."""


def by_register(form: Form, alignment: Alignment, parts: Collection[str]) -> Alignment:
    """The alignment with its unwritten keys given to the parts that they lie among.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    parts : collection of str
        The player's.
    """
    free = {part for part in ("chords", "bass") if part in parts and not form.written_part(part)}
    if not free or len(parts) < 2:
        return alignment
    octave = octave_played(alignment)
    judged = alignment.judged
    if "bass" in free:
        judged = tuple(_with_bass(notes, octave) for notes in judged)
    if "melody" in parts and "chords" in free:
        judged = tuple(_with_strays(form, notes, octave) for notes in judged)
    return replace(alignment, judged=judged)


def octave_played(alignment: Alignment) -> int:
    """Semitones above the written melody, in octaves, at which half of it or more is played; else 0."""
    melody = [note for note in alignment.notes if note.part == "melody" and note.kind == "right"]
    offs = Counter((note.pitch or 0) - (note.expected or 0) for note in melody)
    octave, many = offs.most_common(1)[0] if offs else (0, 0)
    return octave if many >= OWN_OCTAVE * len(melody) else 0


def _company(notes: Sequence[JudgedNote]) -> list[list[int]]:
    """For each note that sounded, by its index, the indices of all that went down with it, lowest first."""
    timed = sorted((note.seconds, n) for n, note in enumerate(notes) if note.seconds is not None)
    moments = [moment for moment, _ in timed]
    found: list[list[int]] = [[] for _ in notes]
    for moment, n in timed:
        low, high = bisect_left(moments, moment - TOGETHER), bisect_left(moments, moment + TOGETHER)
        found[n] = sorted((k for _, k in timed[low:high]), key=lambda k: notes[k].pitch or 0)
    return found


def _with_bass(notes: Sequence[JudgedNote], octave: int) -> tuple[JudgedNote, ...]:
    """The notes with the lowest of them given to the bass."""
    found: list[JudgedNote] = []
    for n, (note, together) in enumerate(zip(notes, _company(notes), strict=True)):
        if not together or together[0] != n or not _is_bass(note, [notes[k].pitch or 0 for k in together[1:]], octave):
            found.append(note)
            continue
        if note.expected is not None:
            found.append(replace(note, kind="missing", pitch=None, seconds=None, deviation_ms=None))
        found.append(replace(note, kind="right", part="bass", expected=None, deviation_ms=None))
    return tuple(found)


def _is_bass(note: JudgedNote, above: Sequence[int], octave: int) -> bool:
    pitch = note.pitch or 0
    if note.expected is not None:
        # A note of the melody that was found: only what lies far below where the melody is.
        return note.part == "melody" and note.expected + octave - pitch >= OCTAVE and pitch < BASS_MOST
    return pitch < CHORDS_LEAST or (pitch < BASS_MOST and (not above or above[0] - pitch >= UNDER_ALL))


def _with_strays(form: Form, notes: Sequence[JudgedNote], octave: int) -> tuple[JudgedNote, ...]:
    """The notes, a key by itself among the melody's one too many."""
    melody = sorted((note.chart_beat, note.expected + octave) for note in notes if note.expected is not None)
    beats = [beat for beat, _ in melody]
    found = list(notes)
    for n, (note, together) in enumerate(zip(notes, _company(notes), strict=True)):
        if note.part != "chords" or note.expected is not None or note.pitch is None or together != [n]:
            continue
        low, high = bisect_left(beats, note.chart_beat - NEAR), bisect_left(beats, note.chart_beat + NEAR)
        around = [(abs(beat - note.chart_beat), pitch) for beat, pitch in melody[low:high]]
        if around and _is_stray(form, note, min(around)[1]):
            found[n] = replace(note, kind="extra", part="melody", deviation_ms=None)
    return tuple(found)


def _is_stray(form: Form, note: JudgedNote, beside: int) -> bool:
    pitch = note.pitch or 0
    harmony = harmony_at(form, Fraction(note.chart_beat % float(form.length)).limit_denominator(960))
    if note.kind == "wrong":
        return abs(pitch - beside) < OCTAVE
    return abs(pitch - beside) <= BESIDE and (pitch % OCTAVE not in harmony.tones or beside - pitch < UNDER_MELODY)
