"""``by-ear.toml``: how a tune is learnt by ear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Count, Share

SomeVelocity = Annotated[int, Meta(ge=1, le=127, description="a velocity")]


@dataclass(frozen=True)
class TempoRules:
    """Shares of the tempo."""

    slower: Share
    """Left after an answer that went wrong."""
    slowest: Share
    """Left at least, of the first."""

    def __post_init__(self) -> None:
        if self.slower <= 0 or self.slowest <= 0:
            raise ValueError("slower and slowest are shares above 0")


@dataclass(frozen=True)
class AnswerRules:
    """When an answer is over, and when it is right."""

    tries: Annotated[int, Meta(ge=1, le=100, description="answers")]
    """To one question, before it goes on to the next."""
    silence: Annotated[float, Meta(ge=0.25, le=16, description="bars")]
    """After which an answer is over."""
    enough: Annotated[float, Meta(ge=0.1, le=16, description="bars")]
    """The same once as many notes were played as were asked for."""
    extra: Count
    """Notes that may be too many in a right answer."""


@dataclass(frozen=True)
class Sound:
    """How a question sounds."""

    melody: SomeVelocity
    roots: SomeVelocity
    click: SomeVelocity
    lowest_root: Annotated[int, Meta(ge=0, le=115, description="a MIDI number")]
    """The roots lie in the octave above it."""


@config("by-ear")
@dataclass(frozen=True)
class ByEarPreferences:
    """How a tune is learnt by ear."""

    tempo: TempoRules
    answer: AnswerRules
    sound: Sound
