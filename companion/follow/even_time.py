"""Chart beats and even ones: a tune's shape as a map, by which a player who shapes it so keeps one speed.

A player who shapes the tune just as before goes through the even beats at one speed. A belief that holds this possible
moves on through the map (:mod:`companion.follow.belief`).

Method: the expressive profile of a spot as a prior of the tempo curve, as in score following with a model trained on
rehearsals: C. Raphael, "Music Plus One and machine learning", ICML 2010 (named from memory).

Conventions: chart beats in quarters as they sound; the shape repeats with the form, and before its beginning the time
is even. Over the whole form there are as many even beats as chart beats.
"""

from __future__ import annotations

import numpy as np

from companion.arrays import Floats, Ints
from companion.follow.shape import TempoShape


class EvenTime:
    """The map of a shape.

    Parameters
    ----------
    shape : TempoShape
    """

    def __init__(self, shape: TempoShape) -> None:
        self.shape = shape
        self._ends: Floats = np.array([*shape.beats, shape.length])
        """Where segments end and begin, from 0 to the length: shape (segments + 1,)."""
        widths = np.diff(self._ends)
        even = np.concatenate([[0.0], np.cumsum(widths * np.exp(np.array(shape.stretch)))])
        self._even_ends: Floats = even * (shape.length / even[-1])
        """The same in even beats, over the same length."""
        self._pace: Floats = widths / np.diff(self._even_ends)
        """Chart beats in an even one, by segment."""
        self._straying: Floats = np.array(shape.spread) ** 2 * widths
        """Variance of the position that a quarter of each segment adds, beats²."""

    def _segment(self, within: Floats) -> Ints:
        return np.searchsorted(self._ends[1:-1], within, "right")

    def pace(self, beat: Floats) -> Floats:
        """How many times the usual speed the player has at each beat."""
        at = beat - self.shape.offset
        return np.where(at < 0, 1.0, self._pace[self._segment(at % self.shape.length)])

    def straying(self, beat: Floats) -> Floats:
        """How far the player strays from the shape there: variance of the position, beats² a quarter."""
        return np.asarray(self._straying[self._segment((beat - self.shape.offset) % self.shape.length)])

    def even(self, beat: Floats) -> Floats:
        """The even beat of each chart beat."""
        at = beat - self.shape.offset
        turn = np.maximum(np.floor(at / self.shape.length), 0.0) * self.shape.length
        return np.where(at < 0, at, np.interp(at - turn, self._ends, self._even_ends) + turn)

    def chart(self, even: Floats) -> Floats:
        """The chart beat of each even beat: the inverse of :meth:`even`."""
        turn = np.maximum(np.floor(even / self.shape.length), 0.0) * self.shape.length
        return np.where(even < 0, even, np.interp(even - turn, self._even_ends, self._ends) + turn) + self.shape.offset
