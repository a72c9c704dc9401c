"""``players.toml``: how the built-in players play, and the rhythms of their left hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import Count, Milliseconds, Quarters, Seconds, Share

Spread = Annotated[float, Meta(ge=0, le=0.2, description="a share of the tempo or of a beat")]


@dataclass(frozen=True)
class Manner:
    """How a player plays. What isn't said is as somebody plays who makes no slips, in the time of jazz trios."""

    wrong: Share = 0.0
    """Of the notes, struck wrong by a step or a semitone."""
    left_out: Share = field(default=0.0, metadata={"key": "left_out"})
    ornaments: Share = 0.0
    octaves: Share = 0.0
    """Of the phrases."""
    moves: Count = 0
    """Leaps to another place of the form, at most."""
    stops: Count = 0
    """Silences, at most."""
    hesitations: Count = 0
    """Beats that come late."""
    stop_seconds: tuple[Seconds, Seconds] = field(default=(2.0, 6.0), metadata={"key": "stop_seconds"})
    """How long a silence lasts: a range."""
    drift: Spread = 0.004
    """Change of the tempo from beat to beat (standard deviation, share of the tempo)."""
    jitter: Spread = 0.025
    """Unevenness that doesn't add up (standard deviation, share of a beat)."""
    spread_ms: tuple[Milliseconds, Milliseconds] = field(default=(15.0, 25.0), metadata={"key": "spread_ms"})
    """How far notes fall from their beat (standard deviation): a range."""
    gain: Annotated[float, Meta(ge=-0.9, le=4)] = 0.0
    """How much faster the end is than the beginning (0.4 = 40 per cent)."""
    freedom: Share = 0.0
    """Variation of the length of a beat in free time; 0: strict."""
    lead_ms: Milliseconds = field(default=0.0, metadata={"key": "lead_ms"})
    """How far the melody comes before the beat."""
    behind_ms: tuple[Milliseconds, Milliseconds] = field(default=(0.0, 0.0), metadata={"key": "behind_ms"})
    """How far a soloist's on-beat notes lie behind the beat: a range."""
    outside: Share = 0.0
    """Of a soloist's notes, outside the scale."""
    pedal: bool = False


Rhythm = tuple[tuple[Quarters, Quarters], ...]
"""Beats and lengths over one bar, written."""


@config("players")
@dataclass(frozen=True, eq=False)
class PlayerPreferences:
    """The players by name, and what their left hand comps, by the bar's length in quarters."""

    player: Mapping[str, Manner]
    comping: Mapping[float, Annotated[tuple[Rhythm, ...], Meta(min_length=1)]]
