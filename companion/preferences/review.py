"""``review.toml``: what the review of a take says, and from when on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Count, Factor, Milliseconds, Share, Weight

WHAT = frozenset({
    "rushed", "dragged", "unsteady", "wrong-note", "missed-note", "extra-note", "late-chord", "early-chord", "clash",
    "hesitated", "restarted", "skipped", "swing", "voicing", "dynamics",
})  # fmt: skip
"""Kinds of findings."""
SomeTakes = Annotated[int, Meta(ge=1, le=100, description="takes, 1 or more")]
StandardErrors = Annotated[float, Meta(ge=2, le=20, description="standard errors, 2 or more")]


@dataclass(frozen=True)
class TimingRules:
    """Against the player's own beat before and after."""

    sure: StandardErrors
    rushed_ms: Milliseconds
    """A beat."""
    rushed: Share
    """Of the beat: less isn't said, however sure."""
    beside_ms: Milliseconds
    swing: Share
    """Of a quarter, by which off-beat quavers lie elsewhere than usual."""
    chord_ms: Milliseconds
    unsteady_ms: Milliseconds
    """Of spread."""
    steady: Share
    """Of the tempo, by which beginning and end differ where it is said to have been kept."""


@dataclass(frozen=True)
class RecurringRules:
    """When a slip is said to recur."""

    takes: Count
    """That are looked at, the latest."""
    earlier: SomeTakes
    """Takes before this one that must have it."""
    by_chance: Share
    """Places of a tune that may show as much by chance."""
    weight: Factor
    """Of what recurs, against the same the first time."""


@config("review")
@dataclass(frozen=True, eq=False)
class ReviewPreferences:
    """What the review of a take says."""

    timing: TimingRules
    weights: Mapping[str, Weight]
    """What each kind of finding weighs."""
    recurring: RecurringRules

    def __post_init__(self) -> None:
        if missing := WHAT - set(self.weights):
            raise ValueError(f"weights has a weight for {', '.join(sorted(missing))}, too")
        if unknown := set(self.weights) - WHAT:
            raise ValueError(f"weights has no {', '.join(sorted(unknown))}: there is no such finding")
