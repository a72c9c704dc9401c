"""What a player of some parts is to play note for note, and where each note may sound.

An off-beat quaver may fall anywhere between even and swung: how much one swings is no fault of a note.

Conventions: chart beats in quarters, written; MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from math import floor

from companion.chart.model import Form
from companion.messages import Part
from companion.music.swing import straight_quarters, to_sounding

SWUNG_MOST = 2.5
"""Long quaver to short one: the most that anybody swings an off-beat; later is late."""


@dataclass(frozen=True)
class Expected:
    """A note that was to be played."""

    beat: float
    """Chart beat, written."""
    earliest: float
    """Where it may sound: the same, or between even quavers and swung ones."""
    latest: float
    pitch: int
    part: Part

    def off(self, beat: float) -> float:
        """How far a beat is from where it may sound, in quarters; late is positive."""
        return beat - min(max(beat, self.earliest), self.latest)


def expected_notes(form: Form, parts: Collection[str]) -> tuple[Expected, ...]:
    """What a player of some parts is to play note for note, once through a form, in order.

    The melody as the tune has it; chords and bass where the chart has them written. A solo, and what is free, isn't
    expected note for note.
    """
    found: list[tuple[float, int, Part]] = []
    if "melody" in parts:
        found += [(float(note.beat), note.pitch.midi, "melody") for note in form.melody]
    for part in ("chords", "bass"):
        if part in parts and (written := form.written_part(part)):
            found += [(float(note.beat), note.pitch.midi, written.part) for note in written.notes]
    even = straight_quarters(note.beat for note in form.melody)
    swings = not form.metre.compound
    notes = []
    for beat, pitch, part in sorted(found):
        swung = to_sounding(beat, SWUNG_MOST, even) if swings else beat
        notes.append(Expected(beat, min(beat, swung), max(beat, swung), pitch, part))
    return tuple(notes)


def expected_between(form: Form, parts: Collection[str], low: float, high: float) -> list[Expected]:
    """What a player of some parts is to play in a stretch of beats, which go on through the choruses.

    The pickup to a later chorus lies at the end of the one before, and is expected of who goes on into it.

    Parameters
    ----------
    low, high : float
        Quarters from the first downbeat of the first chorus; ``high`` excluded.
    """
    length = float(form.length)
    once = expected_notes(form, parts)
    found: dict[tuple[float, int, str], Expected] = {}
    for chorus in range(max(0, floor(low / length)), max(0, floor((high - 1e-6) / length)) + 1):
        on = chorus * length
        for note in once:
            if low - 1e-6 <= note.beat + on < high - 1e-6:
                moved = replace(note, beat=note.beat + on, earliest=note.earliest + on, latest=note.latest + on)
                found.setdefault((round(moved.beat, 6), moved.pitch, moved.part), moved)
    return sorted(found.values(), key=lambda note: (note.beat, note.pitch))
