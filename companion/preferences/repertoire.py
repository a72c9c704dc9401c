"""``repertoire.toml``: when a passage counts as learnt, when it comes back, and what is proposed for a day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Days, Share

SomeMinutes = Annotated[int, Meta(ge=1, le=600, description="minutes")]


@dataclass(frozen=True)
class DayRules:
    """What a day is."""

    begin: Annotated[int, Meta(ge=0, le=23, description="an hour")]
    """At which a day of practice begins."""


@dataclass(frozen=True)
class HeldRules:
    """What holds."""

    near: Share
    """Of the tempo reached before, at which a good round still counts."""
    learnt: Annotated[int, Meta(ge=1, le=100, description="days")]
    """Different days with a good round at a tempo, after which a passage is learnt at it."""
    slow: Share
    """Of the tune's tempo, below which a passage isn't up to tempo."""


@dataclass(frozen=True)
class AgainRules:
    """When a passage comes back."""

    first: Days
    """After a first day that held, and after every day that didn't."""
    stretch: Annotated[float, Meta(ge=1, le=10, description="a factor from 1")]
    """How many times as long as it had been away, after another day that held."""
    fall: Share
    """Of the former wait, what is left after a day that didn't hold."""
    longest: Days
    working: Days
    """The longest while it isn't up to tempo."""

    def __post_init__(self) -> None:
        if not 0 < self.first <= self.working <= self.longest:
            raise ValueError("first is above 0, working no less, and longest no less than that")


@dataclass(frozen=True)
class ProposalRules:
    """What a proposal for a day is made of."""

    minutes: SomeMinutes
    warm_up: Annotated[int, Meta(ge=0, le=60, description="minutes")]
    months: Annotated[int, Meta(ge=1, le=120, description="months")]
    """Without playing it, after which a tune isn't in work any more."""
    keep: Share
    """Of the time after the warm-up, for what holds and is due."""
    mend: Share
    """The same for what doesn't hold yet; something new has what is left."""
    least: SomeMinutes
    """Of one thing."""
    most: SomeMinutes
    open: Annotated[int, Meta(ge=1, le=1000, description="passages")]
    """That don't hold yet, from which on nothing new is proposed."""

    def __post_init__(self) -> None:
        if self.keep + self.mend > 1:
            raise ValueError("keep and mend are shares of one time: together they are 1 at most")
        if self.least > self.most:
            raise ValueError("least is no more than most")


@config("repertoire")
@dataclass(frozen=True)
class RepertoirePreferences:
    """The player's repertoire."""

    days: DayRules
    held: HeldRules
    again: AgainRules
    proposal: ProposalRules
