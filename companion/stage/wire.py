"""What the player process and the sender process say to each other.

To the sender, over its standard input: frames of :data:`FRAME`, twelve bytes each. From the sender, over its standard
output: notices, one JSON object a line with the key ``what``:

=========== ======================================================================================
ready       the output is open; ``realtime`` says whether real-time priority was granted, ``mark`` where its mark
            lies (:mod:`companion.stage.sounding_marks`), ``silenced`` whether one of before was found
alive       the answer to a sign of life
lost, back  the output went away, came back (``port`` is its name now)
again       it had been away so shortly that only its connection was gone; it is made again
gone        it did not come back in time; the sender ends
failed      the sender can't go on: ``text``, ``mend``
done        everything is silent: ``sent``, ``median_ms``, ``p99_ms``, ``worst_ms`` of lateness, and ``dropped``, the
            notes that were too late to be begun
=========== ======================================================================================

Conventions: seconds on the live clock (:mod:`companion.stage.clock`), which both processes share.
"""

from __future__ import annotations

import json
import struct
from dataclasses import asdict, dataclass
from typing import Any, Literal, NamedTuple

from companion.ports.connection import PortChange
from companion.ports.instruments import Synth

NoticeKind = Literal["ready", "alive", "failed", "done"] | PortChange
"""What a notice says, as in the table above."""

FRAME = struct.Struct("<dBBBB")
"""Due (seconds), kind, and up to three bytes of a MIDI message."""

ORDER, PLAYER, ALIVE, THROUGH, END = range(5)
"""Kinds: a message of ours; what the player did on the shared sound; a sign of life; a message of the player's to sound
at once, due when they played it; the end."""

HEARTBEAT = 0.2
"""Seconds between two signs of life of the player process."""
SILENT_AFTER = 1.0
"""Seconds without any, after which the sender takes the player process to be stopped, and silences."""
TOO_LATE = 0.05
"""Seconds late at which a note isn't begun any more; people hear 20 ms, and a burst of old notes is worse than none."""


class Frame(NamedTuple):
    """One frame, unpacked."""

    due: float
    kind: int
    message: tuple[int, int, int]


def pack(due: float, kind: int, message: tuple[int, ...] | list[int] = (0, 0, 0)) -> bytes:
    """A frame as bytes; a two-byte message is filled up with 0."""
    first, second, third = (*message, 0, 0)[:3]
    return FRAME.pack(due, kind, first, second, third)


def length_of(status: int) -> int:
    """Bytes of a channel message, by its status byte (MIDI 1.0): program change and channel pressure have one less."""
    return 2 if status & 0xE0 == 0xC0 else 3


def unpack(data: bytes) -> Frame:
    """The reverse of :func:`pack`."""
    due, kind, *message = FRAME.unpack(data)
    return Frame(due, kind, (message[0], message[1], message[2]))


@dataclass(frozen=True)
class SenderWords:
    """What a sender is started with; travels as JSON on its command line."""

    api: str
    port: str | None
    """None: the computer's sound."""
    channels: tuple[int, ...]
    """0-15; silenced at the end."""
    programs: tuple[tuple[int, int], ...] = ()
    """Channel 0-15 and program 0-127 to set at the start."""
    shared: bool = False
    give_up_after: float = 120.0
    synth: Synth | None = None
    realtime: bool = True
    marks: str | None = None
    """The folder for marks of what may be sounding; None: there are none."""
    listening: str | None = None
    """The port that the player process listens to, for the mark."""
    title: str = ""
    """What is played, for the mark."""
    report_each: bool = False
    """For measurements: 'done' brings ``each_ms`` too, the lateness of each message."""

    def to_json(self) -> str:
        """As text for the command line."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> SenderWords:
        """The reverse of :meth:`to_json`."""
        table: dict[str, Any] = json.loads(text)
        synth = table.pop("synth")
        channels = tuple(table.pop("channels"))
        programs = tuple((c, p) for c, p in table.pop("programs"))
        if synth is not None:
            synth = Synth(**{**synth, "options": tuple(synth["options"])})
        return cls(synth=synth, channels=channels, programs=programs, **table)
