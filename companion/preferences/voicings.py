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
    with_melody: Share
    """Of these prices, where the hand comes from a held note of the melody or goes to one."""
    parallel: Share
    """Of these prices, that fourths and open voicings pay on one chord ..."""
    parallel_on: Share
    """... and on the way to another."""
    size: Price
    """A note more or fewer than before."""
    family: Price
    """A family later in the treatment's list."""
    inversion: Price
    """A rootless chord in another inversion than on its third or seventh."""
    thin: Price
    """A chord thinned to three notes ..."""
    thinner: Price
    """... and to two, where the hand is free."""
    full_under_melody: Price
    """A rootless chord of four notes while the hand holds a note of the melody ..."""
    thin_under_melody: Price
    """... of three ..."""
    thinner_under_melody: Price
    """... and of two."""
    unlike: Price
    """Besides, where the family is another than rootless."""
    near_melody: Price
    """The top note within a tone of the melody."""
    above_next: Price
    """Each semitone above the melody note to come, four at most."""
    let_go: Price
    """Too far below the melody's note for one hand to hold both: the hand lets go of it."""
    leap: Price
    """Each semitone that the hand has to leap, beyond its span, from the melody's last note or to its next."""
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
    again_on: Price
    """... on another chord."""
    temperature: Annotated[float, Meta(ge=0, le=100, description="a price drawn at random, at most")]


@dataclass(frozen=True, eq=False)
class TopVoiceCosts:
    """What the line of the top notes dislikes."""

    still: Price
    """It stands still as the chord changes ..."""
    still_on_one_chord: Price
    """... on one chord ..."""
    still_again: Price
    """... and, besides, for the second time running."""
    under_a_peak: Share
    """Of these, while the melody has the highest note around."""
    third: Price
    """A move by a third ..."""
    leap: Price
    """... by a fourth, and each semitone more."""
    along: Price
    """It moves the way the melody has moved since the last chord."""
    turn: Price
    """It turns round, but where the melody rests."""
    peak: Quarters
    """Before and after, within which a melody note is the highest."""


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
    register_under_the_melody: Register
    register_of_two_hands: Register
    register_of_the_melody: Register
    hand: HandLimits
    low_limits: Mapping[Semitones, MidiNumber]
    """By interval: the lowest MIDI number of the lower of two neighbours."""
    costs: VoicingCosts
    top_voice: TopVoiceCosts
    inversions: Family
    """Rootless chords that stand on another note than third or seventh."""
    three: Family
    """Where there is no room for four notes."""
    two: Family
    others: Annotated[Mapping[str, Family], Others()]

    @property
    def families(self) -> Mapping[str, Family]:
        """The families by name, those of fewer notes among them."""
        return {"inversions": self.inversions, "three": self.three, "two": self.two, **self.others}
