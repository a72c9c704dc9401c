"""The form of a chord: degrees from the lowest note up, before it has an octave."""

from __future__ import annotations

from dataclasses import dataclass

from companion.music.kinds import Degree


@dataclass(frozen=True)
class Shape:
    """A form before it has an octave."""

    family: str
    name: str
    degrees: tuple[Degree, ...]
    left: int
    """How many of its notes, from the lowest up, the left hand takes; 0 for one hand."""
    price: float
    why: str = ""
    """What asked for it, in a musician's words."""
