"""How loud a take is played: the melody against the chords, and where the accents lie.

Limits: a bar in which the melody doesn't come out has it below the chords, and as many standard errors from what this
player does elsewhere in the take as ``sure`` says. The spread is that of the difference from bar to bar (from the
median absolute deviation), so of who always plays the chords as loud, nothing is said of a bar. A keyboard that doesn't
feel how firmly a key is struck sends one velocity for all, and tells nothing.

Conventions: MIDI velocities 1-127; accents are differences of medians, with the standard error of a bootstrap.
"""

from __future__ import annotations

import random
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from companion.chart.model import Form
from companion.messages import Heard
from companion.practice.findings import Finding, bar_at, place_words
from companion.practice.judging import JudgedNote
from companion.practice.swing_played import NORMAL

ENOUGH, BARS_ENOUGH = 3, 6
"""Keys of melody and of chords in a bar, and such bars in a take, from which something is said."""
SPREAD_LEAST = 4.0
"""Velocity, standard deviation from bar to bar: nobody is more even."""
DRAWN = 200
"""Samples of a bootstrap."""
TOLD = 2.6
"""Standard errors from which a difference is told (one chance in a hundred)."""
ACCENT = 6.0
"""Velocity from which a difference is heard as an accent."""
KINDS_LEAST = 8
"""Notes of a kind that are compared."""


@dataclass(frozen=True)
class Difference:
    """How much one kind of note differs from another."""

    by: float
    error: float
    """Standard error."""

    @property
    def told(self) -> bool:
        """Whether it lies outside what chance would show."""
        return abs(self.by) >= TOLD * self.error


def difference(
    some: Sequence[float], others: Sequence[float], centre: Callable[[Sequence[float]], float] = statistics.median
) -> Difference | None:
    """How much the first lie above the others, with the standard error of a bootstrap; None: too few.

    Source: Efron & Tibshirani, An Introduction to the Bootstrap, 1993 (from memory).
    """
    if min(len(some), len(others)) < KINDS_LEAST:
        return None
    dice = random.Random(1)  # the same take has the same figures
    drawn = [
        centre(dice.choices(some, k=len(some))) - centre(dice.choices(others, k=len(others))) for _ in range(DRAWN)
    ]
    return Difference(centre(some) - centre(others), max(statistics.pstdev(drawn), 1e-6))


def velocities(heard: Iterable[Heard]) -> Mapping[tuple[float, int], int]:
    """How firmly each key was struck, by its moment and MIDI number."""
    return {(one.seconds, one.data1): one.data2 for one in heard if one.is_note_on}


Loudness = Callable[[JudgedNote], int | None]


def loudness_of(heard: Sequence[Heard]) -> Loudness:
    """How loud a note is; None where that is unknown, or the keyboard doesn't feel it."""
    known = velocities(heard)
    if len(set(known.values())) < 3:
        return lambda note: None
    return lambda note: known.get((note.seconds or 0.0, note.pitch or 0))


def dynamics_findings(
    form: Form, notes: Sequence[JudgedNote], loudness: Loudness, sure: float
) -> list[tuple[float, Finding]]:
    """Bars in which the melody doesn't come out over the chords, each stretch with its moment."""
    bars: list[tuple[float, int, int, float]] = []
    for (chorus, bar), group in groupby(notes, key=lambda note: (note.chorus, bar_at(form, note.chart_beat))):
        these = list(group)
        melody, chords = _levels(these, loudness)
        moments = [note.seconds for note in these if note.seconds is not None]
        if min(len(melody), len(chords)) >= ENOUGH and moments:
            bars.append((min(moments), bar, chorus, statistics.fmean(melody) - statistics.fmean(chords)))
    if len(bars) < BARS_ENOUGH:
        return []
    usual = statistics.median(over for *_, over in bars)
    spread = max(NORMAL * statistics.median(abs(over - usual) for *_, over in bars), SPREAD_LEAST)
    found = []
    for seconds, bar, chorus, over in bars:
        if over < 0 and usual - over >= sure * spread:
            text = f"{place_words(bar)}: the melody is softer than the chords"
            found.append((seconds, Finding(bar, chorus, "dynamics", round(over, 1), text)))
    return found


def _levels(notes: Iterable[JudgedNote], loudness: Loudness) -> tuple[list[int], list[int]]:
    """Of the melody and of the chords."""
    melody: list[int] = []
    chords: list[int] = []
    for note in notes:
        level = loudness(note)
        if level is not None and note.kind in ("right", "wrong"):
            if note.part == "melody":
                melody.append(level)
            elif note.part == "chords":
                chords.append(level)
    return melody, chords


def dynamics_figures(notes: Sequence[JudgedNote], loudness: Loudness) -> list[str]:
    """The melody against the chords, and accents, in words."""
    lines = []
    melody, chords = _levels(notes, loudness)
    if (over := difference(melody, chords)) is not None:
        where = "above" if over.by >= 0 else "below"
        lines.append(f"dynamics: the melody lies {abs(over.by):.0f} {where} the chords (velocity, ± {over.error:.0f})")
    line = [note for note in notes if note.part in ("melody", "solo", "bass") and note.kind == "right"]
    known = [(note, level) for note in line if (level := loudness(note)) is not None]
    off = [float(level) for note, level in known if note.part != "bass" and abs(note.chart_beat % 1 - 0.5) < 0.2]
    on = [float(level) for note, level in known if note.part != "bass" and abs((note.chart_beat + 0.5) % 1 - 0.5) < 0.2]
    lines += _accent("off-beat quavers", off, "those on the beat", on)
    strong = [float(level) for note, level in known if note.part == "bass" and round(note.chart_beat) % 2 == 0]
    back = [float(level) for note, level in known if note.part == "bass" and round(note.chart_beat) % 2 == 1]
    return lines + _accent("in the bass, beats 2 and 4", back, "1 and 3", strong)


def _accent(some: str, levels: Sequence[float], others: str, other_levels: Sequence[float]) -> list[str]:
    found = difference(levels, other_levels, statistics.fmean)
    if found is None or not found.told or abs(found.by) < ACCENT:
        return []
    how = "firmer" if found.by > 0 else "softer"
    return [f"accents: {some} {abs(found.by):.0f} {how} than {others} (velocity, ± {found.error:.0f})"]
