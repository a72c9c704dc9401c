"""``review.toml``: what the review of a take says, and from when on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Milliseconds, Share

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


@config("review")
@dataclass(frozen=True)
class ReviewPreferences:
    """What the review of a take says."""

    timing: TimingRules
