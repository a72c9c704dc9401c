"""``turning.toml``: an ending turned the other way when its section comes again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Count, Price, Quarters, Semitones, SomeBars


@dataclass(frozen=True)
class TurnedPhrase:
    """What is turned: the last phrase, from a breath on."""

    notes: Count
    """It has so many at least; with fewer it reaches back to the breath before ..."""
    bars: SomeBars
    """... within so many, or else is all that is in them."""
    fewest: Count
    """With fewer there is nothing to turn."""
    least_bars: Annotated[float, Meta(ge=0, le=16, description="bars")]
    """It has so many at least, its last note's included."""
    breath: Quarters
    """Of silence after which a phrase begins."""
    long: Quarters
    """A note after which one begins."""
    rest: Quarters
    """Of silence that part the pickup to the next section from the ending."""


@dataclass(frozen=True)
class Reach:
    """How far a note may move."""

    farthest: Semitones
    """From the line between the first note and the last."""
    around: Semitones
    """About the mirrored note, among which one is chosen."""
    beyond: Semitones
    """Outside the range of the melody."""


@dataclass(frozen=True)
class Prices:
    """In semitones away from the mirrored note."""

    wrong: Price
    """A note outside the scale."""
    no_chord_tone: Price
    """On a strong beat."""
    rubs: Price
    """A long note that the chord avoids."""
    again: Price
    """The same note twice, where the line moved."""
    same_way: Price
    """A step the same way as in the melody."""
    unchanged: Price
    """A note as it was."""
    astray: Price
    """Each semitone beyond a step into the last note."""
    leap: Price
    """Each semitone beyond a fourth."""
    wide: Price
    """A tritone, or more than a sixth."""


@config("turning")
@dataclass(frozen=True, eq=False)
class TurningPreferences:
    """How an ending is turned."""

    phrase: TurnedPhrase
    reach: Reach
    prices: Prices
