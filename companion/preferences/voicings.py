"""``voicings.toml``: with which notes a chord is played, where it may lie, and what moving the hand costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import MidiNumber, Price, Quarters, Semitones, Share

QUALITIES = (
    "maj7", "6", "maj", "m7", "m6", "m", "mmaj7", "7", "7alt", "7sus", "sus", "m7b5", "dim7", "aug", "power",
)  # fmt: skip
"""Kinds of chord for which a family may have forms."""
DEGREES = r"^ *(\| *)?((bb|b|##|#|x)?(1[0-3]|[1-9])( +| *\| *|$))+$"


@dataclass(frozen=True, eq=False)
class Register:
    """Where a chord may lie, in MIDI numbers."""

    lowest: MidiNumber
    """Of its lowest note."""
    lowest_at_most: MidiNumber
    highest: MidiNumber
    """Of its highest note."""
    centre: tuple[MidiNumber, MidiNumber]
    """Between these a chord sounds clear ..."""
    outside: Price
    """... and so much is a semitone beyond them."""

    def __post_init__(self) -> None:
        if not (self.lowest <= self.lowest_at_most <= self.highest and self.centre[0] <= self.centre[1]):
            raise ValueError("lowest, lowest-at-most and highest, and the two of centre, go from low to high")


@dataclass(frozen=True)
class HandLimits:
    """What a hand holds."""

    span: Semitones
    notes: Annotated[int, Meta(ge=1, le=5, description="notes, one a finger")]


@dataclass(frozen=True, eq=False)
class VoicingCosts:
    """What a row of voicings dislikes."""

    move: Price
    """A semitone, a voice, from chord to chord."""
    jump: Price
    """Besides, each semitone beyond a second."""
    same_chord: Share
    """Of the prices of movement, paid over one chord."""
    parallel: Share
    """Of these prices, that fourths and open voicings pay on one chord ..."""
    parallel_on: Share
    """... and on the way to another."""
    size: Price
    """A note more or fewer than before."""
    family: Price
    """A family later in the treatment's list."""
    thin: Price
    """A chord thinned to three notes."""
    thinner: Price
    """To third and seventh."""
    unlike: Price
    """Besides, where the family is another than rootless."""
    near_melody: Price
    """The top note within a tone of the melody."""
    above_next: Price
    """Each semitone above the melody note to come, four at most."""
    out_of_reach: Price
    """Too far below the melody for one hand to hold both."""
    landing: Share
    """Of the prices of movement, that an arrival pays to which fourths slide."""
    astray: Price
    """Fourths in the melody's place that don't land on its note ..."""
    astray_semitone: Price
    """... and each semitone of octave from it."""
    again_after: Quarters
    """Before that, a voicing struck twice is one gesture."""
    again: Price
    """The very same voicing again, on one chord ..."""
    again_parallel: Price
    """... in fourths or open voicings."""
    temperature: Annotated[float, Meta(ge=0, le=100, description="a price drawn at random, at most")]


@dataclass(frozen=True, eq=False)
class Family:
    """Forms by the kind of chord, each by its name: degrees from the lowest note up."""

    forms: Annotated[
        Mapping[str, Mapping[str, Annotated[str, Meta(pattern=DEGREES, description='degrees such as "3 5 7 9"')]]],
        Others(only=QUALITIES),
    ]


@config("voicings")
@dataclass(frozen=True, eq=False)
class VoicingPreferences:
    """How chords are voiced."""

    register: Register
    register_of_two_hands: Register
    register_of_the_melody: Register
    hand: HandLimits
    low_limits: Mapping[Semitones, MidiNumber]
    """By interval: the lowest MIDI number of the lower of two neighbours."""
    costs: VoicingCosts
    three: Family
    """Where there is no room for four notes."""
    two: Family
    others: Annotated[Mapping[str, Family], Others()]

    @property
    def families(self) -> Mapping[str, Family]:
        """The families by name, those of fewer notes among them."""
        return {"three": self.three, "two": self.two, **self.others}
