"""What the page is told: the one vocabulary of what goes from a player process to the page, and on to each browser.

Each message is a line of JSON; its ``kind`` says which of the classes below it is. A browser keeps the newest of each
kind, and what is drawn follows from these alone: whoever comes late or comes back gets them all at once.

Conventions: moments (``at``) are seconds on the live clock (:mod:`companion.stage.clock`), which all processes of the
machine share; chart beats and tempi in quarters; MIDI numbers.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from companion.arrange.chords.comping_style import CompingStyle
from companion.messages import EventKind, Part, StateName, WhoseTurn, WishName


class Outgoing(msgspec.Struct, frozen=True, tag_field="kind"):
    """Anything that the page is told."""


class Begun(Outgoing, frozen=True, tag="begun"):
    """A tune is on the stand, and is played from now on. What was told before is over."""

    number: int
    """Counts up: what a browser has of another number is of another tune, or arranged otherwise."""
    title: str
    you: tuple[Part, ...]
    parts: tuple[Part, ...]
    """The companion's."""
    ordered: bool = False
    """Whether the chart's order of events is played."""
    demo: bool = False
    """Whether the built-in pianist plays, and the browser is what sounds."""
    wishes: tuple[WishName, ...] = ("stop",)
    """What can be asked for."""


class BeatTold(Outgoing, frozen=True, tag="beat"):
    """:class:`companion.messages.Beat`, and the tempo of the last few beats."""

    at: float
    place: float
    """Chart beat."""
    sure: float
    chorus: int
    event: EventKind | Literal[""]
    turn: WhoseTurn | Literal[""]
    tempo: float | None
    doubt: str
    """That the place isn't sure, in words; empty as long as it is."""


class StateTold(Outgoing, frozen=True, tag="state"):
    """:class:`companion.messages.State`, and how a musician says it."""

    at: float
    name: StateName
    words: str
    place: float | None
    tempo: float | None
    event: EventKind | Literal[""]
    event_words: str
    """Which event is on: 'solos, chorus 2 of 3'."""
    last: bool


class RoundTold(Outgoing, frozen=True, tag="round"):
    """:class:`companion.messages.Round`, and how a musician says it."""

    at: float
    number: int
    first: int
    last: int
    """Bars of the form."""
    key: str
    tempo: float
    good: bool | None
    why: str
    hidden: bool
    """Nothing of the tune is shown."""
    words: str


class TreatedTold(Outgoing, frozen=True, tag="treated"):
    """:class:`companion.messages.Treated`: what is drawn of these sections changes."""

    at: float
    sections: dict[str, str]
    """Those treated otherwise than the chart has it."""


class LineSaid(Outgoing, frozen=True, tag="remark"):
    """Something for the player to read."""

    text: str


class Notes(Outgoing, frozen=True, tag="notes"):
    """Messages for the browser to sound, each at its moment; whoever comes late has missed them."""

    notes: tuple[tuple[float, int, int, int], ...]
    """Moment, status with the channel as on the wire, and the two data bytes."""


class Over(Outgoing, frozen=True, tag="over"):
    """Nothing is played any more."""

    why: str = ""
    """Where it didn't end of its own accord."""
    chooses: bool = False
    """Whether the page can choose what comes next."""
    take: str = ""
    """The name of the take that was kept of it, if one was."""


class Incoming(msgspec.Struct, frozen=True, tag_field="kind", tag="wish"):
    """What the page asks of a player process."""

    wish: WishName
    value: tuple[str, str] | None = None
    """Of a treatment: section and treatment."""


class PageOpened(msgspec.Struct, frozen=True, tag_field="kind", tag="opened"):
    """The first line of a page that a player process started: where it is."""

    url: str
    shared: str = ""
    code: str = ""


AnyOutgoing = Begun | BeatTold | StateTold | RoundTold | TreatedTold | LineSaid | Notes | Over


class OnTheStand(msgspec.Struct, frozen=True):
    """The first line of a player process: what it plays, for the page to draw. No browser gets it."""

    begun: Begun
    chart: str
    """Our own TOML."""
    treatment: str | None = None
    seed: int = 0
    style: CompingStyle | None = None
    treated: tuple[tuple[str, str], ...] = ()
    """Sections that are treated otherwise since it began."""


def to_line(message: msgspec.Struct) -> bytes:
    """A message as one line of JSON."""
    return msgspec.json.encode(message) + b"\n"


_OUTGOING: msgspec.json.Decoder[AnyOutgoing] = msgspec.json.Decoder(AnyOutgoing)
_INCOMING = msgspec.json.Decoder(Incoming)
_FROM_PAGE: msgspec.json.Decoder[Incoming | PageOpened] = msgspec.json.Decoder(Incoming | PageOpened)
_ON_THE_STAND = msgspec.json.Decoder(OnTheStand)


def read_outgoing(line: bytes) -> AnyOutgoing:
    """The reverse of :func:`to_line`. Raises msgspec.DecodeError for anything else."""
    return _OUTGOING.decode(line)


def read_incoming(line: bytes) -> Incoming:
    """The same for what is asked of a player process."""
    return _INCOMING.decode(line)


def read_from_page(line: bytes) -> Incoming | PageOpened:
    """The same for what comes from a page that a player process started."""
    return _FROM_PAGE.decode(line)


def read_on_the_stand(line: bytes) -> OnTheStand:
    """The same for the first line of a player process."""
    return _ON_THE_STAND.decode(line)
