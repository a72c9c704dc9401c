"""The top note of a chord that was taken for a note of the melody, where the player has both.

Of keys struck together the highest may be the melody's. Where the melody's own note wasn't played, the top of the chord
under it stands in its place: it isn't the melody's, whose note is missing. What tells a chord's top from a note of the
melody:

- the melody's very note was struck with it, under it;
- it lies in another octave than written, where the rest of the melody doesn't;
- it lies farther off than a slip, and is of the chord or its scale;
- it lies as near as a slip, but is struck as softly as this player strikes chords, and not as they strike the melody;
  or they strike the very same chord, top and all, elsewhere in the take.

Conventions: MIDI numbers; seconds; velocities 1-127.
"""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.practice.alignment import Alignment
from companion.practice.dynamics_played import Loudness
from companion.practice.judging import OCTAVE, TOGETHER, JudgedNote
from companion.practice.registers import octave_played

NEAR = 2
"""Semitones from its note within which a wrong note is a slip."""
UNDER = 2
"""Keys of a chord under its top; one is enough in another octave or where the very same chord is struck elsewhere."""
TOP_FAR = 9
"""Semitones farther than which nobody's slip lies, whatever is under it."""
LOUDER = 2.0
"""Standard deviations between chords and melody from which their loudness tells them apart."""


@dataclass(frozen=True)
class _Habits:
    """What is usual in a take."""

    octave: int
    """Semitones above the written melody, in octaves."""
    chords: Counter[frozenset[int]]
    """How often each chord is struck."""
    between: float | None
    """Velocity below which a key is a chord's; None: loudness doesn't tell."""


def _unknown(_: JudgedNote) -> int | None:
    return None


def without_chord_tops(
    form: Form, alignment: Alignment, parts: Collection[str], loudness: Loudness = _unknown
) -> Alignment:
    """The alignment with tops of chords given back to their chords.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    parts : collection of str
        The player's.
    loudness : callable
        The velocity of a note; None where it isn't known.
    """
    if not {"melody", "chords"} <= set(parts) or form.written_part("chords"):
        return alignment
    habits = _habits(alignment, loudness)
    judged = tuple(_given_back(form, notes, habits, loudness) for notes in alignment.judged)
    return replace(alignment, judged=judged)


def _habits(alignment: Alignment, loudness: Loudness) -> _Habits:
    melody = [note for note in alignment.notes if note.part == "melody" and note.kind == "right"]
    struck: Counter[frozenset[int]] = Counter()
    for notes in alignment.judged:
        free = [note for note in notes if note.part == "chords" and note.seconds is not None]
        for group in _together(free):
            struck[frozenset(note.pitch or 0 for note in group)] += 1
    return _Habits(octave_played(alignment), struck, _between(alignment, melody, loudness))


def _together(notes: Sequence[JudgedNote]) -> list[list[JudgedNote]]:
    groups: list[list[JudgedNote]] = []
    for note in sorted(notes, key=lambda one: one.seconds or 0.0):
        if groups and (note.seconds or 0.0) - (groups[-1][-1].seconds or 0.0) <= TOGETHER:
            groups[-1].append(note)
        else:
            groups.append([note])
    return groups


def _between(alignment: Alignment, melody: Sequence[JudgedNote], loudness: Loudness) -> float | None:
    """The velocity half way between chords and melody, where few of either lie beyond it."""
    high = [level for note in melody if (level := loudness(note)) is not None]
    low = [level for n in alignment.notes if n.part == "chords" and (level := loudness(n)) is not None]
    if min(len(high), len(low)) < 8:
        return None
    apart = statistics.median(high) - statistics.median(low)
    spread = max(statistics.pstdev(high), statistics.pstdev(low), 1.0)
    return (statistics.median(high) + statistics.median(low)) / 2 if apart >= LOUDER * spread else None


def _given_back(form: Form, notes: Sequence[JudgedNote], habits: _Habits, loudness: Loudness) -> tuple[JudgedNote, ...]:
    notes = _found_within(notes)
    chords = [note for note in notes if note.part == "chords" and note.seconds is not None]
    found: list[JudgedNote] = []
    for note in notes:
        if note.part == "melody" and note.pitch is not None and _is_top(form, note, chords, habits, loudness):
            found.append(replace(note, kind="missing", pitch=None, seconds=None, deviation_ms=None))
            found.append(replace(note, kind="right", part="chords", expected=None, deviation_ms=None))
        else:
            found.append(note)
    return tuple(found)


def _found_within(notes: Sequence[JudgedNote]) -> tuple[JudgedNote, ...]:
    """The notes, the melody's with the key of their own pitch where it was struck under the top of a chord."""
    found = list(notes)
    for n, note in enumerate(notes):
        if note.kind != "wrong" or note.part != "melody" or note.seconds is None:
            continue
        own = next(
            (
                k
                for k, other in enumerate(found)
                if other.part == "chords"
                and other.pitch == note.expected
                and abs((other.seconds or 0.0) - note.seconds) <= TOGETHER
            ),
            None,
        )
        if own is not None:
            key = found[own]
            found[own] = replace(note, kind="right", part="chords", expected=None, deviation_ms=None)
            found[n] = replace(note, kind="right", pitch=key.pitch, seconds=key.seconds)
    return tuple(found)


def _is_top(form: Form, note: JudgedNote, chords: Sequence[JudgedNote], habits: _Habits, loudness: Loudness) -> bool:
    if note.pitch is None or note.expected is None or note.seconds is None:
        return False
    off = note.pitch - note.expected - habits.octave
    if off == 0 or note.kind not in ("right", "wrong"):
        return False
    under = [one.pitch or 0 for one in chords if abs((one.seconds or 0.0) - note.seconds) <= TOGETHER]
    level = loudness(note)
    soft = habits.between is not None and level is not None and level < habits.between
    if not under:
        return False
    same = habits.chords[frozenset([*under, note.pitch])] > 0
    if off % OCTAVE == 0:
        return off < 0 and (habits.between is None or soft or same)
    harmony = harmony_at(form, Fraction(note.chart_beat % float(form.length)).limit_denominator(960))
    if note.pitch % OCTAVE not in {*harmony.tones, *harmony.scale}:
        return False
    if abs(off) <= NEAR:
        return soft or (same and habits.between is None)
    return len(under) >= UNDER or soft or same or -off > TOP_FAR
