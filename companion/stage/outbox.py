"""The orders and reports that have come up since an object was last asked, handed out as one step."""

from __future__ import annotations

from dataclasses import dataclass, field

from companion.messages import Order, Report, Step


@dataclass
class Outbox:
    """Orders and reports as they come, until they are taken."""

    orders: list[Order] = field(default_factory=list)
    reports: list[Report] = field(default_factory=list)

    def step(self, wake: float | None) -> Step:
        """Take everything; ``wake`` is when to call next, in seconds, or None."""
        step = Step(tuple(self.orders), tuple(self.reports), wake)
        self.orders, self.reports = [], []
        return step
