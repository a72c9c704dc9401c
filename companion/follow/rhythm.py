"""What rhythm alone says: how likely a pianist's next onset is, by where in the beat the last one was.

Where nothing but rhythm is known (a chart without melody and chords), the follower goes by a table learnt from
recordings of jazz trios: the density of (part of the beat of the last onset, interval to the next) in seven bands of
tempo. Swing and lateness live in it: off-beats at .70-.75 of a beat below 160 a minute, at .55-.70 above 200, on-beats
10 ms late. It is for hearing, not for playing.

Source: Jazz Trio Database (H. Cheston, J. Schlichting, I. Cross, P. Harrison, Transactions of the ISMIR 2024), MIT
licence; ``tests/benchmarks/learn_rhythm.py`` makes ``rhythm.npz`` from its onsets and beats.

Conventions: a beat has 24 slots; intervals in slots, 1 to 96 (four beats), the last entry being all that is longer.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from companion.arrays import Floats, Ints

SLOTS = 24
"""Slots a beat."""
TEMPI = (140.0, 160.0, 180.0, 200.0, 225.0, 250.0)
"""Where one band of tempo ends and the next begins, quarters a minute."""
FLOOR = 0.02
"""Share of onsets that keep to no rhythm."""
TRUST = 0.7
"""Exponent: successive onsets of one figure say the same thing more than once."""


@dataclass(frozen=True)
class OnsetTable:
    """Log weights by tempo band, slot of the last onset and interval; shape (bands, 24, 97)."""

    weights: Floats

    def following(self, last: Ints, interval: Ints, speed: Floats) -> Floats:
        """Log weight of each next onset.

        Parameters
        ----------
        last : array of shape (n, 1)
            Place of the last onset, in slots.
        interval : array of shape (n, m)
            Slots to the next.
        speed : array of shape (n, 1)
            Quarters a second.
        """
        band = np.searchsorted(TEMPI, speed * 60)
        return np.asarray(self.weights[band, last % SLOTS, np.clip(interval, 1, self.weights.shape[2] - 1)])


def rhythm_of(shares: Floats) -> OnsetTable:
    """A rhythm from the learnt shares, which sum to 1 over the intervals."""
    return OnsetTable(TRUST * np.log((1 - FLOOR) * shares + FLOOR / (2 * SLOTS)))


@lru_cache(maxsize=1)
def trio_rhythm() -> OnsetTable:
    """The table that ships."""
    with np.load(Path(__file__).with_name("rhythm.npz")) as file:
        shares = file["shares"].astype(np.float64)
    return rhythm_of(shares / shares.sum(axis=2, keepdims=True))
