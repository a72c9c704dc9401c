"""``accents.toml``: where in the bar each part is a little firmer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from companion.messages import PARTS, Part
from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import Factor


@dataclass(frozen=True)
class PartAccents:
    """Factors to the part's level, by the place in the bar."""

    first: Factor = 1.0
    """On the first beat of the bar."""
    backbeat: Factor = 1.0
    """On beats 2 and 4, in bars of two or four beats."""
    beat: Factor = 1.0
    """On the other beats."""
    off_beat: Factor = 1.0
    """Between the beats."""


@config("accents")
@dataclass(frozen=True, eq=False)
class AccentPreferences:
    """Where the parts are firmer; a part that isn't named is even."""

    parts: Annotated[Mapping[Part, PartAccents], Others(only=PARTS)]
