"""The built-in player's touch: from notes on the way to key movements.

Conventions: seconds from the start of the performance; MIDI numbers and velocities.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

from companion.messages import Heard
from companion.ports.lines import Struck
from companion.ports.way import Clock


@dataclass(frozen=True)
class Placed:
    """A note at its place on the way."""

    stretch: int
    """Which stretch of the way it belongs to."""
    at: float
    """Quarters since the player began."""
    until: float
    note: Struck


def touched(notes: Sequence[Placed], clock: Clock, how: Mapping[str, Any], dice: Random) -> list[Heard]:
    """From notes to key movements.

    Onsets are spread about their beat, the fingers of a chord a little apart; the level swells and falls by the phrase;
    keys are let go before the next note, and each key is up before it goes down again.
    """
    level, spread = dice.uniform(66, 84), dice.uniform(*how["spread_ms"]) / 1000
    held = dice.uniform(0.78, 0.97)
    struck: list[tuple[float, float, int, int]] = []
    moment, off = (-1, 0.0, ""), 0.0
    for placed in notes:
        note = placed.note
        if (placed.stretch, placed.at, note.hand) != moment:
            moment, off = (placed.stretch, placed.at, note.hand), dice.gauss(0.0, spread)
        lead = how["lead_ms"] / 1000 if note.hand == "right" else 0.0
        due, end = (clock.seconds(placed.stretch, x, note.swing) for x in (placed.at, placed.until))
        on, length = due + note.lag + off + dice.gauss(0.0, 0.0025) - lead, end - due
        length *= min(0.98, held * dice.uniform(0.92, 1.06))
        swell = 4.0 * (((placed.at / 8.0) % 2.0) - 1.0) if note.hand == "right" else 0.0
        force = level * note.weight + abs(swell) + 0.15 * (note.midi - 70) + dice.gauss(0.0, 5.0)
        struck.append((max(0.0, on), max(0.045, length), note.midi, max(20, min(122, round(force)))))
    return _keys(struck)


def _keys(struck: Sequence[tuple[float, float, int, int]]) -> list[Heard]:
    """Key movements in order of time; of two notes on one key the first is let go before the second."""
    moves: list[Heard] = []
    by_key: dict[int, list[tuple[float, float, int]]] = {}
    for on, length, midi, force in struck:
        by_key.setdefault(midi, []).append((on, length, force))
    for midi, presses in by_key.items():
        presses.sort()
        kept = [p for k, p in enumerate(presses) if k == 0 or p[0] - presses[k - 1][0] > 0.03]
        for k, (on, length, force) in enumerate(kept):
            up = min(on + length, kept[k + 1][0] - 0.008) if k + 1 < len(kept) else on + length
            moves += [Heard(on, 0x90, midi, force), Heard(max(up, on + 0.01), 0x80, midi, 40)]
    return sorted(moves, key=lambda m: (m.seconds, m.status, m.data1))
