"""Where the beats are in a recording that says nothing of them.

Conventions: seconds; tempo in quarters a minute. Every tempo that a player may have is tried on the beginning, the
first note on a beat; the one in which the playing is least rare (:mod:`companion.chart.quantise`) is taken, tempi that
people like before others (a preferred tempo near 120 a minute: Parncutt, A Perceptual Model of Pulse Salience, Music
Perception 11(4), 1994, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import log

from companion.chart.playing import BeatMap, Key
from companion.chart.quantise import cost_of
from companion.music.meter import Metre

SLOWEST, FASTEST, STEP = 50.0, 260.0, 1.015
PREFERRED, SPREAD = 125.0, 0.45
"""Tempo that people like best, and the standard deviation of its logarithm."""
LISTENED = 48
"""Notes of the beginning that are listened to."""
LIKELY = 4
"""Tempi that are looked at closely."""


def find_beats(keys: Sequence[Key], metre: Metre | None = None) -> BeatMap:
    """The beats of a recording, its first note on a beat 0.

    Parameters
    ----------
    keys : sequence of Key
        One voice, in order of onset; none empty.
    metre : Metre, optional
    """
    metre = metre or Metre()
    opening = list(keys[:LISTENED])
    if len(opening) < 4:
        return BeatMap.steady(120.0, opening[0].on if opening else 0.0)
    tried = []
    tempo = SLOWEST
    while tempo < FASTEST:
        tried.append((_roughly(opening, tempo) + _liked(tempo), tempo))
        tempo *= STEP
    likely: list[float] = []
    for _, tempo in sorted(tried):
        if all(abs(log(tempo / other)) > 0.05 for other in likely):
            likely.append(tempo)
        if len(likely) == LIKELY:
            break
    start = opening[0].on
    best = min(
        (cost_of(opening, BeatMap.steady(tempo, start), metre) + _liked(tempo), tempo)
        for near in likely
        for tempo in (near / 1.01, near, near * 1.01)
    )
    return BeatMap.steady(best[1], start)


def _liked(tempo: float) -> float:
    return 2.0 * (log(tempo / PREFERRED) / SPREAD) ** 2


def _roughly(keys: Sequence[Key], tempo: float) -> float:
    """How badly the times from note to note fit whole and half beats."""
    beat = 60.0 / tempo
    cost = 0.0
    for one, after in pairwise(keys):
        share = (after.on - one.on) / beat
        places = ((0.0, 0.0), (0.5, 0.8), (0.66, 1.0), (0.34, 1.0), (0.25, 2.5), (0.75, 2.5))
        fits = (0.5 * (((share - place + 0.5) % 1.0 - 0.5) * beat / 0.03) ** 2 + more for place, more in places)
        cost += min(6.0, *fits) + 0.15 * share
    return cost * LISTENED / len(keys)
