"""The line that the chords' top notes make: a melody of its own, against the tune's.

It moves rather than stands, by step rather than by leap, and goes on the way it goes; contrary to the melody where that
moves, at rest under its peaks. Where the melody rests it may turn round.

Conventions: MIDI numbers and semitones; the ways are still, down and up. Source: common practice (contrary motion
between outer voices).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from companion.arrange.chords.context import TINY
from companion.arrange.melody.part import MelodyIndex
from companion.preferences.voicings import TopVoiceCosts

WAYS = 3
"""Still, down, up."""
STEP, THIRD = 2, 4


@dataclass(frozen=True)
class MelodyMove:
    """What the melody does from one chord to the next."""

    way: int
    """-1 where it has fallen, 1 where it has risen, 0 where it hasn't moved, or there is none."""
    peak: bool
    """Whether it holds the highest note around."""
    rests: bool
    """Whether it rests at the later chord."""


def melody_move(melody: MelodyIndex, before: float, beat: float, around: float) -> MelodyMove:
    """What the melody does between chords struck at ``before`` and at ``beat``; a peak is one within ``around``."""
    last = bisect_right(melody.onsets, beat + TINY) - 1
    was = bisect_right(melody.onsets, before + TINY) - 1
    if last < 0 or was < 0:
        return MelodyMove(0, False, True)
    here = melody.notes[last].pitch.midi
    rests = melody.ends[last] <= beat + TINY
    near = melody.notes[bisect_left(melody.onsets, beat - around) : bisect_right(melody.onsets, beat + around)]
    peak = not rests and all(note.pitch.midi <= here for note in near)
    return MelodyMove(int(np.sign(here - melody.notes[was].pitch.midi)), peak, rests)


def line_costs(
    costs: TopVoiceCosts, tops: NDArray[np.int64], same: Sequence[bool], melody: Sequence[MelodyMove]
) -> NDArray[np.float64]:
    """Cost of the top voice's moves, by the way that it came, array [move, before, way, after].

    Parameters
    ----------
    costs : TopVoiceCosts
    tops : array [chord, voicing]
        The top note of each voicing that a chord may have.
    same : sequence of bool
        For each move, whether the chord stays.
    melody : sequence of MelodyMove
        For each move, what the melody does.
    """
    move = tops[1:, None, :] - tops[:-1, :, None]
    rest = _column([costs.under_a_peak if one.peak else 1.0 for one in melody])
    still = _column([costs.still_on_one_chord if one else costs.still for one in same]) * rest
    plain = np.where(move == 0, still, _by_distance(costs.third, costs.leap)[np.abs(move)])
    way = _column([one.way for one in melody])
    plain += costs.along * ((np.sign(move) == way) & (way != 0))
    turn = _column([0.0 if one.rests else costs.turn for one in melody])
    found = np.repeat(plain[:, :, None, :], WAYS, axis=2)
    found[:, :, 0, :] += costs.still_again * rest * (move == 0)
    found[:, :, 1, :] += turn * (move > 0)
    found[:, :, 2, :] += turn * (move < 0)
    return found


def _column(values: Sequence[float]) -> NDArray[np.float64]:
    return np.array(values, dtype=np.float64)[:, None, None]


def ways_of(tops: NDArray[np.int64]) -> NDArray[np.int64]:
    """The way of each move, array [move, before, after]: 0 still, 1 down, 2 up."""
    move = tops[1:, None, :] - tops[:-1, :, None]
    return np.where(move == 0, 0, np.where(move < 0, 1, 2))


@lru_cache(maxsize=4)
def _by_distance(third: float, leap: float) -> NDArray[np.float64]:
    """Cost of a move by so many semitones."""
    distance = np.arange(128)
    beyond = np.where(distance > THIRD, leap * (distance - THIRD), 0.0)
    return np.where(distance > STEP, third, 0.0) + beyond
