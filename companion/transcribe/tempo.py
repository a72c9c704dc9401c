"""The beats of a recording that has no tempo of its own.

Method: every tempo that a player may have is tried on the beginning, the first note on a beat; the one in which the
playing is least rare (:mod:`companion.transcribe.quantise`) is taken, tempi that people prefer before others (a
preferred tempo near 120 a minute: Parncutt, A Perceptual Model of Pulse Salience, Music Perception 11(4), 1994, from
memory).

Conventions: seconds; tempo in quarters a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.transcribe.quantise import cost_of

SLOWEST, FASTEST, STEP = 40.0, 270.0, 1.05
PREFERRED, SPREAD = 125.0, 0.6
"""Preferred tempo in quarters a minute, and the standard deviation of its logarithm."""
GLANCE, LISTENED = 18, 48
"""Notes from the beginning that are tried at every tempo, and at the likely ones."""
LIKELY = 3
"""Tempi that are tried with more notes."""


def find_beats(keys: Sequence[KeyPress], metre: Metre | None = None) -> BeatMap:
    """The beats of a recording, its first note on a beat 0.

    Parameters
    ----------
    keys : sequence of KeyPress
        One voice, in order of onset.
    metre : Metre, optional
    """
    metre = metre or Metre()
    if len(keys) < 4:
        return BeatMap.steady(120.0, keys[0].on if keys else 0.0)
    tempi = [SLOWEST * STEP**k for k in range(int(log(FASTEST / SLOWEST) / log(STEP)) + 1)]
    glanced = sorted((_cost(keys[:GLANCE], tempo, metre), tempo) for tempo in tempi)
    likely: list[float] = []
    for _, tempo in glanced:
        if all(abs(log(tempo / other)) > 0.06 for other in likely):
            likely.append(tempo)
    close = [near * fine for near in likely[:LIKELY] for fine in (0.986, 1.0, 1.014)]
    _, tempo = min((_cost(keys[:LISTENED], tempo, metre), tempo) for tempo in close)
    return BeatMap.steady(tempo, keys[0].on)


def _cost(keys: Sequence[KeyPress], tempo: float, metre: Metre) -> float:
    liked = 0.5 * (log(tempo / PREFERRED) / SPREAD) ** 2
    return cost_of(keys, BeatMap.steady(tempo, keys[0].on), metre) + 4 * liked
