"""Bars in which the notes scatter about the beat far more than this player's usually do.

Limits: of ``n`` notes of a bar the squares of their deviations, in shares of the usual variance (from the median
absolute deviation over the take, and no less than a good player's 8 ms), add up to chi squared with ``n`` degrees of
freedom; a bar is told where the sum lies ``sure`` standard deviations and more above its mean, half as many again for
the distribution's long tail. A single note far off is a slip: two notes at least must be off, to both sides.

Conventions: milliseconds.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from companion.practice.swing_played import NORMAL

LEAST, TAKE_LEAST = 4, 24
"""Notes of a bar, and of a take, from which something is said."""
TOUCH = 8.0
"""Milliseconds: a good player's notes scatter so much."""
TAIL = 1.5
FAR = 1.5
"""Times the usual spread by which a note is off."""


def usual_spread(deviations: Sequence[float]) -> float:
    """How far a player's notes lie from their beat, as a standard deviation."""
    return max(NORMAL * statistics.median(abs(off) for off in deviations), TOUCH) if deviations else TOUCH


def is_unsteady(deviations: Sequence[float], usual: float, sure: float, least: float) -> float | None:
    """The spread of a bar, where it is unsteady.

    Parameters
    ----------
    deviations : sequence of float
        Of the bar's notes.
    usual : float
        As of :func:`usual_spread`.
    sure : float
        Standard deviations.
    least : float
        Milliseconds of spread below which nothing is said.
    """
    many = len(deviations)
    if many < LEAST:
        return None
    late, early = sum(off > FAR * usual for off in deviations), sum(off < -FAR * usual for off in deviations)
    spread = statistics.pstdev(deviations)
    total = sum(off**2 for off in deviations) / usual**2
    told = total >= many + TAIL * sure * math.sqrt(2 * many)
    return spread if told and late and early and spread >= least else None
