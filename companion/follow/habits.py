"""Habits: statistics of one player, learnt while listening: swing, octave, displaced phrases, hesitations, returns.

The belief says where a player is at one moment; habits carry over from note to note. They scale the priors of the next
displaced phrase, the next hesitation, the next note an octave lower, the next return to a bar.

Method: counts with prior counts (means of gamma or Dirichlet posteriors); counts fade with each note, so that the
latest playing weighs most.

Conventions: swing in beats that an off-beat quaver is late; shares and probabilities are not logarithms; a factor of 1
is that of an unknown player.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from companion.arrays import Floats

OCTAVES = (-12, 0, 12)
"""Semitones by which a whole part may be played lower or higher than written."""
OCTAVE_NOTES = (0.15, 4.0, 0.15)
"""Prior counts of notes in each of :data:`OCTAVES`."""
FORGETS = 0.95
"""Factor on the counts of octaves at each note."""
DISPLACED_NOTES, HESITANT_NOTES = (1.0, 50.0), (0.12, 30.0)
"""Prior counts of displaced phrases, and of hesitations, each with the notes in which so many fall."""
FADES = 0.98
"""Factor on the counts of displaced phrases and hesitations at each note."""
REMEMBERED = 3
"""Returns that are remembered; practising repeats the same few bars."""
LEAST, MOST, MOST_HESITANT = 0.3, 6.0, 20.0
"""Bounds of the factors, against an unknown player."""


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
