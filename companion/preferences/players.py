"""``players.toml``: how the built-in players play, and the rhythms of their left hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from msgspec import Meta

from companion.preferences.reading import config
from companion.preferences.structure import Others
from companion.preferences.units import (
    Count,
    Factor,
    Interval,
    MidiNumber,
    Milliseconds,
    Quarters,
    Seconds,
    Semitones,
    Share,
    SwingRatio,
    Weight,
)
from companion.preferences.voicings import QUALITIES

Spread = Annotated[float, Meta(ge=0, le=0.2, description="a share of the tempo or of a beat")]


@dataclass(frozen=True)
class PlayerManner:
    """How a player plays. What isn't said is as somebody plays who makes no slips, in the time of jazz trios."""

    wrong: Share = 0.0
    """Of the notes, struck wrong by a step or a semitone."""
    left_out: Share = field(default=0.0, metadata={"key": "left_out"})
    ornaments: Share = 0.0
    octaves: Share = 0.0
    """Of the phrases."""
    moves: Count = 0
    """Leaps to another place of the form, at most."""
    stops: Count = 0
    """Silences, at most."""
    hesitations: Count = 0
    """Beats that come late."""
    stop_seconds: tuple[Seconds, Seconds] = field(default=(2.0, 6.0), metadata={"key": "stop_seconds"})
    """How long a silence lasts: a range."""
    drift: Spread = 0.004
    """Change of the tempo from beat to beat (standard deviation, share of the tempo)."""
    jitter: Spread = 0.025
    """Unevenness that doesn't add up (standard deviation, share of a beat)."""
    spread_ms: tuple[Milliseconds, Milliseconds] = field(default=(15.0, 25.0), metadata={"key": "spread_ms"})
    """How far notes fall from their beat (standard deviation): a range."""
    gain: Annotated[float, Meta(ge=-0.9, le=4)] = 0.0
    """How much faster the end is than the beginning (0.4 = 40 per cent)."""
    freedom: Share = 0.0
    """Variation of the length of a beat in free time; 0: strict."""
    lead_ms: Milliseconds = field(default=0.0, metadata={"key": "lead_ms"})
    """How far the melody comes before the beat."""
    behind_ms: tuple[Milliseconds, Milliseconds] = field(default=(0.0, 0.0), metadata={"key": "behind_ms"})
    """How far a soloist's on-beat notes lie behind the beat: a range."""
    outside: Share = 0.0
    """Of a soloist's notes, outside the scale."""
    pedal: bool = False


BarRhythm = tuple[tuple[Quarters, Quarters], ...]
"""Beats and lengths over one bar, written."""


SomeQuarters = Annotated[float, Meta(ge=0.25, le=64, description="quarters")]
MidiRange = tuple[MidiNumber, MidiNumber]
"""From one MIDI number to another."""
Factors = tuple[Factor, Factor]
"""A range of how hard notes are struck, 1 = as the player does."""


@dataclass(frozen=True)
class Graces:
    """Notes struck into a note, or a turn on it."""

    pace: tuple[Seconds, Seconds]
    """That each takes, whatever the tempo: a range."""
    below: Share
    above: Share
    """The others are turns."""
    weight: Factor
    octave: Factor
    """Of the lower note of an octave."""


@dataclass(frozen=True)
class ChordLine:
    """Rootless chords for the left hand."""

    lowest: MidiRange
    """Between which the lowest note lies."""
    centre: MidiNumber
    """About which the first chord lies."""
    sizes: tuple[Share, Share, Share]
    """Of chords of four notes, of three, of two."""
    left_out: Share
    """Of the chords of a rhythm."""
    held: Factors
    """Of the written length: a range."""
    weight: Factors

    def __post_init__(self) -> None:
        if not sum(self.sizes):
            raise ValueError("sizes leaves no share to any chord")


@dataclass(frozen=True)
class AnswerLine:
    """Chords in the melody's gaps."""

    wait: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """After a long note has begun."""
    room: Quarters
    """That have to be left then before the melody moves on."""
    left_out: Share
    """Of the gaps."""
    gap: Annotated[float, Meta(ge=0.5, le=64, description="quarters")]
    """In which there may be another."""
    again: Annotated[float, Meta(ge=0, le=0.99, description="a share")]
    apart: Annotated[tuple[SomeQuarters, ...], Meta(min_length=1)]
    late: Share
    """Of the chords of four, those whose highest note comes late."""
    weight: Factor


@dataclass(frozen=True, eq=False)
class BassLine:
    """A note a beat."""

    lowest: MidiNumber
    highest: MidiNumber
    begins: MidiRange
    leads: Mapping[Interval, Weight]
    """How often the last note of a chord lies so many semitones from the next one's root."""
    chord_tone: Weight
    """How much likelier a tone of the chord is than another of the scale."""
    backbeat: Factor
    beat: Factor
    skips: Share
    """Of the beats, those that skip by a ghosted quaver."""
    skip_weight: Factor

    def __post_init__(self) -> None:
        if self.highest - self.lowest < 12 or not self.begins[0] <= self.begins[1]:
            raise ValueError("an octave at least from lowest to highest, and begins goes from low to high")
        if not sum(self.leads.values()):
            raise ValueError("leads leaves no share to any interval")


Drawn = tuple[Annotated[float, Meta(ge=0.25, le=16, description="quarters")], Annotated[int, Meta(ge=1, le=32)], Weight]
"""A figure: over so many quarters so many notes, and how often."""


@dataclass(frozen=True, eq=False)
class SoloLine:
    """Quavers mostly, chord notes on the beat."""

    lowest: MidiNumber
    highest: MidiNumber
    begins: MidiRange
    phrase: tuple[SomeQuarters, SomeQuarters]
    """That a phrase lasts: a range."""
    rests: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """Between two phrases."""
    rests_loose: Annotated[tuple[Quarters, ...], Meta(min_length=1)]
    """The same of a player who lies behind the beat."""
    swing_loose: tuple[SwingRatio, SwingRatio]
    """Of such a player, from phrase to phrase: a range."""
    figures: Annotated[tuple[Drawn, ...], Meta(min_length=1)]
    figures_loose: tuple[Drawn, ...]
    """More of such a player's."""
    on_chord: Share
    """Of the notes on a beat, those that are the chord's."""
    turns: Share
    """Chance that the line turns round, at each note."""
    steps: Mapping[Interval, Weight]
    """How often it goes on by so many semitones, or the next note that fits."""
    weight: Factors
    on_beat: Factor
    """How much more on a beat."""

    def __post_init__(self) -> None:
        if self.highest - self.lowest < 12 or not self.begins[0] <= self.begins[1]:
            raise ValueError("an octave at least from lowest to highest, and begins goes from low to high")
        if not sum(self.steps.values()) or not sum(weight for _, _, weight in self.figures):
            raise ValueError("steps and figures need a weight above 0 each")


VoicingSteps = Annotated[tuple[Semitones, ...], Meta(min_length=1)]


@dataclass(frozen=True, eq=False)
class LeftHand:
    """Voicings by the kind of chord: semitones above the root, from its third and from its seventh."""

    of: Annotated[Mapping[str, tuple[VoicingSteps, VoicingSteps]], Others(only=QUALITIES)]


@dataclass(frozen=True, eq=False)
class Lines:
    """What the players play over the changes, when it isn't written."""

    graces: Graces
    chords: ChordLine
    answers: AnswerLine
    bass: BassLine
    solo: SoloLine
    voicings: LeftHand


@config("players")
@dataclass(frozen=True, eq=False)
class PlayerPreferences:
    """The players by name, and what their left hand comps, by the bar's length in quarters."""

    player: Mapping[str, PlayerManner]
    lines: Lines
    comping: Mapping[float, Annotated[tuple[BarRhythm, ...], Meta(min_length=1)]]
