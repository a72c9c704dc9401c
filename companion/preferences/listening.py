"""``listening.toml``: what the companion makes of how the player plays, while it plays."""

from __future__ import annotations

from dataclasses import dataclass

from companion.preferences.reading import config
from companion.preferences.units import Beats, Count, Factor, MidiNumber, Price, Seconds, Share


@dataclass(frozen=True)
class Dynamics:
    """How its level goes with the player's."""

    halfway: Beats
    """In which it goes half the way."""
    latest: Beats
    """A note after a longer silence counts as one after so many."""
    least: Share
    """Of the way, that any note takes it."""

    def __post_init__(self) -> None:
        if self.halfway <= 0:
            raise ValueError("halfway is a number of beats above 0")


@dataclass(frozen=True)
class Busy:
    """The chords thin out behind a busy player."""

    window: Beats
    """That are looked back."""
    extra: tuple[Beats, Beats]
    """Onsets in the window beyond the written ones: from where on the chords thin, and where they do most."""
    running: tuple[Beats, Beats]
    """The same for an improvised line: onsets a beat."""
    slack: Beats
    """By which a note of the player's may lie from its written place."""
    left_out: Share
    """Of the chords, at most."""
    voices: tuple[Count, Count]
    """Notes that a chord keeps, at leisure and at the busiest."""

    def __post_init__(self) -> None:
        if not self.extra[0] < self.extra[1] or not self.running[0] < self.running[1]:
            raise ValueError("extra and running go from a number to a greater one")


@dataclass(frozen=True)
class Answering:
    """The chords answer a player at rest."""

    gap: Beats
    """Since the player's last note, where the chart has had another one meanwhile."""
    rest: Beats
    """The same where nothing is written for the player."""
    apart: Beats
    """That it keeps from its other chords."""
    length: Beats
    """That it sounds."""
    off_beat: Share
    """Of the answers, on the off-beat quaver."""
    weight: Factor
    """To the chords' level."""


@dataclass(frozen=True)
class Doubt:
    """The companion holds back where it isn't sure of the place."""

    unsure: Share
    """Probability of the place under which it holds back."""
    sure: Share
    """And from which it plays on."""


@dataclass(frozen=True, eq=False)
class Agree:
    """What clashes gives way to a chord of the player's own; weights are added up over the notes heard."""

    together: Seconds
    """Within which keys are one chord."""
    chord: Count
    """Keys struck together that say a chord."""
    chord_comping: Count
    """The same where the player's part is the chords."""
    held: Beats
    """After which a single note counts."""
    held_bass: Beats
    """The same in a bass line."""
    left_hand: MidiNumber
    """Under which a player of the bass and more plays it."""
    carried: Beats
    """Into a new chord, after which what is held over from the last one counts."""
    melody: Beats
    """That a note of the companion's melody goes on sounding."""
    early: Beats
    """What is struck so many before a chord belongs to it."""
    ahead: Beats
    """What sounds so many before a chord is compared with what is played over that chord."""
    written: Beats
    """A note within so many of the same one in the melody is the melody's."""
    tone: Price
    """How much a chord is heard in a tone of it."""
    tension: Price
    """In a tension that it may have."""
    foreign: Price
    """In any other note."""
    root_below: Price
    """Its root is the lowest note."""
    charted: Price
    """It is the chart's chord."""
    same_root: Price
    """It stands on the chart's root."""
    tritone: Price
    """A dominant on the other side of the circle."""


@config("listening")
@dataclass(frozen=True)
class ListeningPreferences:
    """How the companion reacts to what it hears."""

    dynamics: Dynamics
    busy: Busy
    answer: Answering
    doubt: Doubt
    agree: Agree
