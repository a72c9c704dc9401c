"""``drills.toml``: ladders of tempi, kinds of drill, what a round is and when it is good."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.units import (
    Bars,
    Beats,
    Count,
    Days,
    MidiNumber,
    Milliseconds,
    Seconds,
    Share,
    SomeBars,
    Velocity,
    Weight,
)

OfTempo = Annotated[float, Meta(ge=0.1, le=2, description="a share of the tune's tempo")]
Rounds = Annotated[int, Meta(ge=1, le=100, description="rounds")]
TempoStep = Annotated[float, Meta(gt=0, le=100, description="quarters a minute")]
Divide = Annotated[int, Meta(ge=1, le=4, description="parts of a beat")]
MemoryStep = Literal["companion", "hidden", "roots", "click", "alone"]
"""What is left to a player from memory: all of it; the same without the screen; roots; a click; nothing."""


@dataclass(frozen=True)
class LadderRules:
    """How the tempo of a drill climbs and comes down."""

    start: OfTempo = field(default=0.6, metadata={"key": "from"})
    to: OfTempo = 1.0
    step: TempoStep = 4.0
    up_after: Rounds = 2
    """Good rounds in a row."""
    down_after: Rounds = 2
    """Bad rounds in a row."""
    hold: Rounds = 2
    """Good rounds in a row at the end with which the goal is reached."""

    def __post_init__(self) -> None:
        if self.to < self.start:
            raise ValueError("to is from or more: a ladder climbs")


@dataclass(frozen=True)
class DrillKind:
    """What is drilled."""

    what: str = ""
    ladder: str = "usual"
    time: Literal["follow", "steady", "patient"] = "follow"
    click: str = ""
    """See :func:`companion.stage.clicks.click_pattern`; empty: none."""
    divide: Divide = 1
    swap: Count = 0
    keys: str = ""
    each: Rounds = 1
    """Rounds in each key."""
    memory: bool = False
    anywhere: bool = False


@dataclass(frozen=True)
class MemorySteps:
    """What is withheld from a player from memory."""

    steps: Annotated[tuple[MemoryStep, ...], Meta(min_length=1)]


@dataclass(frozen=True)
class RoundRules:
    """How rounds follow each other."""

    way_in: Bars
    count_in: SomeBars
    rest: SomeBars
    late: Beats
    """How long after the end notes still belong to the round."""
    silent: Rounds
    patience: Seconds
    bars: SomeBars
    """Of a passage that is proposed."""
    memory: MemorySteps


@dataclass(frozen=True)
class ProposalWeights:
    """Which bars are proposed."""

    MOVED: ClassVar = {key: f"write it in review.toml, in [weights]: {names}" for key, names in {
        "wrong": "wrong-note", "missing": "missed-note", "extra": "extra-note",
        "late": "rushed, dragged, unsteady, late-chord, early-chord", "left": "hesitated, restarted, skipped",
    }.items()}  # fmt: skip
    """Keys that stood here once, and where they went."""

    before: Weight
    """Of a fault each time, in takes before the last."""
    takes: Count
    """How many of them."""
    failed: Weight
    """Of a passage that failed when it was last drilled."""
    soon: Days
    """Within which it has to be due for that."""
    least: Weight
    """From which bars are worth a drill."""


@dataclass(frozen=True)
class GoodRules:
    """What a good round is."""

    wrong: Count
    missing: Count
    extra: Count
    late_ms: Milliseconds
    late: Share
    """Of a beat, where that is more."""
    spread_ms: Milliseconds
    hesitation: Seconds
    hesitation_beats: Beats
    tempo: Share


@dataclass(frozen=True)
class DrillSounds:
    """What is heard after a round."""

    good: tuple[MidiNumber, ...]
    again: tuple[MidiNumber, ...]
    level: Velocity


@config("drills")
@dataclass(frozen=True)
class DrillPreferences:
    """Drills."""

    ladders: Mapping[str, LadderRules]
    kinds: Mapping[str, DrillKind]
    rounds: RoundRules
    proposal: ProposalWeights
    good: GoodRules
    sounds: DrillSounds
