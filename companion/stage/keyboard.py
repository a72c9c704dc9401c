"""The player's keyboard as an event source: moments on the live clock, echoes of our own notes removed, keys held.

Conventions: seconds on the live clock; raw MIDI messages, channels 0-15 as on the wire.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from mido.messages.specs import SPEC_BY_STATUS

from companion.errors import DeviceError
from companion.ports.connection import PortChange
from companion.ports.echo import EchoFilter
from companion.ports.midi import Input
from companion.stage.clock import StampClock, now

NOTE_OFF, NOTE_ON, CONTROLLER, PROGRAM, SYSTEM = 0x80, 0x90, 0xB0, 0xC0, 0xF0


@dataclass(frozen=True)
class Raw:
    """A message as the port brought it."""

    delta: float
    """Seconds since the port's message before, by the driver's clock."""
    arrival: float
    """When Python got to it."""
    message: tuple[int, ...]


@dataclass(frozen=True)
class PlayerMessage:
    """A message of the player's; note-offs always as such, never as note-ons with velocity 0; a program change (of a
    footswitch) with a third byte of 0."""

    seconds: float
    message: tuple[int, int, int]


class Keyboard:
    """An input port that is opened again by name when it was unplugged.

    Parameters
    ----------
    api, name : str
        The port, as in :class:`companion.ports.choice.Ports`.
    listen : collection of int
        Channels, 1-16, that are the player's.
    echo : EchoFilter
        Knows what was sent.
    put : callable
        Gets each message, in a thread of RtMidi's.
    give_up_after : float
        Seconds to wait for an unplugged port.
    """

    def __init__(
        self,
        api: str,
        name: str,
        listen: Collection[int],
        echo: EchoFilter,
        put: Callable[[Raw], None],
        give_up_after: float,
    ):
        self.api, self.name, self.echo = api, name, echo
        self.malformed = 0
        """Messages that were no MIDI: any program may send them, and none of them is played to the rehearsal."""
        self._listen, self._put, self._give_up_after = frozenset(listen), put, give_up_after
        self._clock = StampClock()
        self._lost_at: float | None = None
        self._held: dict[int, int] = {}
        """The channel of each key that is down."""
        self._input = Input(api, name, self._receive)

    def _receive(self, delta: float, message: Sequence[int]) -> None:
        self._put(Raw(delta, now(), tuple(message)))

    def hear(self, raw: Raw) -> PlayerMessage | None:
        """What the player did; None for what isn't theirs or isn't playing."""
        seconds = self._clock.seconds(raw.delta, raw.arrival)
        if not _is_midi(raw.message):
            self.malformed += 1
            return None
        if len(raw.message) not in (2, 3):
            return None
        status, data1, data2 = (*raw.message, 0)[:3]
        kind, channel = status & 0xF0, status & 0x0F
        if kind not in (NOTE_OFF, NOTE_ON, CONTROLLER, PROGRAM) or channel + 1 not in self._listen:
            return None
        if self.echo.is_copy(seconds, raw.message):
            return None
        if kind == NOTE_ON and data2 == 0:
            kind = NOTE_OFF
        # A key that is down was struck once, however many layered sounds send it on channels of their own.
        if kind == NOTE_ON and self._held.setdefault(data1, channel) != channel:
            return None
        if kind == NOTE_OFF:
            if self._held.get(data1) != channel:
                return None
            del self._held[data1]
        return PlayerMessage(seconds, (kind | channel, data1, data2))

    def let_go(self) -> list[PlayerMessage]:
        """Note-offs, now, for every key that was held when the keyboard went away, and its pedal up."""
        moment = now()
        ends = [PlayerMessage(moment, (NOTE_OFF | channel, note, 64)) for note, channel in sorted(self._held.items())]
        self._held.clear()
        return [*ends, PlayerMessage(moment, (CONTROLLER, 64, 0))]

    def taken_back(self) -> list[PlayerMessage]:
        """Note-offs, now, for keys that weren't the player's: late copies of our notes, as was understood since."""
        keys = [(note, channel) for channel, note in self.echo.taken_back() if self._held.get(note) == channel]
        for note, _ in keys:
            del self._held[note]
        return [PlayerMessage(now(), (NOTE_OFF | channel, note, 64)) for note, channel in keys]

    def look(self) -> PortChange | None:
        """See whether it is there, about once a second.

        Returns
        -------
        PortChange or None
            'lost'; 'again', when it was away so shortly that only its connection is gone, and that is mended; 'back';
            'gone' (for good); None: as before.
        """
        if self._lost_at is None:
            if self._input.present():
                if self._input.connected():
                    return None
                if self._input.reconnect():
                    return "again"
            self._lost_at = now()
            return "lost"
        if name := self._input.find_again():
            return self._reopen(name)
        return "gone" if now() - self._lost_at > self._give_up_after else None

    def _reopen(self, name: str) -> Literal["back"] | None:
        old = self._input
        try:
            self._input = Input(self.api, name, self._receive)
        except DeviceError:
            return None  # it is only just coming; the next look tries again
        old.close()
        self.name, self._lost_at, self._clock = name, None, StampClock()
        return "back"

    def close(self) -> None:
        """Stop listening."""
        self._input.close()


def _is_midi(message: Sequence[int]) -> bool:
    """Whether it has a status byte, the length that goes with it, and data bytes from 0 to 127 (MIDI 1.0)."""
    if not message or message[0] < NOTE_OFF:
        return False
    if message[0] >= SYSTEM:
        return True  # no playing, whatever is in it
    return len(message) == SPEC_BY_STATUS[message[0]]["length"] and max(message[1:]) < 0x80
