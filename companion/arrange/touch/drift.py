"""Drift: chance with a long memory, as a hand deviates from its place.

The sum of drifts that forget at different speeds: each is a first-order autoregression over beats
(Ornstein & Uhlenbeck), which has lost half of itself after its half-life. With half-lives that lie evenly on a
logarithmic scale their sum comes near to 1/f, which is what is measured of people who keep time (Gilden, Thornton &
Mallon, Science 267, 1995; Hennig et al., PLoS ONE 6(10), 2011; that sums of relaxations give 1/f: van der Ziel, Physica
16, 1950; all from memory).

Conventions: beats in quarters; a drift has the mean 0 and the standard deviation 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import sqrt
from random import Random


def drift(beats: Iterable[float], half_lives: Sequence[float], dice: Random) -> list[float]:
    """Where the drift is at some beats.

    Parameters
    ----------
    beats : iterable of float
        In order.
    half_lives : sequence of float
        In quarters; one of 0 has no memory. Without any there is no memory at all.
    dice : random.Random

    Returns
    -------
    list of float
        One a beat.
    """
    lives = tuple(half_lives) or (0.0,)
    weight = 1.0 / sqrt(len(lives))
    states, last = [dice.gauss(0.0, 1.0) for _ in lives], None
    found = []
    for beat in beats:
        if last is not None:
            for n, life in enumerate(lives):
                kept = 0.5 ** ((beat - last) / life) if life > 0 else 0.0
                states[n] = kept * states[n] + sqrt(max(0.0, 1.0 - kept * kept)) * dice.gauss(0.0, 1.0)
        last = beat
        found.append(weight * sum(states))
    return found
