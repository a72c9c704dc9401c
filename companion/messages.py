"""What goes into a rehearsal and what comes out of it: the vocabulary that ports, follower and stage share.

Conventions: seconds on the rehearsal's one clock (in a replay, of the performance file; live, of the player process's
``time.monotonic``, to which a port's stamps are mapped); MIDI numbers and velocities 0-127.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

PARTS = ("melody", "chords", "bass", "solo", "click")
"""What a player or the companion can play; 'solo' is an improvised line in the melody's place."""


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
    name: str
    value: Any = None


@dataclass(frozen=True)
class Order:
    """A message to be sounded at a moment. Given MS of latency ahead; it can't be recalled."""

    seconds: float
    part: str
    """'bass', 'chords', 'melody', 'solo' or 'click': the edge maps it to a channel."""
    status: int
    data1: int
    data2: int


@dataclass(frozen=True)
class Beat:
    """Report: a beat of the metre is sounded, or would be with nothing to play there."""

    chart_beat: float
    seconds: float
    sure: float
    """Probability (0-1) that this is the player's beat there, within 70 ms."""
    chorus: int = 1
    """1 the first time through the form. An introduction belongs to the first, an ending to the last."""
    event: str = ""
    """'introduction', 'head', 'solos' or 'ending'; empty where no order of events is played."""
    turn: str = ""
    """'yours' or 'ours' where player and companion improvise in turn."""


@dataclass(frozen=True)
class State:
    """Report: what the companion is doing has changed, or the event that is on, or what it knows of the last time."""

    seconds: float
    name: str
    """'waiting', 'counting', 'playing', 'thinning', 'holding', 'ended'."""
    chart_beat: float | None = None
    tempo: float | None = None
    """Quarters a minute."""
    sure: float | None = None
    event: str = ""
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
    event: str
    """'note' or 'look'."""
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


Report = Beat | State | Belief


@dataclass(frozen=True)
class Step:
    """What one call of ``Rehearsal.advance`` gives back."""

    orders: tuple[Order, ...]
    reports: tuple[Report, ...]
    wake: float | None
    """When the rehearsal wants to be called next if nothing is heard before; None: only when something is heard."""
