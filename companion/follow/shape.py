"""The shape of a player's time: where in a tune they stretch and push, as their earlier takes show it.

Whoever plays a tune again stretches and pushes much the same spots. A shape is data only, so that it can lie in
settings and takes; how it is gone through is :mod:`companion.follow.even_time`, how it is learnt
:mod:`companion.practice.shaping`.

Conventions: chart beats in quarters as they sound, 0 at the first downbeat. A stretch is the natural logarithm of a
duration over the usual one: above 0 is slower.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

MOST = 1.0
"""Largest stretch: what is longer is a stop."""


@dataclass(frozen=True)
class TempoShape:
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

    def part(self, start: float, length: float) -> TempoShape:
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

    def moved(self, by: float) -> TempoShape:
        """The same shape in bars that lie so many quarters later, where nothing is before the beginning."""
        return replace(self, offset=self.offset + by) if by else self
