"""``touch.toml``: how each of the companion's parts is struck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from companion.messages import PARTS, Part
from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import Factor, Share, Velocity


@dataclass(frozen=True)
class PartTouch:
    """How one part is struck."""

    level: Velocity
    """While the player plays at 64."""
    follows: Share
    """How much of the player's difference from 64 the part takes over."""
    length: Factor
    """Of the written length that sounds; 1 is legato."""


@config("touch")
@dataclass(frozen=True, eq=False)
class TouchPreferences:
    """How the parts are struck."""

    parts: Annotated[Mapping[Part, PartTouch], Others(only=PARTS, needed=True)]
