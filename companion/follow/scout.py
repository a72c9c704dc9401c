"""The scout: a second crowd of hypotheses, begun afresh and compared with the belief over bars.

A belief that has dropped the true place can't return to it, and may not notice, since the notes fit badly but not
impossibly. So from time to time a second crowd begins at a note, either as if the player had just come in, or at the
belief's tempo with the beat displaced. Both hear the same notes. Evidence is the log probability that a crowd has given
to them, summed up; where the scout's is larger by :data:`CONVINCED`, its hypotheses join the belief.

Method: a comparison of two models by their marginal likelihoods (a Bayes factor), with a fixed prior for beginning anew
at a note.

Conventions: as in :mod:`companion.follow.belief`; evidence in natural logarithms.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.follow import elsewhere
from companion.follow.belief import HEARD, READ, VV, WEIGHT, XV, XX, Crowd, Filter, V, X, joined_crowds
from companion.follow.habits import Habits

CONVINCED = 6.0
"""Log evidence by which the scout has to exceed the belief to join it: e^-6 is the prior of beginning anew at a
note."""
HOPELESS = -12.0
"""Log evidence, against the belief, below which a scout is given up."""
LONGEST = 128
"""Notes after which a scout that is still undecided is given up."""
SHIFTS = ((0.33, 0.04), (0.5, 0.13), (0.67, 0.03), (1.0, 0.25), (2.0, 0.05))
"""Displacements of the beat, in beats either way, each with its probability: most often one, or half of one."""
RETOLD, REPLACED = 0.05, 0.05
"""Relative standard deviation of a scout's tempo about the belief's, and of its position about the displaced one, in
beats."""
JUST_PAST = 0.1
"""Quarters behind the displaced position from which the next stroke may come."""


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
    rows[XX] += (REPLACED * sieve.places.pulse) ** 2
    rows[XV] = 0.0
    rows[VV] += (RETOLD * rows[V]) ** 2
    rows[HEARD] = sieve.readings.next_after(rows[X] + JUST_PAST, rows[READ].astype(np.int64)) - 1
    rows[WEIGHT] += np.tile(np.log(np.concatenate([chances, chances])), len(likely))
    return Scout(sieve.merged(Crowd(rows)))


def evidence(crowd: Crowd) -> float:
    """Log probability of what was heard, of a crowd not yet normed whose weights summed to 1 before."""
    top = float(crowd.weight.max())
    return top + float(np.log(np.exp(crowd.weight - top).sum()))
