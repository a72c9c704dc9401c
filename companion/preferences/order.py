"""``order.toml``: how a tune is brought to its end, and how the player tells the last time at the keyboard."""

from __future__ import annotations

from dataclasses import dataclass

from companion.preferences.reading import config
from companion.preferences.units import Bars, Controller, MidiNumber, Share


@dataclass(frozen=True)
class RitardandoBars:
    """Bars before the last chord at which the companion slows down, by the way the ending is made."""

    held: Bars
    tag: Bars
    vamp: Bars
    ritardando: Bars
    turnaround: Bars
    deceptive: Bars

    def of(self, how: str | None) -> int:
        """The bars for an ending made that way; a last chord that is just held for one made in no way of its own."""
        ways = {
            "held": self.held,
            "tag": self.tag,
            "vamp": self.vamp,
            "ritardando": self.ritardando,
            "turnaround": self.turnaround,
            "deceptive": self.deceptive,
        }
        return ways.get(how or "held", 0)


@dataclass(frozen=True)
class RitardandoWay:
    """A ritardando of the companion's own."""

    to: Share
    """Tempo at the end against what it was before."""
    bars: RitardandoBars

    def __post_init__(self) -> None:
        if self.to <= 0:
            raise ValueError("to is a share above 0: nobody slows down to nothing")


@dataclass(frozen=True)
class LastTime:
    """What tells the last time; 0: nothing does."""

    pedal: Controller
    key: MidiNumber


@config("order")
@dataclass(frozen=True)
class OrderPreferences:
    """The order of events."""

    ritardando: RitardandoWay
    last_time: LastTime
