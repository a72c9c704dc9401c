"""How a take swings: the ratio that is played, bar by bar, and stretches in which it is another.

What is taken for another ratio lies outside what this player shows elsewhere in the take: how far off-beat quavers
differ from one another within bars, and how far bars differ (both as medians of absolute deviations, which some bars of
another ratio don't move), give the standard error of a stretch; ``sure`` of them must it be off, and as far as a
listener would care for (``review.toml``).

Conventions: places of off-beat quavers as shares of a quarter from the beat before; a ratio is that of the long quaver
to the short one.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

LEAST = 4
"""Off-beat quavers in a stretch of which something is said, and elsewhere in the take."""
OWN_LEAST, BARS_LEAST = 0.008, 0.02
"""Seconds, and quarters: standard deviations of quavers within a bar and of bars, which nobody goes below."""
ALIKE, ALIKE_LEAST = 2.0, 0.04
"""How many times as far as usual the quavers of a stretch may lie from one another, and quarters, to be swung alike."""
NORMAL = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""
LONGEST = 16
"""Bars of a stretch."""


@dataclass(frozen=True)
class OffBeat:
    """An off-beat quaver."""

    bar: int
    """Counted on through the take."""
    place: float


@dataclass(frozen=True)
class OtherSwing:
    """Bars that swing otherwise than the rest."""

    first: int
    last: int
    place: float
    usual: float


def ratio_of(place: float) -> float:
    """The ratio of an off-beat quaver's place.

    >>> round(ratio_of(0.6), 2)
    1.5
    """
    place = min(max(place, 0.2), 0.85)
    return place / (1 - place)


def other_swing(quavers: Sequence[OffBeat], quarter: float, sure: float, least: float) -> list[OtherSwing]:
    """Stretches that swing otherwise than the rest of a take.

    Parameters
    ----------
    quavers : sequence of OffBeat
        In order.
    quarter : float
        Seconds.
    sure : float
        Standard errors.
    least : float
        Quarters by which their quavers lie elsewhere.
    """
    found: list[OtherSwing] = []
    left = list(quavers)
    while len(left) >= 2 * LEAST:
        usual, own, between = _usual(left, quarter)
        best: tuple[float, OtherSwing] | None = None
        bars = sorted({one.bar for one in left})
        for n, first in enumerate(bars):
            inside: list[float] = []
            for count, last in enumerate(bars[n : n + LONGEST], 1):
                inside += [one.place - usual for one in left if one.bar == last]
                if last - first >= LONGEST or len(inside) < LEAST or len(left) - len(inside) < LEAST:
                    continue
                off = statistics.fmean(inside)
                error = math.sqrt(own**2 / len(inside) + between**2 / count)
                told = len(inside) * off**2
                scatter = NORMAL * statistics.median(abs(one - off) for one in inside)
                if scatter > max(ALIKE * own, ALIKE_LEAST):
                    continue  # they are phrased, each in its own way
                if abs(off) >= max(least, sure * error) and (best is None or told > best[0]):
                    best = told, OtherSwing(first, last, usual + off, usual)
        if best is None:
            break
        found.append(best[1])
        left = [one for one in left if not best[1].first <= one.bar <= best[1].last]
    return sorted(found, key=lambda one: one.first)


def _usual(quavers: Sequence[OffBeat], quarter: float) -> tuple[float, float, float]:
    """The usual place, and standard deviations within bars and between bars."""
    usual = statistics.median(one.place for one in quavers)
    bars: dict[int, list[float]] = {}
    for one in quavers:
        bars.setdefault(one.bar, []).append(one.place)
    within = [abs(place - statistics.median(bar)) for bar in bars.values() if len(bar) > 2 for place in bar]
    middles = [abs(statistics.median(bar) - usual) for bar in bars.values()]
    own = NORMAL * statistics.median(within) if len(within) >= 2 * LEAST else 0.0
    between = NORMAL * statistics.median(middles) if len(middles) >= LEAST else 0.0
    own = max(own, OWN_LEAST / quarter)
    # Bars differ by the touch of their quavers already: only what is more than that is theirs.
    many = statistics.median(len(bar) for bar in bars.values())
    return usual, own, max(math.sqrt(max(between**2 - own**2 / many, 0.0)), BARS_LEAST)
