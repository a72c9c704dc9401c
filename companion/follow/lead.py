"""The lead: the one place and tempo that the companion goes by, drawn from a crowd of hypotheses.

Conventions: as in :mod:`companion.follow.belief`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from companion.arrays import Floats
from companion.follow.belief import HEARD, READ, VV, WAY, XX, Crowd, V, X
from companion.follow.readings import Reading, Readings

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

    def when(self, beat: float) -> float:
        """The moment at which a beat is due, in seconds."""
        return self.seconds + (beat - self.beat) / self.speed


def lead_of(
    crowd: Crowd, weight: Floats, chosen: NDArray[np.bool_], seconds: float, readings: Readings, free: int
) -> Lead:
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
    readings : Readings
    free : int
        The way of keeping time that is free.
    """
    mass = float(weight[chosen].sum())
    share = weight[chosen] / mass if mass > 0 else np.full(int(chosen.sum()), 1 / max(1, chosen.sum()))
    rows = crowd.rows[:, chosen]
    chief = int(np.argmax(share))
    # Where what is displaced or improvised would be tells less of the moment, another tempo nothing of this one;
    # of how sure the moment is, they tell.
    same = (rows[READ] == rows[READ, chief]) & (np.abs(rows[V] / rows[V, chief] - 1) < SAME_TEMPO)
    alike = np.where(same, share, 0.0) / share[same].sum()
    half = readings.home.period / 2
    x = (rows[X] - rows[X, chief] + half) % readings.home.period - half
    beat, speed = float(alike @ x), float(alike @ rows[V])
    return Lead(
        seconds=seconds,
        beat=beat + float(rows[X, chief]),
        speed=speed,
        mass=mass,
        spread=math.sqrt(share @ (rows[XX] + (x - beat) ** 2)),
        speed_spread=math.sqrt(share @ (rows[VV] + (rows[V] - speed) ** 2)),
        free=float(weight[crowd.rows[WAY] == free].sum()),
        stopped=0.0,
        heard=int(rows[HEARD, chief]),
        reading=readings.each[int(rows[READ, chief])],
    )
