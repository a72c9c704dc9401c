"""The shape of a player's time: where in a tune they stretch and push, as their earlier takes show it.

Whoever plays a tune again stretches and pushes much the same spots. The shape is a map from chart beats to even ones: a
player who shapes the tune just so goes through the even beats at one speed. A belief that holds this possible moves on
through the map (:mod:`companion.follow.belief`).

Method: the expressive profile of a spot as a prior of the tempo curve, as in score following with a model trained on
rehearsals: C. Raphael, "Music Plus One and machine learning", ICML 2010 (named from memory).

Conventions: chart beats in quarters as they sound, 0 at the first downbeat; the shape repeats with the form, and before
its beginning the time is even. A stretch is the natural logarithm of a duration over the usual one: above 0 is slower.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from companion.arrays import Floats, Ints

MOST = 1.0
"""Largest stretch: what is longer is a stop."""


@dataclass(frozen=True)
class Shape:
    """How a player has shaped a tune so far.

    Attributes
    ----------
    length : float
        Of the form, in quarters.
    beats : tuple of float
        Where the segments begin, ascending from 0; each lasts up to the next one, the last to the form's end.
    stretch : tuple of float
        Of each segment.
    spread : tuple of float
        Standard deviation of the stretch from one time to the next.
    takes : int
        From how many takes it was learnt.
    swing : float or None
        By how many beats off-beat quavers were late; None where that wasn't shown.
    offset : float
        By how many quarters the bars are counted later than the form's.
    """

    length: float
    beats: tuple[float, ...]
    stretch: tuple[float, ...]
    spread: tuple[float, ...]
    takes: int = 1
    swing: float | None = None
    offset: float = 0.0

    def __post_init__(self) -> None:
        rising = all(a < b for a, b in zip(self.beats, (*self.beats[1:], self.length), strict=False))
        if not (self.beats and self.beats[0] == 0 and rising):
            raise ValueError("the segments of a shape begin one after the other, from 0 to the form's end")
        if not len(self.beats) == len(self.stretch) == len(self.spread):
            raise ValueError("a shape has a stretch and a spread for each segment")
        if not all(-MOST <= x <= MOST for x in self.stretch) or not all(0 <= x <= MOST for x in self.spread):
            raise ValueError(f"a stretch and its spread are {MOST} at most")

    @cached_property
    def _ends(self) -> Floats:
        """Where segments end and begin, from 0 to the length: shape (segments + 1,)."""
        return np.array([*self.beats, self.length])

    @cached_property
    def _even_ends(self) -> Floats:
        """The same in even beats, over the same length."""
        long = np.diff(self._ends) * np.exp(np.array(self.stretch))
        even = np.concatenate([[0.0], np.cumsum(long)])
        return np.asarray(even * (self.length / even[-1]))

    @cached_property
    def _pace(self) -> Floats:
        """Chart beats in an even one, by segment."""
        return np.asarray(np.diff(self._ends) / np.diff(self._even_ends))

    @cached_property
    def _straying(self) -> Floats:
        """Variance of the position that a quarter of each segment adds, beats²."""
        return np.asarray(np.array(self.spread) ** 2 * np.diff(self._ends))

    def _segment(self, within: Floats) -> Ints:
        return np.searchsorted(self._ends[1:-1], within, "right")

    def pace(self, beat: Floats) -> Floats:
        """How many times the usual speed the player has at each beat."""
        at = beat - self.offset
        return np.where(at < 0, 1.0, self._pace[self._segment(at % self.length)])

    def straying(self, beat: Floats) -> Floats:
        """How far the player strays from the shape there: variance of the position, beats² a quarter."""
        return np.asarray(self._straying[self._segment((beat - self.offset) % self.length)])

    def even(self, beat: Floats) -> Floats:
        """The even beat of each chart beat."""
        at = beat - self.offset
        turn = np.maximum(np.floor(at / self.length), 0.0) * self.length
        return np.where(at < 0, at, np.interp(at - turn, self._ends, self._even_ends) + turn)

    def chart(self, even: Floats) -> Floats:
        """The chart beat of each even beat: the inverse of :meth:`even`."""
        turn = np.maximum(np.floor(even / self.length), 0.0) * self.length
        return np.where(even < 0, even, np.interp(even - turn, self._even_ends, self._ends) + turn) + self.offset

    def part(self, start: float, length: float) -> Shape:
        """The shape of an excerpt of the form: so many quarters from a chart beat, which is its beat 0."""
        ends = [*self.beats[1:], self.length]
        inside = [n for n, (a, b) in enumerate(zip(self.beats, ends, strict=True)) if b > start and a < start + length]
        return replace(
            self,
            length=length,
            beats=tuple(max(0.0, self.beats[n] - start) for n in inside),
            stretch=tuple(self.stretch[n] for n in inside),
            spread=tuple(self.spread[n] for n in inside),
        )

    def moved(self, by: float) -> Shape:
        """The same shape in bars that lie so many quarters later, where nothing is before the beginning."""
        return replace(self, offset=self.offset + by) if by else self
