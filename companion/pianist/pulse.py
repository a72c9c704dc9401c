"""The pulse of a human player, in strict and in free time, as a list of moments.

Method: in strict time the tempo wanders (a random walk of its logarithm) and each pulse falls a little beside it, which
doesn't add up, the two-level model of Wing & Kristofferson (Perception & Psychophysics 14, 1973); the sizes in
``configs/players.toml`` were measured on recordings of jazz trios. In free time each phrase is an arch, slow at both
ends and slowest at its last beat (Todd, J. Acoust. Soc. Am. 91(6), 1992), with random deviations from beat to beat.

Conventions: a list of n + 1 pulses in seconds, the first at 0; ``period`` is the length of a pulse in seconds at the
start. Everything is drawn from the ``dice`` that are handed in, so that the same dice give the same pulses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate
from random import Random

MOST_JITTER = 0.009
"""Seconds: beside a slow beat a player is no more uneven than this."""
SLOWEST = 0.6
"""Share of the tempo that is left at the end of a ritardando."""
HOLD = (1.3, 1.8)
"""A hesitation makes its beat so many times as long."""


def strict_pulses(
    n: int, period: float, dice: Random, *, drift: float, jitter: float, gain: float = 0.0, steady: int = 0
) -> list[float]:
    """Pulses of somebody who means to keep the tempo, or to gain on it evenly.

    Parameters
    ----------
    n : int
        Number of periods.
    period : float
        Seconds.
    dice : Random
    drift : float
        Standard deviation of the change of tempo from one beat to the next, as a share of it.
    jitter : float
        Standard deviation of a pulse beside the drifting tempo, as a share of the period.
    gain : float
        How much faster the last beat is than the first (0.4 = 40 per cent).
    steady : int
        Pulses before the gain sets in (the count-in).
    """
    wandering, grid = 0.0, [0.0]
    for k in range(n):
        wandering = 0.995 * wandering + dice.gauss(0.0, drift)  # nobody forgets for good how fast it began
        faster = 1.0 + gain * max(k - steady, 0) / max(n - steady - 1, 1)
        grid.append(grid[-1] + period * math.exp(wandering) / faster)
    size = min(jitter * period, MOST_JITTER)
    return [0.0] + [t + max(-0.2 * period, min(0.2 * period, dice.gauss(0.0, size))) for t in grid[1:]]


def free_pulses(n: int, period: float, dice: Random, *, phrase: int, freedom: float) -> list[float]:
    """Pulses of somebody who plays out of strict time, phrase by phrase.

    Parameters
    ----------
    n, period, dice
        As in :func:`strict_pulses`.
    phrase : int
        Pulses in a phrase.
    freedom : float
        Coefficient of variation of the periods.
    """
    raw, last = [], 0.0
    for k in range(n):
        x = (k % phrase + 0.5) / phrase
        last = 0.35 * last + dice.gauss(0.0, 0.5)
        left = phrase - 1 - k % phrase
        ending = dice.uniform(1.5, 4.5) if left == 0 else dice.uniform(0.0, 1.5) if left == 1 else 0.0
        raw.append(1.6 * (2 * x - 1) ** 2 + last + ending)
    mean = sum(raw) / max(len(raw), 1)
    spread = math.sqrt(sum((v - mean) ** 2 for v in raw) / max(len(raw), 1)) or 1.0
    return list(accumulate((period * max(0.6, 1.0 + freedom * (v - mean) / spread) for v in raw), initial=0.0))


def hesitate(pulses: Sequence[float], at: Sequence[int], dice: Random) -> list[float]:
    """The same pulses, but before each pulse named in ``at`` the player hesitates and all that follows comes later."""
    late, shift = [], 0.0
    for k, t in enumerate(pulses):
        if k in at and k:
            shift += (dice.uniform(*HOLD) - 1.0) * (t - pulses[k - 1])
        late.append(t + shift)
    return late


def slowed(pulses: Sequence[float], first: int, last: int, to: float = SLOWEST) -> list[float]:
    """The same pulses, but from pulse ``first`` to pulse ``last`` slower and slower, down to ``to`` of the tempo.

    Method: the square root of U. Kronman and J. Sundberg, "Is the musical retard an allusion to physical motion?", in
    Action and Perception in Rhythm and Music, 1987 (from memory).
    """
    found, shift = list(pulses[: first + 1]), 0.0
    for k in range(first + 1, len(pulses)):
        x = min(1.0, (k - first - 0.5) / (last - first))
        tempo = math.sqrt(1 + (to**2 - 1) * x)
        shift += (pulses[k] - pulses[k - 1]) * (1 / tempo - 1)
        found.append(pulses[k] + shift)
    return found
