"""How a player comps: the shapes and rhythms that they use, as data, and how much each is liked.

A style says what was played, no more; what it weighs is in ``like-you.toml``. It lies in the settings and so in the
take, so that a replay arranges by what was known then. How it is learnt is
:mod:`companion.practice.comping_learnt`.

A shape is known by its degrees from the lowest note up, whatever their colour: the third, thirteenth, seventh and ninth
of a dominant are one shape, natural or altered, for which of these it has is asked by symbol, melody and resolution.

Conventions: MIDI numbers; places and lengths in quarters from the bar line, written; a place below 0 lies in the bar
before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from companion.music.kinds import Degree, degrees

if TYPE_CHECKING:
    from companion.preferences.like_you import ShapeLikings

MOST_NOTES, MOST_HITS = 10, 16
FARTHEST = 64.0
"""Quarters from the bar line."""


@dataclass(frozen=True)
class UsedShape:
    """A shape that a player uses."""

    quality: str
    """The kind of chord, as ``voicings.toml`` has it."""
    degrees: str
    """From the lowest note up, as they play it most: "b3 5 b7 9"."""
    left: int
    """How many of its notes the left hand takes; 0 for one hand."""
    worth: float
    """0 to 1: how much they use it, and how well that is known."""
    low: int
    """Its top note as it usually lies: from here ..."""
    high: int
    """... to here."""
    times: int
    takes: int
    """In how many takes it came how often."""

    def __post_init__(self) -> None:
        if not 1 <= len(degrees(self.degrees)) <= MOST_NOTES:
            raise ValueError("a shape has some notes")
        if not (0 <= self.worth <= 1 and 0 <= self.low <= self.high <= 127 and 0 <= self.left <= MOST_NOTES):
            raise ValueError("a shape lies on the keyboard, and is worth 0 to 1")

    @property
    def row(self) -> tuple[Degree, ...]:
        """Its degrees."""
        return degrees(self.degrees)


@dataclass(frozen=True)
class UsedRhythm:
    """A rhythm of one bar that a player uses."""

    metre: str
    feel: str
    places: tuple[float, ...]
    lengths: tuple[float, ...]
    worth: float
    times: int
    takes: int

    def __post_init__(self) -> None:
        if not 1 <= len(self.places) == len(self.lengths) <= MOST_HITS:
            raise ValueError("a rhythm has a place and a length for each chord")
        if not all(a < b for a, b in pairwise(self.places)) or not -4 <= self.places[0] <= self.places[-1] <= FARTHEST:
            raise ValueError("the chords of a rhythm come one after the other")
        if not (all(0 < length <= FARTHEST for length in self.lengths) and 0 <= self.worth <= 1):
            raise ValueError("chords last some time, and a rhythm is worth 0 to 1")


@dataclass(frozen=True)
class CompingStyle:
    """What a player's takes tell of how they comp."""

    shapes: tuple[UsedShape, ...] = ()
    rhythms: tuple[UsedRhythm, ...] = ()
    takes: int = 0
    """Takes with chords that were looked at."""

    def of_kind(self, quality: str) -> tuple[UsedShape, ...]:
        """The shapes of a kind of chord, the most used first."""
        return tuple(shape for shape in self.shapes if shape.quality == quality)

    def in_metre(self, metre: str, feel: str) -> tuple[UsedRhythm, ...]:
        """The rhythms of a metre in a feel, the most used first."""
        return tuple(one for one in self.rhythms if (one.metre, one.feel) == (metre, feel))

    def uses(self, quality: str, row: Sequence[Degree]) -> bool:
        """Whether a shape is the player's."""
        return any(places(shape.row) == places(row) for shape in self.of_kind(quality))


def places(row: Sequence[Degree]) -> tuple[int, ...]:
    """What a shape is known by: which degree each of its notes is, whatever the colour.

    >>> places(degrees("3 13 b7 9")) == places(degrees("3 b13 b7 #9"))
    True
    """
    return tuple((one.number - 1) % 7 for one in row)


@lru_cache(maxsize=1024)
def shape_liking(
    likes: ShapeLikings, used: tuple[UsedShape, ...], row: tuple[Degree, ...]
) -> tuple[tuple[float, int, int], ...]:
    """How much a shape is liked, and from which top note to which.

    Parameters
    ----------
    likes : ShapeLikings
    used : tuple of UsedShape
        The player's, of the kind of chord.
    row : tuple of Degree

    Returns
    -------
    tuple of (liking, lowest top note, highest top note)
        One for each of the player's shapes that it is, or is another inversion of.
    """
    found = []
    for shape in used:
        own = places(shape.row)
        if own == places(row):
            found.append((likes.liking * shape.worth, shape.low, shape.high))
        elif sorted(own) == sorted(places(row)):
            found.append((likes.liking * likes.inverted * shape.worth, shape.low, shape.high))
    return tuple(found)


def liked(likes: ShapeLikings, ways: Sequence[tuple[float, int, int]], top: int) -> float:
    """How much a shape is liked where its top note lies at a MIDI number: less, the farther from the player's."""
    return max(
        (liking * max(0.0, 1 - likes.outside * max(low - top, top - high, 0)) for liking, low, high in ways),
        default=0.0,
    )
