"""Copies of our own notes that an instrument sends back are not the player's.

Many instruments return on their output what reaches their input. A copy is told by its note, its channel and the time
since we sent it; each note sent accounts for one copy.

Conventions: seconds on the live clock; raw MIDI messages as sequences of bytes.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

EARLY = 0.003
"""Seconds before the planned moment at which a message may already have been sent, by the two clocks' doubt."""
LEARNT = 8
"""Notes sent after which the instrument has shown whether it returns them."""


@dataclass
class _Sent:
    seconds: float
    key: tuple[int, int, int]
    velocity: int
    returned: bool = False


class EchoFilter:
    """Tells the instrument's copies of our messages from what the player plays.

    An exact copy, velocity included, is always taken for one. A note that agrees but for its velocity is taken for one
    until the instrument has shown that it returns none: then it is the player, who doubles our note.

    Parameters
    ----------
    window : float
        Seconds after sending within which a copy comes back.
    """

    def __init__(self, window: float):
        self.window = window
        self._sent: deque[_Sent] = deque()
        self._returned: deque[bool] = deque(maxlen=LEARNT)

    def sent(self, seconds: float, message: Sequence[int]) -> None:
        """Note what was, or is about to be, sent at a moment."""
        self._sent.append(_Sent(seconds, _key(message), message[2] if len(message) > 2 else 0))

    def is_copy(self, seconds: float, message: Sequence[int]) -> bool:
        """Whether a message heard at a moment is a copy of one of ours."""
        self._forget(seconds)
        key, velocity = _key(message), message[2] if len(message) > 2 else 0
        for sent in self._sent:
            if sent.key != key or sent.returned or not sent.seconds - EARLY <= seconds <= sent.seconds + self.window:
                continue
            if _is_off(key) or sent.velocity == velocity or self._returns():
                sent.returned = True
                return True
        return False

    def _returns(self) -> bool:
        """Whether this instrument may be one that returns what it gets: until enough notes came back from none."""
        return len(self._returned) < LEARNT or any(self._returned)

    def _forget(self, seconds: float) -> None:
        while self._sent and self._sent[0].seconds + self.window < seconds:
            sent = self._sent.popleft()
            if sent.key[0] == 0x90:
                self._returned.append(sent.returned)


def _key(message: Sequence[int]) -> tuple[int, int, int]:
    """Kind, channel and note or controller; a note-on with velocity 0 is a note-off (MIDI 1.0)."""
    kind = message[0] & 0xF0
    if kind == 0x90 and message[2] == 0:
        kind = 0x80
    return kind, message[0] & 0x0F, message[1]


def _is_off(key: tuple[int, int, int]) -> bool:
    return key[0] == 0x80
