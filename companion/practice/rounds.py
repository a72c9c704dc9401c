"""A round of a drill, from its first click to its judgement.

Conventions: seconds on the drill's clock; beats in quarters from the way in's first downbeat; bars of the form; tempo
in quarters a minute.
"""

from __future__ import annotations

import statistics
from collections import Counter
from dataclasses import dataclass, field

from companion.messages import Heard, Part
from companion.practice.judging import JudgedNote
from companion.practice.passage import Excerpt
from companion.preferences.drills import MemoryStep


@dataclass(frozen=True)
class RoundFault:
    """One thing that wasn't right."""

    bar: int
    text: str


@dataclass(frozen=True)
class Verdict:
    """What became of a round."""

    good: bool
    why: str
    notes: tuple[JudgedNote, ...] = ()
    """Those of the passage, way in excluded."""
    faults: tuple[RoundFault, ...] = ()
    nothing: bool = False
    """Whether no note was heard."""

    @property
    def spread_ms(self) -> float | None:
        """Standard deviation of the right notes from their beat, in milliseconds; None of fewer than three."""
        off = [note.deviation_ms for note in self.notes if note.kind == "right" and note.deviation_ms is not None]
        return round(statistics.pstdev(off), 1) if len(off) > 2 else None

    def counts(self) -> dict[str, int]:
        """How many notes are right, wrong, missing and extra."""
        found = Counter(note.kind for note in self.notes if not note.forgiven)
        return {kind: found[kind] for kind in ("right", "wrong", "missing", "extra")}


@dataclass
class RoundPlayed:
    """A round from its first click to its judgement."""

    number: int
    bars: tuple[int, int]
    you: frozenset[Part]
    key: str
    tempo: float
    passage: Excerpt
    first_click: float
    start: float
    """The moment of the passage's first downbeat, by the count-in."""
    withheld: MemoryStep
    end: float | None = None
    verdict: Verdict | None = None
    """None while it is under way, and when it was broken off."""
    heard: list[Heard] = field(default_factory=list)
    """The player's notes."""
    beats: list[tuple[float, float]] = field(default_factory=list)
    """Beats as sounded: beat of the round, seconds."""

    @property
    def hidden(self) -> bool:
        """Whether the screen shows nothing of the tune."""
        return self.withheld != "companion"
