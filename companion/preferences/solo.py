"""``solo.toml``: the companion's own line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

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
    Semitones,
    Share,
    SomeBars,
    SomeNotes,
    Tempo,
    Weight,
)

PhraseRole = Literal["new", "again", "varied"]
"""What a phrase has to do with those before it: nothing, it says one of them again, or it varies one."""
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
    pickups: Share
    """Of the paragraphs, those whose phrases begin before their first bar line."""
    pickup: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """How long before it; drawn at random."""
    rests: Share
    """Of the phrases that say something again, those that leave the rest of their bars silent at the lowest heat."""


@dataclass(frozen=True)
class Paragraph:
    """How a few bars are told: phrases of so many bars, and what each has to do with those before it."""

    bars: Annotated[tuple[SomeBars, ...], Meta(min_length=1)]
    roles: tuple[PhraseRole, ...]
    weight: Weight

    def __post_init__(self) -> None:
        if len(self.bars) != len(self.roles):
            raise ValueError("a role for each phrase, no more and no fewer")


@dataclass(frozen=True)
class StoryArc:
    """How a solo climbs, over all of its choruses."""

    begins: Share
    """Heat at its beginning: 0 the calmest, 1 the peak's."""
    peak: Share
    """Where the peak lies, as a share of the whole."""
    ends: Share
    """Heat at its end."""
    curve: Annotated[float, Meta(ge=0.2, le=5, description="a power")]
    """1: it rises evenly; above 1: later."""
    low: tuple[MidiNumber, MidiNumber]
    """The lowest note at which a line turns round, where it is calm and at the peak."""
    high: tuple[MidiNumber, MidiNumber]
    """The highest."""
    top: tuple[MidiNumber, MidiNumber]
    """Where the highest note of all lies."""
    busy: tuple[Factor, Factor]
    """How much likelier beats of two notes and more are, where it is calm and at the peak."""
    sparse: tuple[Factor, Factor]
    """The same of beats with a single note or none."""
    room: tuple[Quarters, Quarters]
    """Silence after a phrase beyond its breath, where it is calm and at the peak."""
    trading: Share
    """Heat of all that is said in turn with the player."""
    carried: Share
    """Chance that a paragraph takes up what was said before it rather than begin with something new."""


@dataclass(frozen=True)
class IdeaPreferences:
    """What of a phrase is taken up by the next ones."""

    notes: tuple[SomeNotes, SomeNotes]
    bars: SomeBars
    """It is over after so many."""
    gap: Quarters
    """Or at a gap as long as this, once it has its fewest notes."""
    lift: tuple[Semitones, Semitones]
    """Semitones by which it may begin higher, or lower, where it comes again."""
    higher: tuple[Share, Share]
    """How often that is higher: where the solo rises, and where it falls."""
    displaced: Weight
    """It comes a beat later or earlier."""
    mirrored: Weight
    """It comes with its intervals turned round."""
    fragment: Weight
    """Its beginning comes twice or three times running."""
    continued: Weight
    """It comes as it was, and goes on from there."""
    reshaped: Weight
    """Its rhythm comes with other notes."""


@dataclass(frozen=True)
class RiffPreferences:
    """A chorus of one riff, in the blues."""

    chance: Share
    """That it comes in a solo of one chorus."""
    notes: tuple[SomeNotes, SomeNotes]


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
    """A semitone away from the interval that is taken up."""
    motif_turned: Price
    """Another direction than its."""
    near: Price
    """A semitone away from where what is taken up is to begin."""
    riff: Price
    """The same for a riff, which stays where it is."""
    ceiling: Price
    """A note above what the peak leaves to the others."""
    top: Price
    """The highest note of all, where it is to be."""
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
    arc: StoryArc
    paragraphs: Mapping[str, Paragraph]
    idea: IdeaPreferences
    riff: RiffPreferences
    touch: Touch
