"""Phrases of a part as it is struck: where they begin, are at their height and end, and what follows on what.

Conventions: beats in quarters, written; a height runs from -1, at the ends, to 1, at the peak; 0 is neither.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi

from companion.chart.model import Form
from companion.preferences.touch import TouchPhrases

CLOSE = 1e-6
"""Quarters: nearer than that is at once."""


@dataclass(frozen=True)
class StruckChord:
    """What a part strikes at one beat, a single note as well."""

    beat: float
    end: float
    """Where the longest of its notes is written to end."""
    midi: tuple[int, ...]
    """From the top down, each key once."""

    @property
    def top(self) -> int:
        """MIDI number of the highest note."""
        return self.midi[0]


def phrases(line: Sequence[StruckChord], rest: float) -> list[tuple[int, int]]:
    """First and last of each phrase, by their numbers in the line; a rest of so many quarters ends one."""
    ends = [n for n in range(len(line)) if n + 1 == len(line) or line[n + 1].beat - line[n].end >= rest - CLOSE]
    starts = [0, *(end + 1 for end in ends[:-1])]
    return list(zip(starts, ends, strict=True)) if line else []


def arches(line: Sequence[StruckChord], rest: float) -> list[float]:
    """How near each is to the peak of its phrase, its highest note; 0 throughout in phrases of one or two."""
    found = [0.0] * len(line)
    for first, last in phrases(line, rest):
        if last - first < 2:
            continue
        peak = max(range(first, last + 1), key=lambda n: line[n].top)
        for n in range(first, last + 1):
            edge = first if n < peak else last
            span = abs(line[edge].beat - line[peak].beat)
            found[n] = 1.0 - 2.0 * abs(line[n].beat - line[peak].beat) / span if span else 1.0
    return found


def swell(form: Form, beat: float, how: TouchPhrases) -> float:
    """How near a beat is to the height of its swell; swells begin with each section."""
    place = form.section_at(beat)
    within = beat % float(form.length) - float(place.start)
    bars = bisect_right(form.bar_starts, float(place.start) + within) - bisect_right(
        form.bar_starts, float(place.start)
    )
    inside = within % float(form.metre.bar)
    share = (bars % how.swell + min(1.0, inside / float(form.metre.bar))) / how.swell
    if share < how.height:
        return -cos(pi * share / how.height)
    return cos(pi * (share - how.height) / (1.0 - how.height)) if how.height < 1.0 else 1.0


def follows_at_once(chord: StruckChord, after: StruckChord | None) -> bool:
    """Whether the next is struck where this one ends."""
    return after is not None and after.beat - chord.end < CLOSE


def is_syncopated(form: Form, chord: StruckChord, after: StruckChord | None) -> bool:
    """Whether it is struck between the beats, and nothing on the beat that follows."""
    pulse = float(form.metre.pulse)
    place = chord.beat % pulse
    return place > CLOSE and (after is None or after.beat > chord.beat - place + pulse + CLOSE)
