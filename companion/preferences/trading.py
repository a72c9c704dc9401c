"""``trading.toml``: how the companion takes turns with the player."""

from __future__ import annotations

from dataclasses import dataclass

from companion.preferences.reading import config
from companion.preferences.units import Beats, Count, Seconds, Share, SomeBars


@dataclass(frozen=True)
class Manners:
    """How long it waits, and what stops it."""

    wait: Beats
    """After the player's last note, before it speaks in its turn."""
    again: Beats
    """After which it goes on, when the player came in and fell silent again."""
    least: Beats
    """That have to be left of its turn for that, or for a late beginning."""
    together: Seconds
    """Within which keys are one chord."""
    comping: Count
    """Keys struck together that are an accompaniment, and don't stop it."""
    at_once: SomeBars
    """That it makes up in one go."""
    thin: Share
    """How much its own chords thin out under its line, as behind a player who is so busy."""


@config("trading")
@dataclass(frozen=True)
class TradingPreferences:
    """How turns are taken."""

    manners: Manners
