"""A finding: what is said to the player of a bar.

Conventions: bars of the form, 1 = its first full bar, 0 = a pickup; chart beats in quarters, a first pickup below 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from companion.chart.model import Form
from companion.messages import NoteKind

What = Literal[
    "rushed", "dragged", "unsteady", "wrong-note", "missed-note", "extra-note", "late-chord", "early-chord", "clash",
    "hesitated", "restarted", "skipped", "swing", "voicing", "dynamics",
]  # fmt: skip
NOTE_FAULTS: dict[NoteKind, What] = {"wrong": "wrong-note", "missing": "missed-note", "extra": "extra-note"}


@dataclass(frozen=True)
class Recurrence:
    """In how many takes something was found at one place; this one is counted."""

    times: int
    takes: int
    """Those that went over the place."""
    same: bool = True
    """Whether it was the same kind of slip each time."""


@dataclass(frozen=True)
class Finding:
    """What is said to the player of a bar."""

    bar: int
    chorus: int
    what: What
    figure: float
    """Milliseconds of what is early or late (a beat, where a bar was rushed or dragged), below 0 early; of an unsteady
    bar their spread; of a wrong note by how many semitones; of a hesitation seconds; of a leap bars; of swing the ratio
    played; of a clash and of what the melody lacks in dynamics semitones and velocity; else 1."""
    text: str
    last: int | None = None
    """Its last bar, where it goes on over several."""
    beat: float | None = None
    """Of a note its chart beat."""
    midi: int | None = None
    """Of a note the written one; of one too many itself."""
    recurs: Recurrence | None = None
    """Where it was found there in takes before, too."""


def bar_at(form: Form, beat: float) -> int:
    """The bar of a chart beat."""
    return 0 if beat < -1e-6 else form.bar_at(min(max(beat, 0.0), float(form.length) - 1e-3))


def bar_and_chorus(form: Form, beat: float) -> tuple[int, int]:
    """The bar of a beat that goes on through the choruses, and which time through it is."""
    length = float(form.length)
    chorus = max(0, math.floor(beat / length + 1e-9))
    return bar_at(form, beat - chorus * length), chorus + 1


def place_words(bar: int, last: int | None = None) -> str:
    """A bar, or several, as one says it."""
    if last is not None and last > bar:
        return f"bars {bar} to {last}"
    return f"bar {bar}" if bar else "the pickup"
