"""What was played, in time: a key that went down and up, and where the beats fell meanwhile.

Conventions: seconds on the clock of whoever recorded; MIDI numbers and velocities; a map of beats counts in quarters
from the first downbeat, what lies before it is below 0.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class KeyPress:
    """A key that went down and up."""

    on: float
    off: float
    """Seconds; not before ``on``."""
    midi: int
    velocity: int = 64


@dataclass(frozen=True)
class BeatMap:
    """Where beats fell: the click, or a recording's own tempo map.

    Parameters
    ----------
    points : tuple of (beat, seconds)
        At least two, both rising. Before the first and after the last the tempo there goes on.
    """

    points: tuple[tuple[float, float], ...]

    @classmethod
    def steady(cls, tempo: float, start: float) -> BeatMap:
        """One tempo throughout, in quarters a minute; ``start`` is the moment of beat 0 in seconds."""
        return cls(((0.0, start), (1.0, start + 60.0 / tempo)))

    def beat(self, seconds: float) -> float:
        """The beat at a moment."""
        return _along([(s, b) for b, s in self.points], seconds)

    def seconds(self, beat: float) -> float:
        """The moment of a beat."""
        return _along(self.points, beat)

    def tempo(self, beat: float) -> float:
        """Quarters a minute at a beat."""
        return 60.0 / (self.seconds(beat + 0.5) - self.seconds(beat - 0.5))


def _along(points: Sequence[tuple[float, float]], x: float) -> float:
    k = min(max(bisect_right(points, (x, float("inf"))) - 1, 0), len(points) - 2)
    (x0, y0), (x1, y1) = points[k], points[k + 1]
    return y0 + (x - x0) * (y1 - y0) / (x1 - x0)
