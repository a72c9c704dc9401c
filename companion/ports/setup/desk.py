"""What a step of the dialogue works with: what comes in, what goes out, and what has been found so far.

A step is a generator. It yields the moment up to which it waits, and is sent the next event, or None when the moment
has come without one. Whatever it says or sends on the way goes through the :class:`Desk`. So a step reads no clock and
opens no port, and is the same before a real piano and before a simulated one.

Conventions: seconds on the clock of whoever drives; raw MIDI messages as tuples of bytes; channels 1-16.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Literal, TypeVar

from companion.messages import Part
from companion.ports.choice import Ports
from companion.ports.echo import EchoFilter
from companion.ports.instruments import SetupName
from companion.ports.setup.identity import Identity
from companion.ports.sound import NAME as COMPUTER

NOTE_OFF, NOTE_ON, CONTROLLER, PROGRAM, SYSTEM = 0x80, 0x90, 0xB0, 0xC0, 0xF0
DOWN = 64
"""A pedal is down from this value (MIDI 1.0)."""
ECHO_WINDOW = 0.5
"""Seconds within which a copy of what we sent is taken for one while it isn't known how soon they come."""

SetupStep = Literal[
    "key", "range", "pedals", "open", "sound", "other channels", "bass", "bass sound", "own sound", "clicks", "local",
    "keep local", "left hand", "right hand", "keep", "over",
]  # fmt: skip
"""What is being asked or tried."""


@dataclass(frozen=True)
class FromPort:
    """A message that came in."""

    seconds: float
    port: str
    message: tuple[int, ...]


@dataclass(frozen=True)
class Typed:
    """A line typed at the computer's keyboard; '' is Enter alone."""

    seconds: float
    text: str


@dataclass(frozen=True)
class Opened:
    """What became of an output that was to be opened."""

    seconds: float
    port: str
    trouble: str = ""
    """Why it couldn't be; '' when it is open."""


@dataclass(frozen=True)
class Sent:
    """A message went out: told by whoever sends it, because only they know when."""

    seconds: float
    message: tuple[int, ...]


SetupEvent = FromPort | Typed | Opened | Sent


@dataclass(frozen=True)
class OpenOutput:
    """Have this output open, and no other; the companion's identity request goes to it as well."""

    port: str


@dataclass(frozen=True)
class ToPort:
    """Send this at once, to the output that is open."""

    message: tuple[int, ...]


@dataclass(frozen=True)
class Reply:
    """What one call of ``SettingUp.advance`` gives back."""

    deeds: tuple[OpenOutput | ToPort, ...]
    """In this order."""
    lines: tuple[str, ...]
    """For whoever reads."""
    wake: float | None
    """When it wants to be called next if nothing comes before; None: it is over."""


@dataclass
class Findings:
    """What is known so far; None: not known, so it stays as it is."""

    input: str | None = None
    """The port that the player's keys come from."""
    channels: set[int] = field(default_factory=set)
    """On which the keys come."""
    first_channel: int = 1
    """That of the key that was pressed first."""
    keys: tuple[int, int] | None = None
    """Lowest and highest."""
    pedals: tuple[int, ...] | None = None
    half_pedal: bool = False
    output: str | None = None
    """What sounds the companion."""
    setup: SetupName | None = None
    """What ``output`` is to the player."""
    parts: dict[Part, int] = field(default_factory=dict)
    """Channels of the companion's parts, where they were heard."""
    programs: dict[Part, int] = field(default_factory=dict)
    through: bool | None = None
    """Whether the output sounds the player's keys too."""
    hands: dict[str, int] = field(default_factory=dict)
    """How far each hand reaches: semitones by 'left' and 'right'."""
    latency_ms: float | None = None
    """As the player says."""
    there_and_back_ms: float | None = None
    """From a message of ours to its copy, the median."""
    latest_copy_ms: float | None = None
    identity: Identity | None = None


YES, NO = ("y", "yes"), ("n", "no")

T = TypeVar("T")
Talk = Generator[float, "FromPort | Typed | Opened | None", T]
"""A step, or part of one: yields moments, is sent what comes until then, and gives what it found."""


class Skipped(Exception):
    """The player goes on to the next step."""


class Desk:
    """What all steps share.

    Parameters
    ----------
    ports : Ports
        Those there are, without the ones that only pass messages on.
    computer : bool
        Whether the computer has a sound of its own.
    partner : callable
        The output of the instrument that an input belongs to, or None.
    typing : bool
        Whether anything can be typed at the computer.
    """

    def __init__(self, ports: Ports, computer: bool, partner: Callable[[str], str | None], typing: bool = True):
        self.ports, self.computer, self.partner, self.typing = ports, computer, partner, typing
        self.now = 0.0
        self.step: SetupStep = "key"
        self.found = Findings()
        self.echo = EchoFilter(ECHO_WINDOW)
        self.output: str | None = None
        """The output that is open."""
        self.owes_local = False
        """Local control was turned off and hasn't been kept so."""
        self.owes_program: int | None = None
        """The channel whose sound was changed on :attr:`Findings.output`."""
        self.deeds: list[OpenOutput | ToPort] = []
        self.lines: list[str] = []
        self._sounding: set[tuple[int, int]] = set()

    def say_typist(self, *lines: str) -> None:
        """Lines for whoever can type."""
        if self.typing:
            self.say(*lines)

    def say(self, *lines: str) -> None:
        """Lines for the player."""
        self.lines += lines

    def open(self, port: str) -> Talk[bool]:
        """Have an output open; whether it is."""
        self.end_notes()
        self.step = "open"
        self.output = None
        self.echo = EchoFilter(ECHO_WINDOW)  # another instrument has another way back
        self.deeds.append(OpenOutput(port))
        until = self.now + 20.0
        while (event := (yield until)) is not None:
            if isinstance(event, Opened) and event.port == port:
                if event.trouble:
                    self.say(f"   {event.trouble}")
                    return False
                self.output = port
                return True
        return False

    def send(self, kind: int, channel: int, *data: int) -> None:
        """Send a channel message to the output that is open."""
        if self.output is None:
            return
        if kind == NOTE_ON:
            self._sounding.add((channel, data[0]))
        elif kind == NOTE_OFF:
            self._sounding.discard((channel, data[0]))
        self.deeds.append(ToPort((kind | channel - 1, *data)))

    def end_notes(self) -> None:
        """End every note that sounds."""
        for channel, note in sorted(self._sounding):
            self.send(NOTE_OFF, channel, note, 64)

    def switch_local(self, on: bool) -> None:
        """Join the piano's keys to its sound, or part them (controller 122: MIDI 1.0)."""
        for channel in sorted(self.found.channels):
            self.send(CONTROLLER, channel, 122, 127 if on else 0)

    def pause(self, seconds: float) -> Talk[bool]:
        """Let time pass; whether the player pressed a key meanwhile, or typed 'y'."""
        until, struck = self.now + seconds, False
        while (event := (yield until)) is not None:
            struck |= self.is_yes(event)
            self.check_skip(event)
        return struck

    def quiet(self, seconds: float, at_most: float) -> Talk[None]:
        """Wait until no key has gone down for so long."""
        end, until = self.now + at_most, self.now + seconds
        while (event := (yield min(until, end))) is not None:
            if self.is_key(event):
                until = self.now + seconds
            self.check_skip(event)

    def answer(self, seconds: float) -> Talk[bool]:
        """Any key at the piano is yes, silence is no; so are 'y' and 'n', typed."""
        until = self.now + seconds
        while (event := (yield until)) is not None:
            if self.is_yes(event):
                return True
            if isinstance(event, Typed) and event.text in NO:
                return False
            self.check_skip(event)
        return False

    def is_yes(self, event: FromPort | Typed | Opened) -> bool:
        """Whether the player says yes."""
        return event.text in YES if isinstance(event, Typed) else self.is_key(event)

    def check_skip(self, event: FromPort | Typed | Opened) -> None:
        """Raise Skipped when Enter was pressed; another word is told what there is."""
        if not isinstance(event, Typed) or event.text in (*YES, *NO):
            return
        if event.text:
            self.say("   (Enter skips; y and n answer.)")
            return
        raise Skipped

    def is_key(self, event: FromPort | Typed | Opened) -> bool:
        """Whether a key of the player's went down."""
        if not isinstance(event, FromPort) or not is_stroke(event.message):
            return False
        return self.found.input in (None, event.port)

    @property
    def outputs(self) -> list[str]:
        """Where the companion may sound, the likeliest first."""
        own = self.partner(self.found.input) if self.found.input else None
        others = [port for port in self.ports.outputs if port != own]
        return [*([own] if own else []), *others, *([COMPUTER] if self.computer else [])]


def is_stroke(message: tuple[int, ...]) -> bool:
    """Whether a key goes down; a note-on with velocity 0 is a note-off (MIDI 1.0)."""
    return len(message) == 3 and message[0] & 0xF0 == NOTE_ON and message[2] > 0


def is_release(message: tuple[int, ...]) -> bool:
    """Whether a key comes up."""
    kind = message[0] & 0xF0
    return len(message) == 3 and (kind == NOTE_OFF or (kind == NOTE_ON and message[2] == 0))


def channel_of(message: tuple[int, ...]) -> int:
    """The channel of a message, 1-16."""
    return (message[0] & 0x0F) + 1
