"""How late the companion's messages were: kept with a take, for whoever wants to know what their system does.

Conventions: milliseconds after the moment at which a message was due.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

ENOUGH = 20
"""Returned notes from which their lateness is told."""


@dataclass(frozen=True)
class SendingFigures:
    """Distributions, of all the messages of a playing."""

    sent: int
    median_ms: float
    p99_ms: float
    """As they left."""
    returned: int = 0
    """Notes that the instrument sent back."""
    returned_median_ms: float = 0.0
    returned_p99_ms: float = 0.0

    @classmethod
    def of(cls, left: Mapping[str, Any], returned: Mapping[str, Any]) -> SendingFigures | None:
        """From what the sender says at its end, and what is known of the notes that came back; None of no message."""
        if not left.get("sent"):
            return None
        back = (returned["median_ms"], returned["p99_ms"]) if returned.get("count") else (0.0, 0.0)
        return cls(left["sent"], left["median_ms"], left["p99_ms"], returned.get("count", 0), *back)

    def __str__(self) -> str:
        median, p99 = f"{self.median_ms:.2f} ms late at the median", f"{self.p99_ms:.2f} ms at the 99th percentile"
        if self.returned < ENOUGH:
            return f"sent {median}, {p99}; what the system and the instrument add isn't seen from here"
        back = f"{self.returned_median_ms:.1f} ms after their moment at the median"
        p99_back = f"{self.returned_p99_ms:.1f} ms at the 99th percentile"
        return f"sent {median}, {p99}; back from the instrument {back}, {p99_back}"
