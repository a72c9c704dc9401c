"""``solo.toml``: the companion's own line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import (
    Count,
    Factor,
    Interval,
    MidiNumber,
    Price,
    Quarters,
    Share,
    SomeBars,
    Tempo,
    Weight,
)

SomeNotes = Annotated[int, Meta(ge=1, le=64, description="notes")]
Steps = Mapping[Interval, Price]
"""Prices by the step in semitones, in the direction in which the line goes."""


@dataclass(frozen=True)
class SoloRange:
    """Where the line lies, in MIDI numbers."""

    lowest: MidiNumber
    highest: MidiNumber
    comfortable: tuple[MidiNumber, MidiNumber]
    """A line turns round before it leaves this."""
    away: Price
    """A semitone outside it."""

    def __post_init__(self) -> None:
        low, high = self.comfortable
        if not (self.lowest <= low <= high <= self.highest and self.highest - self.lowest >= 12):
            raise ValueError("an octave at least from lowest to highest, and the comfortable part within it")


@dataclass(frozen=True)
class PhraseLengths:
    """How phrases are cut."""

    bars: Annotated[tuple[SomeBars, ...], Meta(min_length=1)]
    """Lengths of a phrase, drawn at random."""
    breath: tuple[Quarters, Quarters]
    """Of silence at its end, at least and at most."""
    late: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """After its first bar line, at which it begins; drawn at random."""
    shortest: Count
    """Onsets in a phrase at least, where there is room."""


AT_SOME_TEMPI = ("triplet", "turn", "semiquavers")
"""Cells that are left out at others."""


@dataclass(frozen=True)
class Cell:
    """What may happen within a beat."""

    hits: tuple[Quarters, ...]
    """Places within the beat."""
    weight: tuple[Weight, Weight, Weight]
    """How likely it is as a phrase opens, goes on and closes."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Cells:
    """The cells of a beat."""

    named: Annotated[Mapping[str, Cell], Others()]
    again: Factor
    """How much likelier the cell before is."""
    most: Mapping[str, Count]
    """How many of a cell come running, at most."""

    def __post_init__(self) -> None:
        usual = [cell for name, cell in self.named.items() if cell.hits and name not in AT_SOME_TEMPI]
        if any(not sum(cell.weight[stage] for cell in usual) for stage in range(3)):
            raise ValueError("no cell with a hit has a weight at every tempo as a phrase opens, goes on and closes")


@dataclass(frozen=True, eq=False, kw_only=True)
class SimpleCells(Cells):
    """The cells of a beat that isn't dotted."""

    fast: Tempo
    """From which there are no triplets."""
    medium: Tempo
    """Up to which there are turns."""
    slow: Tempo
    """Up to which quavers may be halved."""


@dataclass(frozen=True, eq=False)
class Figure:
    """What a line does for a few notes."""

    weight: Weight
    notes: tuple[SomeNotes, SomeNotes]
    """How many."""
    steps: Steps

    def __post_init__(self) -> None:
        if self.notes[0] > self.notes[1]:
            raise ValueError("notes goes from a number to one that isn't smaller")


@dataclass(frozen=True, eq=False, kw_only=True)
class Enclosure(Figure):
    """A note above the aim, one below it, and the aim on the beat; or the other way about."""

    back: Steps
    home: Steps


@dataclass(frozen=True, eq=False, kw_only=True)
class Leap(Figure):
    """One leap, and back by steps."""

    first: Steps


@dataclass(frozen=True, eq=False)
class Figures:
    """The figures by name, in the order in which they are drawn."""

    scale: Figure
    arpeggio: Figure
    enclosure: Enclosure
    leap: Leap
    digits: Figure

    def __post_init__(self) -> None:
        if not sum(figure.weight for figure in self.all.values()):
            raise ValueError("at least one figure needs a weight")

    @property
    def all(self) -> Mapping[str, Figure]:
        """Each by its name."""
        return {
            "scale": self.scale,
            "arpeggio": self.arpeggio,
            "enclosure": self.enclosure,
            "leap": self.leap,
            "digits": self.digits,
        }


@dataclass(frozen=True)
class Turning:
    """How the line turns round."""

    chance: Share
    """That it does where a figure ends."""
    stride: Annotated[float, Meta(ge=0, le=12, description="semitones")]
    """That a note of a figure goes on, on average."""


@dataclass(frozen=True, eq=False)
class SoloCosts:
    """What a line dislikes."""

    other_step: Price
    """A step that the figure has no cost for ..."""
    other_semitone: Price
    """... and each semitone of it."""
    same: Price
    """The same pitch again."""
    chord_on_beat: Price
    tension_on_beat: Price
    scale_on_beat: Price
    chord_off: Price
    scale_off: Price
    foreign: Price
    """Outside the scale, leading by a semitone into a chord tone on the beat."""
    wrong: Price
    guide: Price
    """Third or seventh on the first beat of a chord."""
    last_chord_tone: Price
    """A phrase that ends on anything but a chord tone."""
    last_root: Price
    """Or on a root, which ends everything."""
    begins: Price
    """A semitone between the end of a phrase and the beginning of the next."""
    motif: Price
    """A semitone away from the player's interval."""
    motif_turned: Price
    """Another direction than theirs."""
    chance: Annotated[float, Meta(ge=0, le=100, description="the scale of a price drawn at random")]


@dataclass(frozen=True)
class MotifPreferences:
    """What is taken up from the player."""

    bars: SomeBars
    """Of the player's, that are looked back."""
    notes: tuple[SomeNotes, SomeNotes]
    """How many of them make a motif."""
    again: Share
    """Chance that it comes a second time, a bar later."""


@dataclass(frozen=True)
class Touch:
    """How strongly notes are struck, against the part's level."""

    on_beat: Factor
    off_beat: Factor
    peak: Factor
    """The top of a rise."""
    ghost: Factor
    """A note on the way between two higher ones, now and then."""
    ghosts: Share
    """Of those."""
    short: Share
    """Of the phrases, those that end on a short off-beat note."""


@config("solo")
@dataclass(frozen=True, eq=False)
class SoloPreferences:
    """The companion's own line."""

    range: SoloRange
    phrase: PhraseLengths
    cells: SimpleCells
    cells_compound: Cells
    figures: Figures
    turning: Turning
    costs: SoloCosts
    motif: MotifPreferences
    touch: Touch
