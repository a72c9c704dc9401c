"""Arcs: the height that a bass line is drawn towards over each phrase: up and down, down and up, rising, falling.

Method: knots at the ends of each phrase, and in the middle of some, lie low and high in turn within the comfortable
range, each varied by chance; between two knots the height follows half a cosine. The line is drawn towards it by
``pull`` in ``bass.toml`` (common practice: a walking line has a direction over several bars).

Conventions: positions are counted in bars of the form from 0, with fractions; heights are MIDI numbers.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from companion.preferences.bass import Arcs


class Arc:
    """Where the line of one chorus would like to lie.

    Parameters
    ----------
    shape : Arcs
    comfortable : (int, int)
        The range in which the line lies, in MIDI numbers.
    phrases : sequence of int
        The bars on which a phrase begins, and at the end the number of all bars.
    chance : random.Random
        Draws the knots.
    """

    def __init__(
        self, shape: Arcs, comfortable: tuple[int, int], phrases: Sequence[int], chance: random.Random
    ) -> None:
        low, high = comfortable
        self.places: list[float] = [0.0]
        up = chance.random() < shape.begins_high
        ups = [up]
        for start, end in pairwise(phrases):
            if chance.random() < shape.there_and_back and end - start > 1:
                self.places.append(start + (end - start) * chance.uniform(*shape.middle))
                ups.append(not up)
            else:
                up = not up
            self.places.append(float(end))
            ups.append(up)
        loose = shape.loose * (high - low)
        self.heights = [high - chance.uniform(0, loose) if up else low + chance.uniform(0, loose) for up in ups]

    def at(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Heights at places."""
        knots, heights = np.asarray(self.places), np.asarray(self.heights)
        k = np.clip(np.searchsorted(knots, places, side="right") - 1, 0, max(0, len(knots) - 2))
        after = np.minimum(k + 1, len(knots) - 1)
        share = (places - knots[k]) / np.maximum(knots[after] - knots[k], 1e-9)
        return np.asarray(heights[k] + (heights[after] - heights[k]) * (1 - np.cos(np.pi * share)) / 2)
