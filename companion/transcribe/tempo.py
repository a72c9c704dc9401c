"""The beats of a recording that has no tempo of its own.

Method: every tempo that a player may have is tried on the beginning, the first note on a beat; the one in which the
playing is least rare (:mod:`companion.transcribe.quantise`) is taken, tempi that people prefer before others (a
preferred tempo near 120 a minute: Parncutt, A Perceptual Model of Pulse Salience, Music Perception 11(4), 1994, from
memory).

Conventions: seconds; tempo in quarters a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, log

from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.transcribe.quantise import BEAM, cost_of

SLOWEST, FASTEST, STEP = 40.0, 270.0, 1.05
PREFERRED, SPREAD = 125.0, 0.6
"""Preferred tempo in quarters a minute, and the standard deviation of its logarithm."""
GLANCE, LISTENED = 18, 48
"""Notes from the beginning that are tried at every tempo, and at the likely ones."""
GLANCING = 16
"""Readings kept at each of those that are only tried."""
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
    glanced: list[tuple[float, float]] = []
    for tempo in sorted(tempi, key=_rarity):
        so_far = _likely(glanced)
        most = so_far[-1][0] if len(so_far) == LIKELY else inf
        glanced.append((_cost(keys[:GLANCE], tempo, metre, most, GLANCING), tempo))
    best, found = inf, PREFERRED
    for _, near in _likely(glanced):
        for tempo in (near, near * 0.986, near * 1.014):
            cost = _cost(keys[:LISTENED], tempo, metre, best)
            if cost < best:
                best, found = cost, tempo
    return BeatMap.steady(found, keys[0].on)


def _likely(glanced: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The best costs with their tempi, none of them near a better one."""
    likely: list[tuple[float, float]] = []
    for cost, tempo in sorted(glanced):
        if all(abs(log(tempo / other)) > 0.06 for _, other in likely):
            likely.append((cost, tempo))
    return likely[:LIKELY]


def _rarity(tempo: float) -> float:
    """What a tempo costs by itself."""
    return 2.0 * (log(tempo / PREFERRED) / SPREAD) ** 2


def _cost(keys: Sequence[KeyPress], tempo: float, metre: Metre, most: float, beam: int = BEAM) -> float:
    rare = _rarity(tempo)
    return cost_of(keys, BeatMap.steady(tempo, keys[0].on), metre, most=most - rare, beam=beam) + rare
