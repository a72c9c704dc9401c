"""``capture.toml``: how playing is turned into writing. Costs are natural logarithms of how rarely a thing is met."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import (
    PLACE,
    Cost,
    Count,
    MidiNumber,
    Milliseconds,
    OfBeat,
    Semitones,
    Share,
    SwingRatio,
)

LogSpread = Annotated[float, Meta(ge=0.0001, le=2, description="a standard deviation of the logarithm")]
SomeCost = Annotated[float, Meta(ge=0.05, le=100, description="a natural logarithm of how rare it is")]
Cases = Annotated[float, Meta(ge=0.1, le=10000, description="cases that it weighs as much as")]
Division = Annotated[int, Meta(ge=1, le=8, description="parts of a beat")]
Divisions = Mapping[Division, Cost]
"""By the finest division of a beat."""


@dataclass(frozen=True)
class Click:
    """The player goes by a click."""

    off_ms: Milliseconds
    """How far they lie from it (standard deviation)."""
    wander_ms: Milliseconds
    """How much that changes from one beat to the next."""
    keep: Share
    """How much of it is left then."""


@dataclass(frozen=True)
class OwnBeat:
    """The player goes by a beat of their own; shares of a beat or of the tempo."""

    tempo: Share
    """How far the tempo may be from what was said."""
    drift: Share
    """How much it changes from one beat to the next."""
    back: Share
    """How much of its distance from what was said is left then."""
    beat: Share
    """How far a beat falls beside it, and takes the following ones with it."""
    cost: Cost


@dataclass(frozen=True)
class Timing:
    """How people play."""

    key_ms: Milliseconds
    """How far an onset falls from its place (standard deviation)."""
    jitter: OfBeat
    """How unevenly the beats themselves fall."""
    outlier: Cost
    """The most that a note's distance costs."""
    spread_ms: Milliseconds
    """Notes that follow each other within this time were struck together."""
    again_ms: Milliseconds
    """The same key struck again within this time is one note."""
    start_ms: Milliseconds
    """Without a click, how far the first beat may be from where it was said to be."""
    click: Click
    free: OwnBeat
    loose: OwnBeat

    def __post_init__(self) -> None:
        if self.key_ms <= 0:
            raise ValueError("key-ms is a number above 0: nobody plays without any spread")


@dataclass(frozen=True)
class FeelCosts:
    """What each way with the off-beat costs."""

    swung: Cost
    straight: Cost
    plain: Cost
    """Quavers swing, semiquavers don't."""


@dataclass(frozen=True)
class Swing:
    """How much later than half way the off-beat comes, and how sure that is (standard deviation)."""

    cost: FeelCosts
    straight: tuple[OfBeat, OfBeat]
    spread: OfBeat
    usual_most: SwingRatio
    """What anybody is expected to swing at most."""
    most: SwingRatio
    """What would be more is read as dotted notes."""

    def __post_init__(self) -> None:
        if not 1 <= self.usual_most <= self.most:
            raise ValueError("usual-most and most are 1 at least, and most is no smaller")


@dataclass(frozen=True, eq=False)
class DivisionTables:
    """What each division of a beat costs, by kind of tune; the first kind is the usual one."""

    simple: Mapping[str, Divisions]
    compound: Mapping[str, Divisions]
    kind: Cost
    """What every kind but the first costs."""

    def __post_init__(self) -> None:
        for name, kind in (*self.simple.items(), *self.compound.items()):
            if 1 not in kind:
                raise ValueError(f"'{name}' has no cost for the beat alone: 1 = ...")


def _is_pattern(text: str) -> bool:
    return all(PLACE.fullmatch(place) and Fraction(place) < 1 for place in text.split()) and bool(text)


@dataclass(frozen=True, eq=False)
class PatternCosts:
    """What the places of a beat that have an onset cost; ``other``: those not named."""

    other: Cost
    named: Annotated[Mapping[str, Cost], Others(like='places of a beat such as "0 1/2"', fits=_is_pattern)]


@dataclass(frozen=True)
class PatternTables:
    """Patterns of a beat."""

    simple: PatternCosts
    compound: PatternCosts


@dataclass(frozen=True)
class Own:
    """A tune's own habits against the tables."""

    divisions: Cases
    patterns: Cases
    semiquavers: Share
    """Of beats, with the second and the fourth of four."""
    graces: Cases
    graceless: Cost
    """What a grace note costs more when a first reading is tried nearly without them."""
    near: Cost
    """Kinds of tune that cost so much more than the best are given up."""
    most: Annotated[int, Meta(ge=1, le=100, description="readings")]
    """First readings that are read again."""


@dataclass(frozen=True)
class PlaceCosts:
    """What single places cost."""

    crotchet_triplet: Cost
    hanging: Cost
    off_bar: Cost
    ornament: SomeCost
    ornament_free: Cost
    alike: Annotated[int, Meta(ge=2, le=100, description="notes")]
    """So many notes in the same order are the same phrase."""


@dataclass(frozen=True)
class Lengths:
    """Written lengths."""

    held: tuple[Share, Annotated[float, Meta(ge=0, le=2)]]
    """How much of a written length is held down, from and to."""
    tail: LogSpread
    """How sharply that ends."""
    rest: Cost
    long_rest: Cost
    short_rest: Cost
    tied: Cost
    off_beat: Cost
    finer: Cost
    at_bar: Cost

    def __post_init__(self) -> None:
        if not 0 < self.held[0] <= self.held[1]:
            raise ValueError("held goes from a share above 0 to a greater one")


@dataclass(frozen=True)
class Ornament:
    """What may be a grace note."""

    ms: Milliseconds
    """That it comes before its note at most."""
    interval: Semitones
    most: Count
    """Before one note."""


@dataclass(frozen=True)
class PlayedHands:
    """To which part a key belongs, where a take has several."""

    bass_below: MidiNumber
    """The lowest key of those struck together is the bass's below this."""
    chord: Annotated[int, Meta(ge=2, le=6, description="keys")]
    """So many keys at once are a chord to its top, where the chart has no melody note."""


@config("capture")
@dataclass(frozen=True, eq=False)
class CapturePreferences:
    """From playing to writing."""

    timing: Timing
    swing: Swing
    division: DivisionTables
    pattern: PatternTables
    own: Own
    place: PlaceCosts
    length: Lengths
    ornament: Ornament
    hands: PlayedHands
