"""A ritardando of the companion's own, for an ending in which the player doesn't play.

Method: A. Friberg and J. Sundberg, "Does music performance allude to locomotion? A model of final ritardandi derived
from measurements of stopping runners", J. Acoust. Soc. Am. 105(3), 1999 (from memory): the tempo at a share x of the
way is (1 + (w^q - 1) x)^(1/q) of the tempo before, with w the tempo at the end and q = 3.

Conventions: beats in quarters through the choruses; tempo as a share of the one before.
"""

from __future__ import annotations

from dataclasses import dataclass

CURVE = 3.0
"""The q of the model; with 3 listeners liked it best (from memory)."""


@dataclass(frozen=True)
class Ritardando:
    """From where to where it slows down, and how far."""

    low: float
    high: float
    to: float
    """Tempo at the end, as a share."""

    def tempo(self, beat: float) -> float:
        """The tempo at a beat, as a share of the one before.

        >>> one = Ritardando(0.0, 8.0, 0.5)
        >>> one.tempo(-3.0), one.tempo(8.0), round(one.tempo(4.0), 3)
        (1.0, 0.5, 0.825)
        """
        if self.high <= self.low:
            return 1.0
        x = min(max((beat - self.low) / (self.high - self.low), 0.0), 1.0)
        return float((1 + (self.to**CURVE - 1) * x) ** (1 / CURVE))

    def slower(self, beat: float, pulse: float) -> float:
        """By how much the beat from here on is slower than the one before: a factor for the speed."""
        return self.tempo(beat + pulse / 2) / self.tempo(beat - pulse / 2)
