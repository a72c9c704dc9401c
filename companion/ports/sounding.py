"""What is sounding on an output, so that every note we begin ends, and none that the player holds is ended by us.

On an instrument that the player plays too, both share each key of a sound, that is of a channel:

- a key that the player holds isn't struck by us;
- a note-off of ours for a key that the player holds waits until they let go of it;
- our pedal doesn't lift theirs, and silencing leaves alone what is only theirs.

What the player seems to hold may be a note of ours that the instrument sent back. So a key that is held longer than any
chord counts as held no more, one that may well be such a copy much sooner, and silencing ends everything of ours, held
or not.

Conventions: raw MIDI messages as tuples of bytes, channels 0-15 as on the wire; seconds on any one clock. Nothing is
sent from here: every method returns what is to be sent now. Controllers 64 (sustain pedal), 123 (all notes off):
MIDI 1.0.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

SUSTAIN, ALL_NOTES_OFF = 64, 123

LONGEST = 12.0
"""Seconds of two bars of 4/4 at 40 quarters a minute: no chord is held longer, and a piano's note has died away."""
SOON, DOUBTFUL = 0.5, 1.0
"""Seconds: a key that goes down so soon after we struck it, with our velocity, counts as held no longer than this."""

RawMessage = tuple[int, ...]
"""Bytes of a MIDI message, the channel in the status byte."""
_ChannelKey = tuple[int, int]
"""Channel 0-15, MIDI number."""


class Sounding:
    """Bookkeeping for one output.

    Parameters
    ----------
    channels : iterable of int
        Channels (0-15) that are ours to silence at the end.
    shared : bool
        The output is the instrument that the player plays.
    """

    def __init__(self, channels: Iterable[int], shared: bool = False):
        self.channels = set(channels)
        self.shared = shared
        self._wanted: Counter[_ChannelKey] = Counter()
        self._sounded: set[_ChannelKey] = set()
        self._owed: set[_ChannelKey] = set()
        self._held: dict[_ChannelKey, float] = {}
        """Up to when the player is taken to hold each key that is down, in seconds."""
        self._struck: dict[_ChannelKey, tuple[float, int]] = {}
        """When we struck each key last, and how hard."""
        self._pedals_held: set[int] = set()
        self._pedal_owed: set[int] = set()

    @property
    def notes(self) -> list[_ChannelKey]:
        """Channel and MIDI number of each note of ours that sounds."""
        return sorted(self._sounded | self._owed)

    def order(self, message: Sequence[int], seconds: float = 0.0) -> list[RawMessage]:
        """A message of ours is due at a moment; what the player does is told by the same clock."""
        return [*self._overdue(seconds), *self._ordered(message, seconds)]

    def _ordered(self, message: Sequence[int], seconds: float) -> list[RawMessage]:
        kind, channel = message[0] & 0xF0, message[0] & 0x0F
        self.channels.add(channel)
        if kind == 0x90 and message[2] > 0:
            return self._strike(channel, message, seconds)
        if kind in (0x80, 0x90):
            return self._let_go(channel, message[1], seconds)
        if kind == 0xB0 and message[1] == SUSTAIN:
            return self._pedal(channel, message)
        return [tuple(message)]

    def player(self, message: Sequence[int], seconds: float = 0.0) -> list[RawMessage]:
        """The player did something on the instrument, at a moment."""
        kind, channel = message[0] & 0xF0, message[0] & 0x0F
        key = channel, message[1]
        if kind == 0x90 and message[2] > 0:
            self._held[key] = seconds + (DOUBTFUL if self._may_be_ours(key, message[2], seconds) else LONGEST)
        elif kind in (0x80, 0x90):
            self._held.pop(key, None)
            if key in self._owed:
                self._owed.discard(key)
                return [(0x80 | channel, message[1], 64)]
        elif kind == 0xB0 and message[1] == SUSTAIN and message[2] >= 64:
            self._pedals_held.add(channel)
        elif kind == 0xB0 and message[1] == SUSTAIN:
            self._pedals_held.discard(channel)
            if channel in self._pedal_owed:
                self._pedal_owed.discard(channel)
                return [(0xB0 | channel, SUSTAIN, 0)]
        return []

    def adopt(self, channel: int, note: int) -> None:
        """Take over a note that somebody else of ours left sounding."""
        self.channels.add(channel)
        self._wanted[channel, note] = 1
        self._sounded.add((channel, note))

    def silence(self) -> list[RawMessage]:
        """End everything of ours: each note by its own note-off, then pedals up, then all notes off."""
        theirs = {channel for channel, _ in self._held} | self._pedals_held if self.shared else set()
        pedals = self.channels - self._pedals_held if self.shared else self.channels
        messages: list[RawMessage] = [(0x80 | channel, note, 64) for channel, note in self.notes]
        messages += [(0xB0 | channel, SUSTAIN, 0) for channel in sorted(pedals)]
        messages += [(0xB0 | channel, ALL_NOTES_OFF, 0) for channel in sorted(self.channels - theirs)]
        self._wanted.clear()
        self._sounded.clear()
        self._owed.clear()
        self._pedal_owed.clear()
        return messages

    def _is_held(self, key: _ChannelKey, seconds: float) -> bool:
        return self.shared and seconds <= self._held.get(key, float("-inf"))

    def _may_be_ours(self, key: _ChannelKey, velocity: int, seconds: float) -> bool:
        struck, ours = self._struck.get(key, (float("-inf"), 0))
        return velocity == ours and seconds - struck <= SOON

    def _overdue(self, seconds: float) -> list[RawMessage]:
        """The note-offs that have waited for the player long enough."""
        overdue = sorted(key for key in self._owed if not self._is_held(key, seconds))
        self._owed.difference_update(overdue)
        return [(0x80 | channel, note, 64) for channel, note in overdue]

    def _strike(self, channel: int, message: Sequence[int], seconds: float) -> list[RawMessage]:
        key = channel, message[1]
        self._wanted[key] += 1
        if self._is_held(key, seconds):
            return []
        self._struck[key] = seconds, message[2]
        again: list[RawMessage] = [(0x80 | channel, message[1], 64)] if key in self._sounded else []
        self._sounded.add(key)
        return [*again, tuple(message)]

    def _let_go(self, channel: int, note: int, seconds: float) -> list[RawMessage]:
        key = channel, note
        if self._wanted[key] > 1:
            self._wanted[key] -= 1  # it was struck again since, or two parts meet on it
            return []
        del self._wanted[key]
        if key not in self._sounded:
            return []
        self._sounded.discard(key)
        if self._is_held(key, seconds):
            self._owed.add(key)
            return []
        return [(0x80 | channel, note, 64)]

    def _pedal(self, channel: int, message: Sequence[int]) -> list[RawMessage]:
        if message[2] >= 64:
            self._pedal_owed.discard(channel)
            return [tuple(message)]
        if self.shared and channel in self._pedals_held:
            self._pedal_owed.add(channel)
            return []
        return [tuple(message)]
