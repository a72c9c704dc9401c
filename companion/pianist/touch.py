"""The built-in player's touch: from notes on the route to key movements, with uneven onsets, levels and lengths.

Conventions: seconds from the start of the performance; MIDI numbers and velocities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random

from companion.messages import Heard, NoteKind
from companion.pianist.lines import IntendedNote
from companion.pianist.route import Clock
from companion.preferences.players import PlayerManner

SUSTAIN = 64
"""The damper pedal's controller (MIDI 1.0)."""


@dataclass(frozen=True)
class PlacedNote:
    """A note at its place on the route."""

    passage: int
    """Which passage of the route it belongs to."""
    at: float
    """Quarters since the player began."""
    until: float
    note: IntendedNote
    chart_beat: float
    """Where it is written; a pickup to a later chorus lies at the end of the one before."""
    chorus: int


@dataclass(frozen=True)
class TrueNote:
    """What became of a note: struck as written or otherwise, left out, or added."""

    kind: NoteKind
    chart_beat: float
    chorus: int
    expected: int | None
    """MIDI number that is written, None for an extra note."""
    pitch: int | None
    """MIDI number that was struck, None for a missing one."""
    seconds: float | None


def key_movements(
    notes: Sequence[PlacedNote], clock: Clock, how: PlayerManner, dice: Random
) -> tuple[list[Heard], list[TrueNote]]:
    """From notes to key movements, and what became of each note.

    Onsets are spread about their beat, the fingers of a chord a little apart; the level swells and falls by the phrase;
    keys are let go before the next note, and each key is up before it goes down again.

    Parameters
    ----------
    notes : sequence of PlacedNote
        In the order of the route.
    clock : Clock
        From the route to seconds.
    how : PlayerManner
    dice : random.Random
    """
    level, spread = dice.uniform(66, 84), dice.uniform(*how.spread_ms) / 1000
    held = dice.uniform(0.78, 0.97)
    presses: list[_PlannedPress] = []
    told: list[TrueNote] = []
    moment, off = (-1, 0.0, ""), 0.0
    for placed in notes:
        note = placed.note
        if note.kind == "missing":
            told.append(TrueNote("missing", placed.chart_beat, placed.chorus, note.midi, None, None))
            continue
        if (placed.passage, placed.at, note.hand) != moment:
            moment, off = (placed.passage, placed.at, note.hand), dice.gauss(0.0, spread)
        lead = how.lead_ms / 1000 if note.hand == "right" else 0.0
        due, end = (clock.seconds(placed.passage, x, note.swing) for x in (placed.at, placed.until))
        on, length = max(0.0, due + note.lag + off + dice.gauss(0.0, 0.0025) - lead), end - due
        length *= min(0.98, held * dice.uniform(0.92, 1.06))
        swell = 4.0 * (((placed.at / 8.0) % 2.0) - 1.0) if note.hand == "right" else 0.0
        force = level * note.weight + abs(swell) + 0.15 * (note.midi - 70) + dice.gauss(0.0, 5.0)
        presses.append(_PlannedPress(on, max(0.045, length), note.midi, max(20, min(122, round(force))), placed))
    kept = _one_at_a_time(presses)
    told += [_true_note(press) for press in kept]
    return _keys(kept), sorted(told, key=lambda n: (n.chorus, n.chart_beat, n.pitch or 0))


@dataclass(frozen=True)
class _PlannedPress:
    on: float
    length: float
    midi: int
    force: int
    placed: PlacedNote


def _true_note(press: _PlannedPress) -> TrueNote:
    note = press.placed.note
    expected = None if note.kind == "extra" else note.midi if note.meant is None else note.meant
    return TrueNote(note.kind, press.placed.chart_beat, press.placed.chorus, expected, press.midi, press.on)


def _one_at_a_time(presses: Sequence[_PlannedPress]) -> list[_PlannedPress]:
    """Presses in order of time; of two notes on one key the first is let go before the second is struck.

    Two that fall together are one press: the written one.
    """
    by_key: dict[int, list[_PlannedPress]] = {}
    for press in sorted(presses, key=lambda p: (p.on, p.midi)):
        before = by_key.setdefault(press.midi, [])
        if before and press.on - before[-1].on < 0.03:
            if before[-1].placed.note.kind == "extra":
                before[-1] = press
            continue
        if before:
            length = min(before[-1].length, max(0.01, press.on - before[-1].on - 0.008))
            before[-1] = replace(before[-1], length=length)
        before.append(press)
    return sorted((p for key in by_key.values() for p in key), key=lambda p: (p.on, p.midi))


def bar_pedal(bars: Sequence[float]) -> list[Heard]:
    """The damper pedal changed at every bar: down just after its first beat, up just before the next one's.

    ``bars`` are the seconds of the first beats, and of the end.
    """
    moves = []
    for bar, after in pairwise(bars):
        caught = min(0.12, 0.2 * (after - bar))  # after the new harmony has sounded, or the old one would be caught too
        moves += [Heard(bar + caught, 0xB0, SUSTAIN, 127), Heard(after + 0.02, 0xB0, SUSTAIN, 0)]
    return moves


def _keys(presses: Sequence[_PlannedPress]) -> list[Heard]:
    moves = [Heard(p.on, 0x90, p.midi, p.force) for p in presses]
    moves += [Heard(p.on + p.length, 0x80, p.midi, 40) for p in presses]
    return sorted(moves, key=lambda m: (m.seconds, m.status, m.data1))
