"""What the player process at the piano is started with.

Conventions: tempo in quarters a minute; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

import msgspec

from companion.messages import Part
from companion.page.how import How


class DrillAsked(msgspec.Struct, frozen=True):
    """How a drill is to go; whatever is None is as its kind has it."""

    kind: str = "usual"
    start: float | None = None
    goal: float | None = None
    minutes: float | None = None


class PianoWords(msgspec.Struct, frozen=True):
    """What it is started with."""

    chart: str
    """A file."""
    number: int
    you: tuple[Part, ...]
    how: How = How()
    drill: DrillAsked | None = None
    """None: the tune is played."""
