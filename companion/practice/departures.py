"""Where the player left the chart's course: leaps, stops, and both.

Two notes that are known, one after the other, say where the player was before and after; between them the pulse goes on
unless it was let go. A leap in time is taken to be where it leaves out the fewest notes, at a bar line rather than
within a bar, as late as may be.

Conventions: beats in quarters, going on through the choruses; seconds on the take's clock.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from companion.chart.model import Form
from companion.practice.expected import Expected
from companion.practice.placing import TakePlace, in_time, quarter_at

STOPPED, STOPPED_BEATS = 1.2, 1.0
"""Seconds, and beats of the metre, by which a note comes late where the player is taken to have stopped."""
EARLY, EARLY_SHARE = 1.0, 0.3
"""Quarters, and share of the beats between, by which a note comes early where something was skipped."""
SILENT = 8.0
"""Quarters of silence after which nobody knows whether the pulse went on."""
OFF_PULSE = 0.35
"""Share of a beat by which one goes on beside the pulse that has let it go."""


@dataclass(frozen=True)
class Departure:
    """Between two places: where the player left, and where they went on."""

    after: int
    """Index of the last place before it."""
    leave: float
    land: float
    pause: float
    """Seconds."""


def departures(form: Form, placed: Sequence[TakePlace], expected: Sequence[Expected]) -> list[Departure]:
    """Where the player leapt or stopped.

    Parameters
    ----------
    placed : sequence of TakePlace
        In order of time.
    expected : sequence of Expected
        Once through the form.
    """
    pulse = float(form.metre.pulse)
    beats = sorted({note.beat % float(form.length) for note in expected})
    found = []
    for n, (a, b) in enumerate(pairwise(placed)):
        quarter = quarter_at(placed, n)
        passed, step = (b.seconds - a.seconds) / quarter, b.beat - a.beat
        late = passed - step
        if step > 0 and in_time(passed, step):
            continue
        if not b.leapt and step > 0 and late > -max(EARLY, EARLY_SHARE * step):
            if late * quarter > STOPPED and late > STOPPED_BEATS * pulse:
                found.append(_stop(form, n, a, b, late * quarter))
            continue
        found.append(_leap(form, n, a, b, quarter, beats))
    return found


def floor_to(beat: float, grid: float) -> float:
    """The last beat of a grid up to a beat."""
    return math.floor(beat / grid + 1e-6) * grid


def _stop(form: Form, n: int, a: TakePlace, b: TakePlace, pause: float) -> Departure:
    """A silence from which the player went on where they had been: at the beat of the next note."""
    at = floor_to(b.written, float(form.metre.pulse))
    if at <= a.written + 1e-6:
        at = b.written
    return Departure(n, at, at, pause)


def _leap(form: Form, n: int, a: TakePlace, b: TakePlace, quarter: float, beats: Sequence[float]) -> Departure:
    pulse, bar, length = float(form.metre.pulse), float(form.metre.bar), float(form.length)
    passed = (b.seconds - a.seconds) / quarter
    distance = round((b.beat - a.beat - passed) / pulse) * pulse
    next_beat, landing = floor_to(a.written, pulse) + pulse, floor_to(b.written, pulse)
    found = []
    leave = next_beat
    while leave <= a.written + passed + pulse and passed <= SILENT:
        land = leave + distance
        if land <= b.written + 1e-6:
            lost = _between(beats, a.written, leave, length) + _between(beats, land - 0.01, b.written, length)
            found.append((lost, land % bar > 1e-6, leave % bar > 1e-6, -leave, land))
        leave += pulse
    if found and abs(b.beat - a.beat - passed - distance) <= OFF_PULSE * pulse:
        lost, _, _, before, land = min(found)
        if not lost:  # or the notes would have been left out to keep the pulse, by one who went elsewhere
            return Departure(n, -before, land, 0.0)
    pause = (passed - (next_beat - a.written) - (b.written - landing)) * quarter
    return Departure(n, next_beat, landing, pause if pause >= STOPPED / 2 else 0.0)


def _between(beats: Sequence[float], low: float, high: float, length: float) -> int:
    """Onsets of the chart after one beat and before another."""
    chorus = math.floor(low / length)
    return sum(low + 1e-6 < beat + (chorus + n) * length < high - 1e-6 for n in (0, 1, 2) for beat in beats)
