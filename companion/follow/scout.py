"""A scout: what would be believed by somebody who had just begun to listen, held against what is believed.

A belief that is wrong explains the notes poorly but need not notice: what it has given up, it can't come back to. So
from time to time a second crowd is begun afresh, as if the player had just come in, or at the same tempo with the beat
elsewhere; it hears the same notes, and its evidence (the probability it gives them, as a running sum of logarithms) is
compared over bars, not notes. Where it has explained them better by far, it joins the belief. In other words, "they
began anew at that note" is a hypothesis that is given room of its own.

Conventions: as in :mod:`companion.follow.belief`; evidence in natural logarithms.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.follow import elsewhere
from companion.follow.belief import HEARD, READ, VV, WEIGHT, XV, XX, Crowd, Filter, V, X, joined_crowds
from companion.follow.habits import Habits

CONVINCED = 6.0
"""By how much the scout has to explain the notes better: the probability of beginning anew at a note is e^-6."""
HOPELESS = -12.0
"""By how much worse it may."""
LONGEST = 128
"""Notes after which a scout is begun afresh."""
SHIFTS = ((0.33, 0.04), (0.5, 0.13), (0.67, 0.03), (1.0, 0.25), (2.0, 0.05))
"""Beats by which the beat may lie elsewhere, either way, and how probably: by one, or half of one, above all."""
RETOLD = 0.05
"""Relative standard deviation of the tempo about the one gone by."""


@dataclass(frozen=True)
class Scout:
    """A crowd begun afresh.

    Attributes
    ----------
    crowd : Crowd
    gain : float
        By how much it has explained the notes since better than the belief.
    notes : int
        How many notes that were.
    """

    crowd: Crowd
    gain: float = 0.0
    notes: int = 0

    @property
    def done(self) -> bool:
        """Whether another had better be begun."""
        return self.gain < HOPELESS or self.notes >= LONGEST

    @property
    def convincing(self) -> bool:
        """Whether it is to join the belief."""
        return self.gain > CONVINCED


def sent_anywhere(sieve: Filter, pitch: int, tempo: float, habits: Habits) -> Scout:
    """A new scout at a note just heard, as if the player came in with it; ``tempo`` is in quarters a minute."""
    told = [elsewhere.entrance(sieve, pitch, tempo, habits), elsewhere.entrance(sieve, pitch, None, habits)]
    return Scout(sieve.merged(joined_crowds(told)))


def sent_beside(sieve: Filter, likely: Crowd) -> Scout:
    """A new scout at a note just heard: the same tempo, the beat elsewhere; ``likely`` are the likeliest few."""
    beats, chances = np.array(SHIFTS).T
    shift = np.concatenate([beats, -beats]) * sieve.places.pulse
    rows = np.repeat(likely.rows, len(shift), axis=1)
    rows[X] += np.tile(shift, len(likely))
    rows[XX] += (0.05 * sieve.places.pulse) ** 2
    rows[XV] = 0.0
    rows[VV] += (RETOLD * rows[V]) ** 2
    rows[HEARD] = sieve.readings.next_after(rows[X] + 0.1, rows[READ].astype(np.int64)) - 1
    rows[WEIGHT] += np.tile(np.log(np.concatenate([chances, chances])), len(likely))
    return Scout(sieve.merged(Crowd(rows)))


def evidence(crowd: Crowd) -> float:
    """Log probability of what was heard, of a crowd not yet normed whose weights summed to 1 before."""
    top = float(crowd.weight.max())
    return top + float(np.log(np.exp(crowd.weight - top).sum()))
