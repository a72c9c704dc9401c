"""Metre: how many quarters a bar has, and which pulse is felt in it.

Conventions: lengths in quarter notes (chart beats), as Fractions. The pulse is the quarter, but a dotted quarter in
6/8, 9/8 and 12/8 (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Metre:
    """A time signature, such as 4/4 or 6/8."""

    beats: int = 4
    beat_type: int = 4

    @property
    def bar(self) -> Fraction:
        """Quarters in a bar."""
        return Fraction(4 * self.beats, self.beat_type)

    @property
    def compound(self) -> bool:
        """Counted in dotted quarters."""
        return self.beat_type == 8 and self.beats % 3 == 0 and self.beats > 3

    @property
    def pulse(self) -> Fraction:
        """Quarters in the beat that is counted: 1, or 3/2 in compound time."""
        return Fraction(3, 2) if self.compound else Fraction(1)

    def __str__(self) -> str:
        return f"{self.beats}/{self.beat_type}"


def parse_metre(text: str) -> Metre:
    """Read '4/4'. Raises ValueError when it isn't a metre."""
    head, _, tail = text.strip().partition("/")
    if not (head.isdigit() and tail.isdigit() and int(head) > 0 and int(tail) in (1, 2, 4, 8, 16, 32)):
        raise ValueError(f"{text!r} is not a metre")
    return Metre(int(head), int(tail))
