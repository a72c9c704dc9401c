"""What goes into a rehearsal and what comes out of it: the vocabulary that ports, follower and stage share.

Conventions: seconds on the rehearsal's one clock (in a replay, of the performance file; live, of the player process's
``time.monotonic``, to which a port's stamps are mapped); MIDI numbers and velocities 0-127.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

Part = Literal["melody", "chords", "bass", "solo", "click"]
"""What a player or the companion can play; 'solo' is an improvised line in the melody's place."""
PARTS: tuple[Part, ...] = get_args(Part)
TUNE_PARTS: tuple[Part, ...] = ("melody", "chords", "bass")
"""What a tune consists of: what can be arranged and written down, and what the companion takes of it if the player
leaves it."""

Hand = Literal["right", "left"]
HANDS: tuple[Hand, ...] = get_args(Hand)
PaperSize = Literal["a4", "letter"]
PAPER_SIZES: tuple[PaperSize, ...] = get_args(PaperSize)

EventKind = Literal["introduction", "head", "solos", "ending"]
"""The steps in the order of events of a tune."""
EVENTS: tuple[EventKind, ...] = get_args(EventKind)

WhoseTurn = Literal["yours", "ours"]
"""Whose turn it is where player and companion improvise in turn."""

StateName = Literal[
    "waiting", "counting", "playing", "thinning", "holding", "tapping", "melody", "chords", "listening", "answering",
    "resting", "ended",
]  # fmt: skip
"""What the companion is doing. 'tapping', 'melody' and 'chords' say what is being captured; 'listening' and
'answering' whose turn it is where a tune is learnt by ear; 'resting' is between two rounds of a drill."""

NoteKind = Literal["right", "wrong", "missing", "extra"]
"""What became of a written note, or of one that isn't written: struck as written, as another, not at all, or added."""

WishName = Literal["start", "stop", "again", "faster", "slower", "next", "stay", "last time", "keep", "treatment"]
"""What can be asked for other than by playing: 'again' from the top, 'next' the next passage, 'stay' with this one
only, 'keep' this take, another 'treatment' for a section; its value is the section's name and the treatment's."""
WISHES: tuple[WishName, ...] = get_args(WishName)[:-1]
"""Those that need no value: what a key, a pedal or a switch can tell."""

HELD_WITHIN = 0.070
"""Seconds: a beat sounded this near to the player's own is in time with them (a common tolerance for beats in music
information retrieval; mir_eval's ``beat.f_measure``)."""
TINY = 1e-7
"""Seconds or beats that make no difference: far below what is heard, far above rounding errors."""


@dataclass(frozen=True)
class Heard:
    """A channel message from the player's keyboard."""

    seconds: float
    status: int
    """High nibble of the status byte: 0x80 note-off, 0x90 note-on, 0xB0 controller."""
    data1: int
    """MIDI number, or the controller's number."""
    data2: int
    """Velocity, or the controller's value. A note-on with velocity 0 is a note-off (MIDI 1.0)."""

    @property
    def is_note_on(self) -> bool:
        """A key went down."""
        return self.status == 0x90 and self.data2 > 0


@dataclass(frozen=True)
class Wish:
    """Something the player asked for other than by playing: from the page, a pedal, the command line."""

    seconds: float
    name: WishName
    value: Any = None


@dataclass(frozen=True)
class Order:
    """A message to be sounded at a moment. Given MS of latency ahead; it can't be recalled."""

    seconds: float
    part: Part
    """The edge maps it to a channel."""
    status: int
    data1: int
    data2: int


@dataclass(frozen=True)
class Beat:
    """Report: a beat of the metre is sounded, or would be with nothing to play there."""

    chart_beat: float
    seconds: float
    sure: float
    """Probability (0-1) that this is the player's beat there, within :data:`HELD_WITHIN`."""
    chorus: int = 1
    """1 the first time through the form. An introduction belongs to the first, an ending to the last."""
    event: EventKind | Literal[""] = ""
    """Empty where no order of events is played."""
    turn: WhoseTurn | Literal[""] = ""
    """Empty where nobody improvises in turn."""


@dataclass(frozen=True)
class State:
    """Report: what the companion is doing has changed, or the event that is on, or what it knows of the last time."""

    seconds: float
    name: StateName
    chart_beat: float | None = None
    tempo: float | None = None
    """Quarters a minute."""
    sure: float | None = None
    event: EventKind | Literal[""] = ""
    """As in :class:`Beat`."""
    time: int = 1
    """Which of the event's choruses it is."""
    times: int | None = None
    """How many there are; None: until the player says so."""
    last: bool = False
    """The player has said that it is the last time: a solo chorus leads to the head, any other to the ending."""


@dataclass(frozen=True)
class Belief:
    """Report: what the follower believed after an event (only when a trace is asked for)."""

    seconds: float
    event: Literal["note", "look"]
    pitch: int | None
    chart_beat: float
    tempo: float
    mass: float
    """Probability of the place it goes by."""
    spread: float
    """Standard deviation of the position, beats."""
    free: float
    """Probability that the time is taken freely."""
    stopped: float
    """Probability that the player has stopped."""
    places: tuple[tuple[float, float, float], ...] = ()
    """The likeliest places: chart beat, tempo, probability."""


@dataclass(frozen=True)
class Round:
    """Report: a round of a drill begins, or is over."""

    seconds: float
    number: int
    """From 1."""
    first: int
    last: int
    """Bars of the form that are drilled, 1 = its first full bar."""
    you: tuple[str, ...]
    """The player's parts."""
    key: str
    tempo: float
    """Quarters a minute."""
    start: float
    """The moment at which the first of these bars begins, the way in excluded."""
    good: bool | None = None
    """Whether it was good; None while it is under way, and when it was broken off."""
    why: str = ""
    """What wasn't right, and where; once it is over."""
    then: float | None = None
    """Tempo of the next round, once it is over; None: there is none."""
    hidden: bool = False
    """Whether the screen shows nothing of the tune: it is played from memory."""
    right: int = 0
    wrong: int = 0
    missing: int = 0
    extra: int = 0
    spread_ms: float | None = None
    """Standard deviation of the right notes from their beat, in milliseconds; None where there are too few."""


@dataclass(frozen=True)
class Treated:
    """Report: from this bar line on some sections are treated otherwise than the chart has it."""

    seconds: float
    sections: tuple[tuple[str, str], ...]
    """Every such section by name, with its treatment."""


Report = Beat | State | Belief | Round | Treated


@dataclass(frozen=True)
class Step:
    """What one call of ``Rehearsal.advance`` gives back."""

    orders: tuple[Order, ...]
    reports: tuple[Report, ...]
    wake: float | None
    """When the rehearsal wants to be called next if nothing is heard before; None: only when something is heard."""
