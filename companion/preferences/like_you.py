"""``like-you.toml``: what of a player's own chords weighs in the arranger's choices, and how theirs are revoiced."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Price, Quarters, Share

Takes = Annotated[int, Meta(ge=1, le=1000, description="takes")]
Times = Annotated[int, Meta(ge=1, le=1000, description="times")]
SomeChords = Annotated[float, Meta(ge=0, le=100, description="chords")]
ASemitone = Annotated[float, Meta(ge=0, le=48, description="semitones")]


@dataclass(frozen=True)
class LikeYouWish:
    """When it is wished for."""

    always: bool
    """Where nothing is said."""


@dataclass(frozen=True)
class LearningRules:
    """From when on something is a habit."""

    takes: Takes
    """The latest, that are looked at."""
    halves_after: Takes
    """Later, a take counts half."""
    uses: Times
    in_takes: Takes
    """A shape or rhythm that came less often, or in fewer, is a slip."""
    doubt: SomeChords
    """That count for none."""
    least_share: Share
    """Of the chords of a kind, or of the bars of a metre."""

    def __post_init__(self) -> None:
        if self.in_takes > self.takes:
            raise ValueError("in-takes is takes at most: no more are looked at")


@dataclass(frozen=True)
class ShapeLikings:
    """How much a player's shapes are liked."""

    liking: Price
    """For the one that they use most."""
    inverted: Share
    """Of it, for the same notes in another order."""
    outside: Share
    """Of it, that is lost with each semitone of the top note beyond the player's own."""

    def __post_init__(self) -> None:
        if self.liking < 0:
            raise ValueError("liking is 0 or more")


@dataclass(frozen=True)
class RhythmLikings:
    """How much a player's rhythms are liked."""

    liking: Price
    """For the one that they use most."""

    def __post_init__(self) -> None:
        if self.liking < 0:
            raise ValueError("liking is 0 or more")


@dataclass(frozen=True)
class RevoicingRules:
    """When a hand moves smoothly."""

    smooth: ASemitone
    """A voice, on average, on the way to another chord."""
    joined: Quarters
    """Between two chords, up to which that is asked."""
    mended: ASemitone
    """A voice, on average, where it was more and is mended."""

    def __post_init__(self) -> None:
        if self.mended > self.smooth:
            raise ValueError("mended is smooth at most")


@config("like-you")
@dataclass(frozen=True, eq=False)
class LikeYouPreferences:
    """What is made of a player's own chords."""

    wish: LikeYouWish
    learning: LearningRules
    shapes: ShapeLikings
    rhythms: RhythmLikings
    revoicing: RevoicingRules
