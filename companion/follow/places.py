"""Places: where in the form a role is likely to strike, and with what pitch.

Places are all that the filter knows of a role: points of the form, in order, each with the probability that the player
strikes there, the scatter of their strokes about it, and the probability of each pitch. Every role is followed by the
same filter; only its places differ (:mod:`companion.follow.roles`).

Conventions: beats in quarters from the first downbeat; the form repeats for ever, so places are numbered over all its
repetitions: place ``k`` is place ``k % count`` of the form, ``k // count`` times its period later. Negative numbers are
before the first downbeat. Scatter in beats and in seconds; logarithms are natural.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field, replace
from math import floor

import numpy as np
from numpy.typing import NDArray

from companion.arrays import Floats, Ints
from companion.follow.rhythm import OnsetTable

MEMORY, DIFFERENCE = 8.0, 0.1
"""Beats, and the share of their strokes that may differ, by which two places of the form are alike."""
PROMISED = 0.9
"""Probability of being struck from which a place is a promise."""


@dataclass(frozen=True, eq=False)
class Places:
    """Where a role is likely to strike.

    Attributes
    ----------
    period : float
        Length of the form in quarters.
    beat : array of shape (count,)
        Where each place lies as it sounds, straight, in [0, period), ascending.
    swung : array of shape (count,)
        1 where swing delays the place by the whole delay of an off-beat quaver, 0 on the beat, between for the rest.
    strike : array of shape (count,)
        Probability that the player strikes there when they come by.
    again : array of shape (count,)
        Probability that a stroke there has a further note at once (a chord, an octave).
    scatter : array of shape (count,)
        Standard deviation of the stroke about the place, beats, on top of the player's in seconds.
    row : array of shape (count,)
        Which row of ``pitch`` tells the pitches of the place.
    pitch : array of shape (rows, 128)
        Log probability of each MIDI number, given that the place was struck.
    other : array of shape (cells, 128)
        Log probability of each MIDI number of a note that belongs to no place, by cell of the form.
    others : float
        How many such notes come in a beat.
    opening : array of shape (count,)
        True where a phrase or a section begins: where players take up again.
    bar, pulse : float
        Length of a bar and of the beat that is felt, in quarters.
    first : array of shape (count,)
        True for the first place of each section.
    top : array of shape (count,)
        True where a player strikes first who begins at the top.
    cell : float
        Length of a cell in quarters.
    late : array of shape (count,)
        How far behind the place this role likes to strike, in seconds.
    leap : float
        How readily a player of this role is believed to have gone elsewhere; 1 for a melody, whose notes tell.
    resume : float
        How readily a note after a silence is taken for a new start: 1 where silence means that something was missed.
    rest : float
        Probability that a player leaves out any number of strokes on purpose, the pulse going on.
    rhythm : OnsetTable, optional
        What the last stroke says of the next one, where nothing else does; the places are its slots.
    """

    period: float
    beat: Floats
    swung: Floats
    strike: Floats
    again: Floats
    scatter: Floats
    row: Ints
    pitch: Floats
    other: Floats
    others: float
    late: Floats
    opening: NDArray[np.bool_]
    bar: float
    pulse: float
    first: NDArray[np.bool_]
    top: NDArray[np.bool_]
    cell: float = 1.0
    leap: float = 1.0
    rest: float = 0.004
    rhythm: OnsetTable | None = None
    resume: float = 1.0
    missed: Floats = field(init=False)
    """Running sum of the log probabilities of not striking: shape (count + 1,)."""
    _beats: list[float] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        lost = np.log1p(-np.minimum(self.strike, 0.999))
        object.__setattr__(self, "_beats", self.beat.tolist())
        object.__setattr__(self, "missed", np.concatenate([[0.0], np.cumsum(lost)]))

    @property
    def count(self) -> int:
        """Places in one form."""
        return len(self.beat)

    def at(self, k: Ints) -> Floats:
        """Beat of each place, straight, over all repetitions of the form."""
        return self.beat[k % self.count] + self.period * (k // self.count)

    def next_after(self, beat: Floats) -> Ints:
        """The first place at or after each beat."""
        chorus = np.floor(beat / self.period)
        return np.searchsorted(self.beat, beat - chorus * self.period) + (chorus * self.count).astype(np.int64)

    def place_at(self, k: int) -> float:
        """Beat of one place, as :meth:`at`."""
        chorus, at = divmod(k, self.count)
        return self._beats[at] + self.period * chorus

    def next_place(self, beat: float) -> int:
        """The first place at or after one beat, as :meth:`next_after`."""
        chorus = floor(beat / self.period)
        return bisect_left(self._beats, beat - chorus * self.period) + chorus * self.count

    def missed_before(self, at: Ints, chorus: Ints) -> Floats:
        """Sum of the log probabilities of not striking, over all places before place ``at`` of each chorus."""
        return np.asarray(self.missed[at] + self.missed[-1] * chorus)

    def passing(self, first: Ints, last: Ints) -> Floats:
        """Log probability of striking none of the places from ``first`` up to, not including, ``last``; 0 if none.

        However many they are, it is not below that of resting on purpose.
        """
        chorus, beyond = first // self.count, last // self.count
        missed = self.missed_before(last - beyond * self.count, beyond)
        missed -= self.missed_before(first - chorus * self.count, chorus)
        return np.clip(missed, np.log(self.rest), 0.0)

    def moved(self, by: float) -> Places:
        """The same places in bars that lie so many quarters later: the period stays, and repeats from there."""
        beat = np.round((self.beat + by) % self.period, 9) % self.period
        order = np.roll(np.arange(self.count), -int(np.argmin(beat)))
        each = ("swung", "strike", "again", "scatter", "row", "opening", "first", "top", "late")
        other = np.roll(self.other, round(by / self.cell), axis=0)
        return replace(self, beat=beat[order], other=other, **{name: getattr(self, name)[order] for name in each})

    def alike(self, a: float, b: float, heard: float = MEMORY) -> bool:
        """Whether the last eight beats before two places of the form, in quarters, tell them apart too little.

        They do where hardly one in ten of the likely strokes differs in place or pitch. Of a player who began again
        since, only the last ``heard`` beats count.
        """
        here, there = self._before(a, heard), self._before(b, heard)
        return len(here) > (heard >= MEMORY) and len(here ^ there) <= DIFFERENCE * len(here | there)

    def _before(self, beat: float, heard: float) -> frozenset[tuple[int, int]]:
        """Quarter beats back and likeliest pitch of the strokes in so many beats, eight at most, before a place."""
        beat = round(beat * 4) / 4 + 0.1
        back = (beat - self.beat) % self.period
        recent = np.flatnonzero(back < min(heard + 0.2, MEMORY))
        return frozenset((round(float(back[k]) * 4), int(self.pitch[self.row[k]].argmax())) for k in recent)
