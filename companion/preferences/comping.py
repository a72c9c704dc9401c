"""``comping.toml``: where chords fall, and the rhythms of the trade for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated

from msgspec import Meta

from companion.preferences.bass import BarLength
from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import (
    Bars,
    Beats,
    Count,
    Factor,
    Interval,
    Place,
    Price,
    Quarters,
    Share,
    SomeBars,
)


@dataclass(frozen=True, eq=False)
class Placement:
    """Where a chord may fall, and which rhythm is liked."""

    clear: Quarters
    """Between a chord and the start of a melody note shorter than ``long``."""
    long: Quarters
    """From here on a melody note is long."""
    after_long: Quarters
    """How long a long note sounds before the chord answers."""
    after_short: Quarters
    gap: Quarters
    """Without a melody onset, that ask for an answer."""
    quiet_bars: Bars
    """After so many bars without a chord a smaller gap will do."""
    same_rhythm: SomeBars
    """Running."""
    kept: Price
    """Liking for each chord of a rhythm that the melody leaves room for, up to two."""
    lost: Price
    """Dislike for each that it doesn't."""
    worn: Price
    """For each time it came in the last four bars ..."""
    worn_before: Price
    """... and in the twelve before them."""
    chance: Price
    """Standard deviation of a liking."""
    shortest: Quarters
    """What would be shorter isn't struck."""
    answer: Quarters
    """How long a chord sounds that no rhythm asked for, where there is room."""
    on_one: Price
    """Dislike of such a chord on the first beat."""
    next: Quarters
    """After a chord, before the next ..."""
    next_after_early: Quarters
    """... and after one that came early."""
    before_early: Quarters
    """After a chord, before one that comes early."""
    late_alone: Quarters
    """That a late voice keeps from the melody's onsets."""
    lead_in: Share
    """Of the choruses after the first, those that begin on the quaver before their first bar."""
    accent: Factor
    """To the level, of a chord with an accent of the melody's."""
    arrival: Factor
    """To the level, of a chord to which fourths slide."""

    def __post_init__(self) -> None:
        if self.shortest <= 0:
            raise ValueError("shortest is a number of quarters above 0")


@dataclass(frozen=True, eq=False)
class Phrases:
    """How the bars answer the melody, and one another."""

    bars: SomeBars
    """That a riff is kept over, from where a section begins."""
    riff: Share
    """Of them, those that have a riff, where one finds room."""
    turned_away: Share
    """Of the riffs behind a soloist, those that turn away in their last bar."""
    pushed_riff: Share
    """Of the bars in which the harmony turns, those to which a riff comes early."""
    hits: Annotated[int, Meta(ge=2, le=8, description="chords")]
    """That take up a rhythm of the melody's, at most."""
    back: Quarters
    """From a bar to the phrase whose end it may take up."""
    taken_up: Price
    """Liking for a rhythm of two chords or more that the melody has just had."""
    echo: Price
    """Liking for a lone chord at a place that one of the last two bars had."""
    push: Price
    """Liking for a chord that comes early where the harmony turns."""
    idle_push: Price
    """Dislike of one elsewhere."""


@dataclass(frozen=True, eq=False)
class LateVoices:
    """Notes that come after their chords, and the line that they make."""

    after: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """How long they wait, the most usual first."""
    joined: Quarters
    """Between two chords whose late notes are heard as one line."""
    least: Count
    """Late voices of a line; where fewer are asked for, there is a line now and then."""
    apart: Quarters
    """Between two chords; nearer ones are crowded."""
    crowded: Price
    begins: Price
    """A line that begins anew."""
    same: Price
    """The same note again."""
    leap: Price
    """Each semitone beyond a step."""
    other: Price
    """A note of the scale in the place of the chord's own."""
    one_more: Price
    """A note besides the chord's three; twice where it has two."""
    otherwise: Price
    """Each place that a wait stands farther down in ``after``."""
    chance: Price
    """Standard deviation of a price."""


def _in_order(places: Sequence[float]) -> bool:
    return all(before < after for before, after in pairwise(places))


@dataclass(frozen=True)
class HeldWay:
    """How chords over a held root are struck."""

    name: str
    after: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """Quarters after the root."""

    def __post_init__(self) -> None:
        if not _in_order(self.after):
            raise ValueError("after goes from the first chord to the last")


@dataclass(frozen=True, eq=False)
class Held:
    """Over roots that the pedal holds, by the length that a chord rules, in quarters."""

    ways: Annotated[Mapping[float, Annotated[tuple[HeldWay, ...], Meta(min_length=1)]], Others()]

    def __post_init__(self) -> None:
        for length, ways in self.ways.items():
            if late := [way.name for way in ways if way.after[-1] >= length]:
                raise ValueError(f"'{late[0]}' has a chord after the {length:g} quarters that it is for")


@dataclass(frozen=True)
class Route:
    """How fourths slide through a bar."""

    name: str
    steps: Annotated[tuple[tuple[Quarters, Interval], ...], Meta(min_length=1)]
    """Quarters from the bar line, and semitones away from where they land."""
    lands: Place = 0.0
    """Quarters from the next bar line."""

    def __post_init__(self) -> None:
        if not _in_order([place for place, _ in self.steps]):
            raise ValueError("steps go from the first to the last")


@dataclass(frozen=True, eq=False)
class Slides:
    """Routes of sliding fourths, by the length of a bar in quarters."""

    chance: Annotated[float, Meta(ge=0, le=48, description="semitones")]
    """Semitones by which a route may begin farther from the hand (standard deviation)."""
    routes: Annotated[Mapping[str, Annotated[tuple[Route, ...], Meta(min_length=1)]], BarLength]


@dataclass(frozen=True)
class Rhythm:
    """A rhythm over one bar."""

    name: str
    hits: Annotated[tuple[tuple[Place, Beats], ...], Meta(min_length=1)]
    """Place and length in quarters; a place below 0 lies in the bar before."""

    def __post_init__(self) -> None:
        if not _in_order([place for place, _ in self.hits]):
            raise ValueError("hits go from the first to the last")


@dataclass(frozen=True, eq=False)
class RhythmSet:
    """Rhythms by the length of a bar in quarters, or by its metre."""

    bars: Annotated[Mapping[str, Annotated[tuple[Rhythm, ...], Meta(min_length=1)]], BarLength]


@config("comping")
@dataclass(frozen=True, eq=False)
class CompingPreferences:
    """Where the chords fall."""

    placement: Placement
    phrases: Phrases
    late: LateVoices
    held: Held
    slides: Slides
    swing: RhythmSet
    """The set that stands in for what another one doesn't have."""
    others: Annotated[Mapping[str, RhythmSet], Others()]

    @property
    def sets(self) -> Mapping[str, RhythmSet]:
        """The sets of rhythms by name."""
        return {"swing": self.swing, **self.others}
