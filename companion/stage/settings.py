"""The settings of a rehearsal: who plays what, how the time is kept, tempo and choruses.

Conventions: tempo in quarters a minute; seconds on the rehearsal's clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from companion.arrange.chords.comping_style import CompingStyle
from companion.follow.shape import TempoShape
from companion.messages import Part

Time = Literal["follow", "steady", "patient"]
"""follow: goes with the player; steady: keeps the tempo; patient: waits before a beat the player hasn't reached."""
TIMES: tuple[Time, ...] = get_args(Time)

PlayOrder = Literal["form", "open", "chart"]
"""form: round and round; open: round and round until the player tells the last time; chart: its order of events."""
ORDERS: tuple[PlayOrder, ...] = get_args(PlayOrder)


@dataclass(frozen=True)
class Settings:
    """Who plays what, and how."""

    you: frozenset[Part] = frozenset({"melody"})
    """Parts that the player plays."""
    parts: tuple[Part, ...] = ("chords", "bass")
    """Parts that the companion plays."""
    time: Time = "follow"
    treatment: str | None = None
    """One treatment for the whole form, instead of the chart's own."""
    tempo: float | None = None
    start: float | None = None
    """The moment of chart beat 0, when the player is counted in."""
    choruses: int | None = None
    order: PlayOrder = "form"
    """Whether the chart's order of events is played, and whether the player can tell the last time."""
    trade: int = 0
    """Bars of a turn where player and companion improvise in turn, at most the form's; 0: they don't."""
    latency: float = 0.010
    """Seconds from an order to its sound."""
    seed: int = 0
    count_in: int = 0
    """Bars that the companion clicks before the start."""
    click: str = "all"
    """Where 'click' is among the parts, on which beats it sounds (:mod:`companion.stage.clicks`)."""
    whole_bars: int = 0
    """Bars from the start that are clicked whole, before that pattern begins."""
    divide: int = 1
    """Parts of a beat that are clicked."""
    trace: bool = False
    """Whether every event is followed by a report of the belief."""
    shape: TempoShape | None = None
    """How the player shaped the tune in earlier takes, where they are followed by that."""
    style: CompingStyle | None = None
    """How the player comps, where the companion's chords are to be like theirs."""
