"""``feels.toml``: how the two quavers of a beat divide it, by tempo."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import Milliseconds, Share, SwingRatio, Tempo


@dataclass(frozen=True)
class FeelTable:
    """One feel."""

    ratio: Annotated[tuple[tuple[Tempo, SwingRatio], ...], Meta(min_length=1)]
    """Tempo and ratio, from slow to fast."""
    about: str = ""
    shortest_ms: Milliseconds = 0.0
    """That the short quaver lasts at least."""
    practice_ratio: SwingRatio = 2.0
    """The most below the tune's own tempo."""
    practice_below: Share = 0.9
    """Of the tune's own tempo, under which it is being practised."""

    def __post_init__(self) -> None:
        if list(self.ratio) != sorted(self.ratio):
            raise ValueError("ratio holds pairs of tempo and ratio, from slow to fast")


@config("feels")
@dataclass(frozen=True, eq=False)
class FeelPreferences:
    """The feels by name."""

    named: Annotated[Mapping[str, FeelTable], Others()]
