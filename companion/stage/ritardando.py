"""A ritardando of the companion's own: live for an ending in which the player doesn't play, and in what is written.

Method: A. Friberg and J. Sundberg, "Does music performance allude to locomotion? A model of final ritardandi derived
from measurements of stopping runners", J. Acoust. Soc. Am. 105(3), 1999 (from memory): the tempo at a share x of the
way is (1 + (w^q - 1) x)^(1/q) of the tempo before, with w the tempo at the end and q = 3.

Conventions: beats in quarters through the choruses; tempo as a share of the one before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from companion.arrange.events import Stretch
from companion.preferences import preferences
from companion.preferences.order import OrderPreferences

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

    def steps(self, pulse: float) -> list[tuple[float, float]]:
        """Where the tempo changes in a file, and its share from there on: on each pulse, as it is played live.

        >>> Ritardando(0.0, 2.0, 0.5).steps(1.0)[-1]
        (2.0, 0.5)
        """
        count = round((self.high - self.low) / pulse)
        if count <= 0 or self.to == 1.0:
            return []
        found = [(self.low + n * pulse, self.tempo(self.low + (n + 0.5) * pulse)) for n in range(count)]
        return [*found, (self.high, self.to)]

    def slower(self, beat: float, pulse: float) -> float:
        """By how much the beat from here on is slower than the one before: a factor for the speed."""
        return self.tempo(beat + pulse / 2) / self.tempo(beat - pulse / 2)

    def moved(self, by: float) -> Ritardando:
        """The same, so many quarters later."""
        return replace(self, low=self.low + by, high=self.high + by)


def ritardando_of(last: Stretch) -> Ritardando | None:
    """Where the ending of a tune slows down, and how far; None where its last stretch is no ending."""
    if last.hold is None:
        return None
    way = preferences(OrderPreferences).ritardando
    high = float(last.hold)
    return Ritardando(high - way.bars.of(last.how) * float(last.form.metre.bar), high, way.to)
