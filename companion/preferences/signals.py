"""``signals.toml``: how the player tells the companion something without touching the computer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.messages import WISHES, WishName
from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import Controller, MidiNumber, Milliseconds, Program, Semitones, Share, Velocity

DAMPER = 64
"""The damper pedal's controller (MIDI 1.0)."""
PIANO_PEDALS = {DAMPER: "damper", 66: "sostenuto", 67: "soft"}
"""A piano's pedals by controller (MIDI 1.0)."""


@dataclass(frozen=True)
class EndKeys:
    """Keys at the ends of the keyboard."""

    on: bool
    white: tuple[WishName, ...]
    """From the end inwards."""
    black: tuple[WishName, ...]
    """The two nearest to the end, the left one first."""
    room: Semitones
    """Beyond what the player plays, that isn't taken."""

    def __post_init__(self) -> None:
        if len(set(self.white + self.black)) < len(self.white + self.black):
            raise ValueError("white and black name each no more than once")
        if len(self.black) > 2:
            raise ValueError("black names two at most")


@dataclass(frozen=True)
class Press:
    """What is a press of a key that tells something."""

    alone_ms: Milliseconds
    """After it, without another near it."""
    run_ms: Milliseconds
    """Before it, without the player's playing near it."""
    near: Semitones
    brushed: Share
    """Of the velocity of a key, that another one has which was struck with it by mistake."""
    lightest: Velocity
    once_ms: Annotated[float, Meta(ge=0, le=10000, description="milliseconds")]
    """Within which the same again is the same once."""
    step_ms: Annotated[float, Meta(ge=0, le=10000, description="milliseconds")]
    """The same for faster and slower."""


@dataclass(frozen=True)
class LastTime:
    """What tells the last time though it is for playing, too."""

    pedal: Controller
    """0: none."""


@dataclass(frozen=True)
class TempoChange:
    """How much faster and slower are."""

    step: Annotated[float, Meta(gt=0, le=0.5, description="a share of the tempo")]


@dataclass(frozen=True)
class TaughtPress:
    """A key, a pedal or a switch of the player's own choice."""

    key: MidiNumber | None = None
    controller: Controller | None = None
    program: Program | None = None

    def __post_init__(self) -> None:
        if sum(one is not None for one in (self.key, self.controller, self.program)) != 1:
            raise ValueError("say one of key, controller and program")
        if self.controller == DAMPER:
            raise ValueError("controller 64 is the damper pedal, which is for playing")

    def as_written(self) -> dict[str, int]:
        """As it stands in the file."""
        given = {"key": self.key, "controller": self.controller, "program": self.program}
        return {name: value for name, value in given.items() if value is not None}


@dataclass(frozen=True, eq=False)
class Taught:
    """By what is wished."""

    of: Annotated[Mapping[WishName, TaughtPress], Others(only=WISHES)]

    def __post_init__(self) -> None:
        for wish, press in self.of.items():
            if twin := next((other for other in self.of if other != wish and self.of[other] == press), None):
                raise ValueError(f"'{wish}' and '{twin}' are told by the same")


@config("signals")
@dataclass(frozen=True)
class SignalPreferences:
    """Everything in the file."""

    end_keys: EndKeys
    press: Press
    last_time: LastTime
    tempo: TempoChange
    taught: Taught
