"""``bass.toml``: where the bass may lie, what a good line costs, and the patterns it may play."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.structure import Others, Short
from companion.preferences.units import (
    Bars,
    Count,
    MidiNumber,
    Milliseconds,
    Place,
    Price,
    Quarters,
    Seconds,
    Semitones,
    Share,
    SomeBars,
    Tempo,
    Weight,
)

Role = Literal["root", "third", "fifth", "seventh", "tenth", "octave", "tone", "walk", "lead", "ahead", "pedal"]
"""What is wanted at a place."""
Intervals = Annotated[tuple[Price, ...], Meta(min_length=1)]
"""Prices by the semitones from one note to the next, from 0 up."""
BarLength = Others(
    like='lengths of a bar in quarters such as "4", or metres such as "6/8"', fits=lambda text: is_bar(text)
)


def is_bar(text: str) -> bool:
    """Whether a key says a bar's length in quarters, or its metre."""
    return bool(re.fullmatch(r"\d+(\.\d+)?|[1-9]\d*/[1-9]\d*", text)) and not re.fullmatch(r"0+(\.0+)?", text)


@dataclass(frozen=True)
class BassRange:
    """What the instrument reaches, in MIDI numbers."""

    lowest: MidiNumber
    highest: MidiNumber
    comfortable: tuple[MidiNumber, MidiNumber]
    """The line may leave it ..."""
    outside: Price
    """... for so much a semitone."""

    def __post_init__(self) -> None:
        low, high = self.comfortable
        if not (self.lowest <= self.highest - 12 and self.lowest <= low <= high <= self.highest):
            raise ValueError(
                f"from {self.lowest} to {self.highest}, comfortable {[low, high]}, is no range for a bass: "
                "an octave at least, and the comfortable part [from, to] within it"
            )

    @property
    def size(self) -> int:
        """How many pitches there are in it."""
        return self.highest - self.lowest + 1


@dataclass(frozen=True, eq=False)
class BassCosts:
    """What a line dislikes; the one with the smallest sum is played."""

    interval: Intervals
    third_time: Price
    """The same pitch three times."""
    repeat_across: Price
    """The same pitch on the last beat and on the chord it leads to, besides its interval."""
    leap: Semitones
    """An interval of so many is a leap, and likes to turn back ..."""
    no_turn: Price
    wide: Semitones
    """... one of so many must, the octave apart."""
    no_turn_wide: Price
    turn: Price
    """A change of direction."""
    there_and_back: Price
    """Back to the note before the last."""
    quick_leap: Price
    """A leap to a quaver between the beats, or more than a step from it; half of it where the line turns there."""
    chord_tone: Price
    guide_tone: Price
    """The third and the seventh."""
    scale_tone: Price
    avoided: Price
    """A scale note that rubs against the chord, on a weak beat."""
    avoided_leap: Price
    chromatic: Price
    """Between neighbours a tone apart, or a semitone from the root it leads to."""
    chromatic_and_back: Price
    """The same between twice the same note."""
    wrong: Price
    """Any other."""
    root: Price
    """The first beat of a new chord: its root or slash bass."""
    not_root: Price
    """Its third or fifth there."""
    downbeat_other: Price
    """Bar line over the same chord: anything but root, third, fifth."""
    downbeat_chromatic: Price
    root_again: Price
    """The root on a weak beat."""
    long: Bars
    """A chord of so many bars is a long one."""
    long_not_root: Price
    """In it another than its root on the first beat of its third, fifth ... bar."""
    long_root_between: Price
    """In it its root on the first beat of its second, fourth ... bar."""
    lead_semitone: Price
    """The last note before a new chord, by the interval to its root."""
    lead_step: Price
    lead_fifth: Price
    lead_fifth_below: Price
    lead_other: Price
    root_to_root: Price
    """A root right after another that is neither a step nor a fifth away."""
    pattern_share: Share
    """Of the bars of a chart: a pattern of degrees beyond it is priced out."""
    pattern: Price
    """Each time a pattern comes again."""
    pattern_next: Price
    """In the very next bar."""
    over_share: Price
    no_guide: Price
    """A bar of one chord without third and seventh."""
    no_guide_tight: Price
    """In a bar of two notes, or where all but two begin a chord."""
    two_notes: Price
    """A bar to and fro between two notes."""
    never_turns: Price
    """Six notes and more in a bar without a turn to each four."""
    turn_at_end: Price
    """A change of direction in the bar that ends a section."""


@dataclass(frozen=True)
class Spelling:
    """What a walk says of its chord, and how it comes to the next."""

    third_beat_other: Price
    """The middle of a bar of one chord: anything but its root, third, fifth, seventh."""
    few_tones: Price
    """Fewer than two of these among the first three notes of such a bar."""
    not_own: Price
    """A scale note over a diminished or minor-major chord."""
    subdominant: Price
    """Over a minor tonic its fourth in the middle of a bar, or in one bar with its sixth: that is IV ..."""
    fourth: Price
    """... and its fourth anywhere else."""
    fifths: Share
    """Of the approaches, those from the fifth of what comes ..."""
    not_fifth: Price
    """... and what another costs where they are too few, and a fifth where they are too many."""
    thirds: Share
    """Of the chords whose third lies between the roots around them, those that stand on it."""


@dataclass(frozen=True)
class FillFigure:
    """Notes between the beats."""

    at: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """Where they are struck, in beats."""
    tempo: tuple[Tempo, Tempo]
    """Beats a minute, from and up to, at which it is played."""
    share: Weight = 1.0
    """How often it is taken, against the others."""


@dataclass(frozen=True, eq=False)
class BassFills:
    """How a phrase of a walk or of a pattern ends."""

    phrase: Share
    """Of the phrases, those that end with a fill ..."""
    section: Share
    """... and of the sections."""
    shortest_ms: Milliseconds
    """At the piano nothing is struck between the beats so close to its neighbour, or closer."""
    pattern: Share
    """Of the phrases in a pattern that has ways for their end, those that take one; sections always do."""
    ways: tuple[FillFigure, ...]
    """What is struck in the last bar of a walk, in beats before the next bar line."""


@dataclass(frozen=True, eq=False)
class SlowWalk:
    """How a slow walk is subdivided."""

    from_tempo: Tempo
    """Beats a minute from which down beats are divided ..."""
    down_to: Tempo
    """... and at which ``share`` is reached."""
    share: Share
    """Of the beats, those with notes between them and the next."""
    leads: Weight
    """How much rather that is a beat which leads to another chord, against the others."""
    ways: tuple[FillFigure, ...]
    """What is struck after such a beat, in beats from it."""

    def __post_init__(self) -> None:
        if self.down_to >= self.from_tempo:
            raise ValueError("down-to is a slower tempo than from-tempo")


@dataclass(frozen=True)
class Instead:
    """What stands in for a note that a pattern asks for."""

    fifth_by_root: Price
    fifth_by_third: Price
    seventh_by_fifth: Price
    other: Price
    """Any other note of the twelve."""
    high_root: Price
    """Each semitone by which a root lies too high for its tenth."""
    small_rise: Price
    """A rise that is smaller than the pattern's."""
    no_rise: Price
    """None at all."""


@dataclass(frozen=True)
class Arcs:
    """The arcs that the line draws over its phrases."""

    seconds: Seconds
    """A phrase lasts about so long ..."""
    bars: Annotated[tuple[SomeBars, ...], Meta(min_length=1)]
    """... and so many bars."""
    there_and_back: Share
    """Of the arcs, those that come back to where they began."""
    middle: tuple[Share, Share]
    """Where in the phrase they turn: a range."""
    begins_high: Share
    """Of the choruses."""
    loose: Share
    """Of the comfortable range: how far an arc's ends lie from its ends."""
    pull: Price
    """A semitone away from it."""


@dataclass(frozen=True)
class LineChance:
    """How freely the line is drawn."""

    temperature: Annotated[float, Meta(ge=0, le=100, description="a temperature; 0 is always the best")]
    temperature_tight: Annotated[float, Meta(ge=0, le=100, description="a temperature; 0 is always the best")]
    """In a bar with less to choose."""
    other_lot: Price
    """A way that belongs to another of the six choruses running."""
    other_lot_tight: Price
    within: Price
    """No bar is drawn that costs so much more than the best."""
    same_way: Annotated[float, Meta(ge=0.01, le=1, description="a share")]
    """Of its own share, that is left to the way through a bar that was taken last."""
    beam: Annotated[int, Meta(ge=1, le=1000, description="ways through a bar that are kept")]


@dataclass(frozen=True)
class Skips:
    """A ghosted quaver before a beat."""

    share: Share
    """Of the bars."""
    section_end: Share
    """Of the bars that end a section."""
    ahead: Share
    """Of the skips, those that say the note to come."""
    weight: Share
    length: Quarters
    feel: tuple[str, ...]
    slowest: Tempo
    fastest: Tempo

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise ValueError("length is a number of quarters above 0")


@dataclass(frozen=True, eq=False)
class Quavers:
    """Between the beats of a walk."""

    fastest: Tempo
    """Beats a minute at which the hand still gets there."""
    of_roots: Share
    """Of the bars with a chord to each beat."""
    few: Count
    """Bars of so few beats have one at least ..."""
    fastest_of_few: Tempo
    """... up to so many beats a minute."""
    of_few: tuple[Share, Share, Share]
    """Of those: after the first beat, after the last, after each ..."""
    fastest_of_both: Tempo
    """... which is too much beyond so many beats a minute."""
    weight: Share

    def __post_init__(self) -> None:
        if not sum(self.of_few[:2]):
            raise ValueError("of-few leaves no share to the first beat or the last")


@dataclass(frozen=True)
class Way:
    """One way through a bar."""

    at: Annotated[tuple[tuple[Place, Role], ...], Meta(min_length=1)]
    """Quarters from the bar line, and what is wanted there."""
    share: Weight = 1.0
    """How often it is dealt out, against the others."""
    ends: bool = False
    """It is for bars that end a phrase."""

    def __post_init__(self) -> None:
        if any(place < 0 for place, _ in self.at):
            raise ValueError("a place of the bass lies in its bar, not below 0")


def _only_way(value: Any) -> Any:
    return [{"at": value}] if isinstance(value, list) and value and isinstance(value[0], list) else value


Ways = Annotated[tuple[Way, ...], Short(_only_way), Meta(min_length=1)]


@dataclass(frozen=True, eq=False)
class Pattern:
    """A pattern of the bass."""

    ways: Annotated[Mapping[str, Ways], BarLength]
    """By the bar's length in quarters, or its metre."""
    every: Literal["beat"] | None = None
    """Strikes each beat of the metre."""
    hold: Annotated[float, Meta(ge=0.05, le=1, description="a share of the length")] = 0.9
    pedal: bool = False
    """The notes are caught by it."""
    rises: bool = False
    """Fifth, seventh, tenth and octave lie above the note before."""
    by_chord: bool = False
    """Where a chord begins within a bar, its part of the bar is a bar of its own."""
    one_note: bool = False
    """Chords change nothing."""
    free_leaps: bool = False
    """Nothing has to turn back."""
    swing_skips: bool = False
    keeps: bool = False
    """One way through a bar is kept for a section, until its last."""
    interval: Intervals | None = None
    """Prices of its own."""

    def __post_init__(self) -> None:
        for length, ways in self.ways.items():
            if not sum(way.share for way in ways if not way.ends):
                raise ValueError(f"none of the ways for '{length}' has a share")


@config("bass")
@dataclass(frozen=True, eq=False)
class BassPreferences:
    """The bass."""

    range: BassRange
    costs: BassCosts
    spelling: Spelling
    instead: Instead
    shape: Arcs
    chance: LineChance
    skips: Skips
    quavers: Quavers
    fills: BassFills
    slow: SlowWalk
    patterns: Mapping[str, Pattern]
