"""``care.toml``: when a pause is proposed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Minutes, Seconds


@dataclass(frozen=True)
class PauseRules:
    """A pause from playing."""

    after: Minutes
    """Of playing, after which it is proposed; 0: never."""
    lasts: Annotated[float, Meta(ge=1, le=600, description="minutes")]
    phrase: Seconds
    """With no key down, after which a phrase is over."""


@config("care")
@dataclass(frozen=True)
class CarePreferences:
    """Care for hands and ears."""

    pause: PauseRules
