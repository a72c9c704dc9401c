"""Between the hands: what one hand does to the other's time.

Does the bass rush where the right hand is busy; does the melody stiffen where the left hand leaps. Each is a difference
of means with the standard error of a bootstrap, and what chance would show as well is said not to be told.

Conventions: beats in quarters through the choruses; deviations in milliseconds against the player's own beat, late is
positive; a quarter is busy with two onsets of the right hand or more.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from companion.practice.dynamics_played import Difference, difference
from companion.practice.judging import JudgedNote

BUSY = 2
"""Onsets of the right hand in a quarter."""
LEAP = 7
"""Semitones from which the left hand leaps: more than a fifth is rare (common practice)."""
MATTERS = 4.0
"""Milliseconds below which a difference isn't heard."""
OUTLIER = 100.0
"""Milliseconds from which a note isn't one hand's habit but a slip."""


def hands_figures(notes: Sequence[JudgedNote], length: float) -> list[str]:
    """What the hands do to each other's time, in words; nothing where one hand alone played.

    Parameters
    ----------
    notes : sequence of JudgedNote
        Of the whole take.
    length : float
        Quarters of the form.
    """
    timed = [note for note in notes if note.deviation_ms is not None and abs(note.deviation_ms) <= OUTLIER]
    bass = [note for note in timed if note.part == "bass"]
    right = [note for note in timed if note.part in ("melody", "solo", "chords")]
    if not bass or not right:
        return []
    onsets = Counter(math.floor(_beat(note, length) + 0.1) for note in _single(right, length))
    busy = [note.deviation_ms or 0.0 for note in bass if onsets[round(_beat(note, length))] >= BUSY]
    calm = [note.deviation_ms or 0.0 for note in bass if onsets[round(_beat(note, length))] < BUSY]
    lines = _said(difference(busy, calm, statistics.fmean), "the bass comes {by} ms {how} where the right hand is busy",
                  ("later", "earlier"))  # fmt: skip
    leaps = {round(_beat(b, length)) for a, b in pairwise(bass) if abs((b.pitch or 0) - (a.pitch or 0)) >= LEAP}
    line = [note for note in right if note.part in ("melody", "solo")]
    over = [abs(note.deviation_ms or 0.0) for note in line if math.floor(_beat(note, length) + 0.1) in leaps]
    other = [abs(note.deviation_ms or 0.0) for note in line if math.floor(_beat(note, length) + 0.1) not in leaps]
    return lines + _said(
        difference(over, other, statistics.fmean),
        "the melody is {by} ms {how} where the left hand leaps",
        ("less even", "more even"),
    )


def _said(found: Difference | None, text: str, how: tuple[str, str]) -> list[str]:
    if found is None:
        return []
    if not found.told or abs(found.by) < MATTERS:
        calm = text.replace("comes {by} ms {how}", "keeps its place").replace("is {by} ms {how}", "is as even")
        return [f"hands: {calm} (± {found.error:.0f} ms)"]
    said = text.format(by=f"{abs(found.by):.0f}", how=how[0] if found.by > 0 else how[1])
    return [f"hands: {said} (± {found.error:.0f} ms)"]


def _beat(note: JudgedNote, length: float) -> float:
    return note.chart_beat + (note.chorus - 1) * length


def _single(notes: Sequence[JudgedNote], length: float) -> list[JudgedNote]:
    """One note of those struck together."""
    once = {round(_beat(note, length), 2): note for note in notes}
    return list(once.values())
