"""What a player has shown of their ways so far: how late they swing, in which octave they play, what they do with time.

The belief is about one moment; habits are what the moments have in common, learnt while listening and carried from
note to note. They change how likely the filter thinks the next displaced phrase, the next hesitation, the next note an
octave lower.

Conventions: swing in beats; shares and probabilities are natural numbers; a habit of 1 is that of a player of whom
nothing is known.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from companion.follow.arrays import Floats

OCTAVES = (-12, 0, 12)
"""Semitones by which a whole part may be played lower or higher than it is written."""
OCTAVE_NOTES = (0.15, 4.0, 0.15)
"""Prior counts of notes played so."""
FORGETS = 0.95
"""What a note's count keeps as the next is heard."""
DISPLACED_NOTES, HESITANT_NOTES = (1.0, 50.0), (0.12, 30.0)
"""Prior counts: phrases displaced, and beats held back, and the notes in which there were so many."""
FADES = 0.98
"""What the count of what they do with time keeps from note to note."""
REMEMBERED = 3
"""Returns remembered: who practises repeats the same few bars."""
LEAST, MOST, MOST_HESITANT = 0.3, 6.0, 20.0
"""A habit is at least and at most so many times that of an unknown player."""


@dataclass(frozen=True)
class Habits:
    """What was learnt of a player.

    Attributes
    ----------
    swing : float
        By how many beats their off-beat quavers are late.
    octaves : tuple of float
        Notes heard an octave below, as written, and an octave above, the older ones counting less.
    notes, displaced, hesitations : float
        Notes heard, phrases among them that were early or late while the beat went on, and beats held back.
    """

    swing: float = 0.0
    octaves: tuple[float, ...] = OCTAVE_NOTES
    notes: float = 0.0
    displaced: float = 0.0
    hesitations: float = 0.0
    returns: tuple[tuple[float, float], ...] = ()
    """The last few times that they went on from elsewhere: the beat of the form where they left, and the quarters by
    which they went on."""
    shares: Floats = field(init=False, compare=False, repr=False)
    """Probability of each of the octaves."""

    def __post_init__(self) -> None:
        octaves = np.array(self.octaves)
        object.__setattr__(self, "shares", octaves / octaves.sum())

    def displaces(self, times: ArrayLike) -> Floats:
        """How many times as readily as an unknown player they displace a phrase, having done so some ``times``."""
        return _times(times, self.notes, DISPLACED_NOTES)

    def hesitates(self, times: ArrayLike) -> Floats:
        """How many times as readily they hold a beat back, having done so some ``times``."""
        return _times(times, self.notes, HESITANT_NOTES, MOST_HESITANT)

    def in_octaves(self, heard: Floats) -> Habits:
        """After a note that was an octave below, as written, or above with these probabilities."""
        kept = FORGETS * (np.array(self.octaves) - OCTAVE_NOTES) + OCTAVE_NOTES
        return replace(self, octaves=tuple(kept + heard))

    def going(self, left: float, by: float) -> Habits:
        """After the player left a beat of the form, going on so many quarters from there."""
        return replace(self, returns=((left, by), *self.returns[: REMEMBERED - 1]))


def _times(happened: ArrayLike, notes: float, prior: tuple[float, float], most: float = MOST) -> Floats:
    usual = prior[0] / prior[1]
    return np.clip((prior[0] + np.asarray(happened, float)) / (prior[1] + notes) / usual, LEAST, most)
