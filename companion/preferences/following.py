"""``following.toml``: what the companion expects of a player whom it follows, and how it goes along with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import PLACE, Beats, Count, Factor, Seconds, Share, SomeBars

Shift = Annotated[float, Meta(ge=-4, le=4, description="beats, earlier below 0")]
NotesABeat = Annotated[float, Meta(ge=0, le=20, description="notes a beat")]
Begins = Annotated[float, Meta(ge=0.0001, le=0.1, description="a probability a note")]
Ends = Annotated[float, Meta(ge=0.0001, le=0.5, description="a probability a note")]
Chance = Annotated[float, Meta(ge=0.001, le=0.999, description="a probability between never and always")]
KeptShare = Annotated[float, Meta(ge=0, le=0.95, description="a share")]
Rare = Annotated[float, Meta(ge=0.001, le=1000, description="a weight against the others")]
FewBars = Annotated[float, Meta(ge=0.5, le=64, description="bars")]
MOST = 0.999
"""Of chord and scale notes together: some note is always neither."""


@dataclass(frozen=True)
class Phrasing:
    """One way of phrasing a melody off the beat."""

    by: Shift
    """Later; earlier below 0."""
    begins: Begins
    """Probability a note that it is the first that comes so."""
    ends: Ends
    """Probability that the next one doesn't any longer."""

    def __post_init__(self) -> None:
        if self.by == 0:
            raise ValueError("by is not 0: a melody that isn't displaced needs no table")


@dataclass(frozen=True)
class Fills:
    """A melody with fills."""

    notes: NotesABeat
    begins: Begins
    """Probability a note."""
    ends: Ends
    """The same."""


@dataclass(frozen=True)
class Improvising:
    """A line in the melody's place."""

    at_first: Begins
    """Probability that a player begins so."""
    begins: Begins
    """Probability a note of the melody."""
    ends: Ends
    """Probability a note of the line."""
    taken: Share
    """Probability from which it is accompanied as a solo."""
    back: Share
    """And under which as the melody."""
    bars: SomeBars
    """Bar lines at which that has to be so."""

    def __post_init__(self) -> None:
        if self.back > self.taken:
            raise ValueError("back is not above taken")


@dataclass(frozen=True)
class Strikes:
    """Probability of a stroke, by its distance from the beat in quarters: "0", "1/2" and so on."""

    simple: Mapping[str, Chance]
    compound: Mapping[str, Chance]

    def __post_init__(self) -> None:
        for strikes, beat in ((self.simple, Fraction(1)), (self.compound, Fraction(3, 2))):
            if not strikes or not all(PLACE.fullmatch(at) and Fraction(at) < beat for at in strikes):
                raise ValueError(f'strikes are named by quarters from the beat, such as "1/2", below {beat}')


@dataclass(frozen=True)
class Soloing:
    """An improvised line."""

    laid_back: Seconds
    """By which its notes on the beat lie behind it."""
    on_beat: tuple[Chance, Chance]
    """Chord notes, and the scale's other notes."""
    off_beat: tuple[Chance, Chance]
    strikes: Strikes

    def __post_init__(self) -> None:
        if max(sum(self.on_beat), sum(self.off_beat)) > MOST:
            raise ValueError(f"on-beat and off-beat leave a share to other notes: their sums are at most {MOST}")


@dataclass(frozen=True)
class Comping:
    """Rootless chords."""

    other_degrees: Rare
    """Of a degree that isn't named."""
    other_metres: tuple[Chance, Chance]
    """Probability of a stroke on and off the beat, in a metre that isn't named."""
    strikes: Mapping[str, Annotated[tuple[Chance, ...], Meta(min_length=1)]]
    """Metre → probability of a stroke on each quaver of a bar."""
    degrees: Mapping[str, Rare]
    """Degree → how likely it is in a chord, in proportion."""


@dataclass(frozen=True)
class Written:
    """How much of a written part its player plays as it stands."""

    bass: KeptShare
    chords: KeptShare


@dataclass(frozen=True)
class ComingIn:
    """When the companion comes in without a count-in."""

    notes: Count
    """Of the player's, at the earliest."""
    place: Share
    """Probability of their place."""
    tempo: Share
    """Relative doubt of the tempo."""
    alone_at_first: FewBars
    """After which it comes in however unsure it is."""


@dataclass(frozen=True)
class Lost:
    """What it does where it has lost the player."""

    alone: FewBars
    """That they are left to play alone at most."""
    notes_alone: Count
    """Notes of theirs after which that holds."""
    place: Share
    """Probability of another place from which it goes there."""


@dataclass(frozen=True)
class Waiting:
    """How long a note of the player's that is due is waited for."""

    strict: Factor
    """Times the doubt about its moment, in strict time."""
    free: Factor
    """And in free time."""
    longest: Beats
    """At most."""
    hesitant: Factor
    """Who holds beats back so many times as often as others is waited for at every note."""
    longest_hesitant: Beats
    """At most then."""
    last_chord: Beats
    """At most for the last chord."""


@dataclass(frozen=True)
class Resting:
    """Bars that the player may rest before they are taken for stopped."""

    part: FewBars
    """A part in which no note is promised."""
    instead_of_melody: FewBars
    """A solo in the melody's place."""


@dataclass(frozen=True)
class SoloOrHead:
    """Shares of the melody's notes that were struck, in the first bars after a solo."""

    solo: Share
    """Up to here it is one more chorus of solos."""
    head: Share
    """From here on it is the head."""
    soonest: SomeBars
    """After which that may be said."""
    latest: SomeBars
    """And after which no more."""

    def __post_init__(self) -> None:
        if self.solo > self.head or self.soonest > self.latest:
            raise ValueError("solo is not above head, nor soonest above latest")


@dataclass(frozen=True)
class Earlier:
    """What earlier takes of a tune tell of how its player shapes it."""

    on: bool
    """Whether the player is followed by them."""
    takes: Count
    """The last ones, at most."""
    again: Chance
    """Probability that a player who begins shapes the tune as in them."""


@config("following")
@dataclass(frozen=True, eq=False)
class FollowingPreferences:
    """What is expected of a player, and how the companion goes along with them."""

    phrasing: Mapping[str, Phrasing]
    fills: Fills
    improvising: Improvising
    solo: Soloing
    comping: Comping
    written: Written
    coming_in: ComingIn
    lost: Lost
    waiting: Waiting
    resting: Resting
    solo_or_head: SoloOrHead
    earlier: Earlier

    def __post_init__(self) -> None:
        ways = sum(way.begins for way in self.phrasing.values()) + self.fills.begins
        if ways + max(self.improvising.at_first, self.improvising.begins) > 0.5:
            raise ValueError("the probabilities of beginning otherwise than as written are 0.5 together at most")
