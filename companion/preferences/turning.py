"""``turning.toml``: an ending turned the other way when its section comes again."""

from __future__ import annotations

from dataclasses import dataclass

from companion.preferences.reading import config
from companion.preferences.units import Count, Price, Quarters, Semitones, SomeBars


@dataclass(frozen=True)
class TurnedPhrase:
    """What is turned."""

    notes: Count
    """It reaches back over as many bars as it takes to have so many ..."""
    bars: SomeBars
    """... up to so many."""
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
