"""``touch.toml``: how each of the companion's parts is struck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.messages import PARTS, Part
from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import Factor, Milliseconds, Quarters, Share, SomeBars, Tempo, Velocity


@dataclass(frozen=True)
class TouchTiming:
    """How a part's notes lie about their places."""

    spread_ms: Milliseconds = 0.0
    """Standard deviation."""
    most_ms: Milliseconds = 0.0
    """That any note lies from its place, all told."""
    memory: tuple[Quarters, ...] = ()
    """Half-lives of what the spread is made of, in equal shares; without any it has no memory."""
    behind_ms: Milliseconds = 0.0
    """That notes on the beat lie behind it."""
    fingers_ms: Milliseconds = 0.0
    """From the first to the last note of a chord, the top note first."""


@dataclass(frozen=True)
class TouchLoudness:
    """By what shares of its level a part's notes are firmer or softer."""

    spread: Share = 0.0
    """Standard deviation; it has the memory of the timing."""
    top: Share = 0.0
    """That the top note of a chord is firmer."""
    inner: Share = 0.0
    """That the others are softer."""
    peak: Share = 0.0
    """That the highest note of a phrase is firmer, and its ends are softer."""
    syncopation: Share = 0.0
    """That a note between the beats is firmer when none follows on the beat."""
    swell: Share = 0.0
    """That the height of a swell is firmer, and its ends are softer."""


@dataclass(frozen=True)
class TouchLengths:
    """By what factors notes last longer or shorter than the part's usual share of what is written."""

    step: Factor = 1.0
    """Where the next note follows at once, by a step."""
    leap: Factor = 1.0
    """Where it follows at once, more than a fifth away."""
    again: Factor = 1.0
    """Where the same follows at once."""
    short: Factor = 1.0
    """A note of half a beat or less between the beats, with a rest after it."""
    last: Factor = 1.0
    """Any other note before a rest that ends a phrase."""
    spread: Share = 0.0
    """To either side at the most."""


@dataclass(frozen=True)
class PartTouch:
    """How one part is struck."""

    level: Velocity
    """While the player plays at 64."""
    follows: Share
    """How much of the player's difference from 64 the part takes over."""
    length: Factor
    """Of the written length that sounds; 1 is legato."""
    swing: Annotated[tuple[tuple[Tempo, Factor], ...], Meta(min_length=1)] = ((120.0, 1.0),)
    """Tempo, and how much of the feel's swing the part takes over, from slow to fast."""
    timing: TouchTiming = TouchTiming()
    loudness: TouchLoudness = TouchLoudness()
    lengths: TouchLengths = TouchLengths()

    def __post_init__(self) -> None:
        if list(self.swing) != sorted(self.swing):
            raise ValueError("swing holds pairs of tempo and share, from slow to fast")


@dataclass(frozen=True)
class TouchPhrases:
    """What belongs together."""

    rest: Quarters
    """That ends a phrase."""
    swell: SomeBars
    """From one swell to the next."""
    height: Share
    """Of a swell, where it is at its height."""


@dataclass(frozen=True)
class TouchLive:
    """What is different at the piano, where nothing may come before the beat that it belongs to is decided."""

    latest_ms: Annotated[float, Meta(ge=0, le=50, description="milliseconds, 50 at the most")]
    """That a note lies behind its place."""


@config("touch")
@dataclass(frozen=True, eq=False)
class TouchPreferences:
    """How the parts are struck."""

    phrases: TouchPhrases
    live: TouchLive
    parts: Annotated[Mapping[Part, PartTouch], Others(only=PARTS, needed=True)]
