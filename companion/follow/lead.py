"""The lead: the one place and tempo that the companion goes by, drawn from a crowd of hypotheses.

Conventions: as in :mod:`companion.follow.belief`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from companion.arrays import Floats
from companion.follow.belief import HEARD, READ, VV, WAY, XX, Crowd, Filter, V, X
from companion.follow.even_time import EvenTime
from companion.follow.readings import Reading

SAME_TEMPO = 0.12
"""Relative difference of two tempi up to which they are thought of as one."""


@dataclass(frozen=True)
class Lead:
    """The place that the follower goes by.

    Attributes
    ----------
    seconds : float
        The moment it speaks of.
    beat, speed : float
        Where the player is then (quarters, through the choruses), and how fast (quarters a second).
    mass : float
        Probability that they are within 0.3 beat of it.
    spread, speed_spread : float
        Standard deviation of the position in beats, and of the speed in beats a second.
    free : float
        Probability that the player takes their time freely.
    stopped : float
        Probability that they have stopped, by the promised notes that were not heard.
    heard : int
        The place as which the last note was heard.
    reading : Reading
        To which that place belongs: what the player is taken to do.
    """

    seconds: float
    beat: float
    speed: float
    mass: float
    spread: float
    speed_spread: float
    free: float
    stopped: float
    heard: int
    reading: Reading = field(compare=False)
    shaped: float = 0.0
    """Probability that they shape the tune as in earlier takes."""
    usual: float = 0.0
    """Their usual speed, if they do."""
    even_time: EvenTime | None = field(default=None, compare=False, repr=False)

    def when(self, beat: float) -> float:
        """The moment at which a beat is due, in seconds."""
        even = self.seconds + (beat - self.beat) / self.speed
        if self.even_time is None or self.shaped == 0:
            return even
        here, there = self.even_time.even(np.array([self.beat, beat]))
        return even + self.shaped * (self.seconds + float(there - here) / self.usual - even)


def lead_of(crowd: Crowd, weight: Floats, chosen: NDArray[np.bool_], seconds: float, sieve: Filter) -> Lead:
    """The lead that some of the hypotheses make, at a moment; nobody is taken to have stopped.

    Parameters
    ----------
    crowd : Crowd
        Moved to that moment.
    weight : array of shape (hypotheses,)
        Their probabilities, summing to 1.
    chosen : array of bool, shape (hypotheses,)
        Those of one place.
    seconds : float
    sieve : Filter
        Which moved them.
    """
    readings, manner = sieve.readings, sieve.manner
    mass = float(weight[chosen].sum())
    share = weight[chosen] / mass if mass > 0 else np.full(int(chosen.sum()), 1 / chosen.sum())
    some = crowd.pick(chosen)
    rows, speeds = some.rows, sieve.speed(some)
    chief = int(np.argmax(share))
    # Where what is displaced or improvised would be tells less of the moment, another tempo nothing of this one;
    # of how sure the moment is, they tell.
    same = (rows[READ] == rows[READ, chief]) & (np.abs(speeds / speeds[chief] - 1) < SAME_TEMPO)
    alike = np.where(same, share, 0.0) / share[same].sum()
    half = readings.home.period / 2
    x = (rows[X] - rows[X, chief] + half) % readings.home.period - half
    beat, speed = float(alike @ x), float(alike @ speeds)
    lead = Lead(
        seconds=seconds,
        beat=beat + float(rows[X, chief]),
        speed=speed,
        mass=mass,
        spread=math.sqrt(share @ (rows[XX] + (x - beat) ** 2)),
        speed_spread=math.sqrt(share @ (rows[VV] + (speeds - speed) ** 2)),
        free=float(weight[crowd.rows[WAY] >= manner.first_free].sum()),
        stopped=0.0,
        heard=int(rows[HEARD, chief]),
        reading=readings.each[int(rows[READ, chief])],
    )
    return lead if sieve.even_time is None else _in_shape(lead, sieve, rows, alike)


def _in_shape(lead: Lead, sieve: Filter, rows: Floats, share: Floats) -> Lead:
    """The lead, knowing how the tune was shaped before; of the hypotheses that make it, the rows and their shares."""
    shaped = share * np.array([way.shaped for way in sieve.manner.freedoms])[rows[WAY].astype(np.int64)]
    mass = float(shaped.sum())
    if mass <= 0:
        return lead
    return replace(lead, shaped=mass, usual=float(shaped @ rows[V]) / mass, even_time=sieve.even_time)
