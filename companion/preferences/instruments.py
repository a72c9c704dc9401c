"""``instruments.toml``: how the companion reaches the instrument."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from msgspec import Meta

from companion.messages import PARTS, Part
from companion.preferences.reading import config
from companion.preferences.services import Service
from companion.preferences.structure import Others
from companion.preferences.units import Channel, Controller, MidiNumber, Milliseconds, Program, Seconds


@dataclass(frozen=True, eq=False)
class Channels:
    """By part."""

    of: Annotated[Mapping[Part, Channel], Others(only=PARTS, needed=True)]


@dataclass(frozen=True, eq=False)
class Programs:
    """By part; a part that isn't named keeps the sound that the instrument has."""

    of: Annotated[Mapping[Part, Program], Others(only=PARTS)]


@dataclass(frozen=True, kw_only=True)
class Piano:
    """The instrument that the player plays sounds the companion's parts as well."""

    latency_ms: Milliseconds
    """From the message to the sound."""
    channels: Channels
    programs: Programs


@dataclass(frozen=True, kw_only=True)
class Module(Piano):
    """Another instrument sounds them."""

    through: bool
    """Whether what the player plays is sounded there too."""


@dataclass(frozen=True, kw_only=True)
class Computer(Module):
    """The computer sounds them, by FluidSynth."""

    soundfont: str
    driver: str
    gain: Annotated[float, Meta(ge=0, le=10)]
    period_frames: Annotated[int, Meta(ge=16, le=8192)]
    periods: Annotated[int, Meta(ge=2, le=64)]
    options: tuple[Annotated[str, Meta(pattern="=", description="name=value")], ...]


@config("instruments")
@dataclass(frozen=True)
class InstrumentPreferences:
    """Everything in the file."""

    midi: Service
    input: str = field(metadata={"key": "in"})
    """Part of the port's name; "": the first instrument there is."""
    output: str = field(metadata={"key": "out"})
    computer: bool
    """Whether the computer sounds the companion's parts, and no port."""
    listen: tuple[Channel, ...]
    """Channels that are the player's; none: all but the drum channel."""
    lowest_key: MidiNumber
    highest_key: MidiNumber
    pedals: tuple[Controller, ...]
    """Controllers that its pedals send; none: not known."""
    half_pedal: bool
    """Whether the damper pedal sends what lies between up and down."""
    echo_window_ms: Milliseconds
    give_up_after_s: Seconds
    piano: Piano
    module: Module
    synth: Computer

    def __post_init__(self) -> None:
        if self.lowest_key >= self.highest_key:
            raise ValueError("lowest-key lies below highest-key")
