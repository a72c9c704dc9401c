"""The distribution of how late messages were sent, in memory that doesn't grow with the number of messages.

Conventions: seconds go in, milliseconds come out; late is positive.
"""

from __future__ import annotations

from collections import Counter

FINEST = 1e-6
"""Seconds that are told apart."""


class Lateness:
    """A tally of how late each of many was."""

    def __init__(self) -> None:
        self._counts: Counter[int] = Counter()

    def add(self, seconds: float) -> None:
        """Count one that was so late."""
        self._counts[round(seconds / FINEST)] += 1

    def figures(self) -> dict[str, float]:
        """How many there were, median, 99th percentile and worst.

        Returns
        -------
        dict
            'count', and unless that is 0 'median_ms', 'p99_ms' and 'worst_ms'.

        Examples
        --------
        >>> late = Lateness()
        >>> for milliseconds in (1, 2, 3, 40):
        ...     late.add(milliseconds / 1000)
        >>> late.figures()
        {'count': 4, 'median_ms': 2.0, 'p99_ms': 3.0, 'worst_ms': 40.0}
        """
        total = self._counts.total()
        if not total:
            return {"count": 0}
        last = total - 1
        ranks = {"median_ms": last // 2, "p99_ms": int(last * 0.99), "worst_ms": last}
        return {"count": total, **{name: round(1000 * FINEST * self._at(rank), 3) for name, rank in ranks.items()}}

    def _at(self, rank: int) -> int:
        """The value with so many before it, in order."""
        for value in sorted(self._counts):
            rank -= self._counts[value]
            if rank < 0:
                return value
        raise IndexError(rank)
