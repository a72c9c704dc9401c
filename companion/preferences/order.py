"""``order.toml``: what introductions are made of, and how a tune is ended."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Bars, Quarters, Share, SomeBars, SomeNotes


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
class TuneMotif:
    """What of the tune introductions and endings are made of: its first notes."""

    bars: SomeBars
    notes: SomeNotes
    rest: Quarters
    """From one note to the next, after which it is over, once it has three notes and a downbeat."""
    lifts: Annotated[tuple[Annotated[int, Meta(ge=-12, le=12, description="semitones")], ...], Meta(min_length=1)]
    """Semitones, about, by which it begins higher each time that it comes over a vamp or a pedal."""


@config("order")
@dataclass(frozen=True)
class OrderPreferences:
    """The order of events."""

    motif: TuneMotif
    ritardando: RitardandoWay
