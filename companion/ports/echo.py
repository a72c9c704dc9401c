"""Echoes: notes that an instrument sends back are told from notes that the player strikes.

Many instruments return on their output what reaches their input. A copy is told by its note, its channel and the time
since we sent it; each note sent accounts for one copy.

Some return it later than they should. That is seen when several of our last notes come back: from then on they are
copies, however late, and the keys that were taken for the player's before are taken back.

Conventions: seconds on the live clock; raw MIDI messages as sequences of bytes.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from companion.ports.lateness import Lateness

EARLY = 0.003
"""Seconds before the planned moment at which a message may already have been sent, by the two clocks' doubt."""
MOST = 512
"""Messages that are remembered at most: nothing may be heard for hours."""
LEARNT = 8
"""Notes sent after which the instrument has shown whether it returns them."""
LATEST = 0.5
"""Seconds after which nothing that comes is a copy any more."""
EXACTLY, AT_ALL = 2, 6
"""How many of the last LEARNT notes come back late, with our own velocity or with any, from an instrument that is late.
A player strikes our key again within half a second with our very velocity about once in a hundred times."""


@dataclass
class _Sent:
    seconds: float
    key: tuple[int, int, int]
    velocity: int
    returned: bool = False
    late: bool = False
    """It came back later than the window."""


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
        self.returns = Lateness()
        """How long after its moment each note came back whose copy is certain: the way there and back."""
        self._sent: deque[_Sent] = deque()
        self._returned: deque[bool] = deque(maxlen=LEARNT)
        self._late: deque[str] = deque(maxlen=LEARNT)
        """Of the last notes, how each came back later than the window: 'exactly', 'like it', or '': not."""
        self._mistaken: list[tuple[int, int]] = []
        """Channel and key of what may have been a late copy and was let pass."""
        self._taken_back: list[tuple[int, int]] = []

    def sent(self, seconds: float, message: Sequence[int]) -> None:
        """Note what was, or is about to be, sent at a moment."""
        self._sent.append(_Sent(seconds, _key(message), message[2] if len(message) > 2 else 0))
        if len(self._sent) > MOST:
            self._forget_first()

    def is_copy(self, seconds: float, message: Sequence[int]) -> bool:
        """Whether a message heard at a moment is a copy of one of ours."""
        self._forget(seconds)
        key, velocity = _key(message), message[2] if len(message) > 2 else 0
        for sent in self._sent:
            if sent.key != key or sent.returned or not sent.seconds - EARLY <= seconds <= sent.seconds + self.window:
                continue
            if _is_off(key) or sent.velocity == velocity or self._returns():
                sent.returned = True
                if key[0] == 0x90 and sent.velocity == velocity:
                    self.returns.add(seconds - sent.seconds)
                return True
        if _is_off(key):  # one too many ends what was mistaken for a key; one too few would leave it down
            self._mistaken = [one for one in self._mistaken if one != key[1:]]
            return False
        return key[0] == 0x90 and self._is_late_copy(seconds, key, velocity)

    def taken_back(self) -> list[tuple[int, int]]:
        """Channel and key of each stroke that was taken for the player's and was a late copy; each is told once."""
        keys, self._taken_back = self._taken_back, []
        return keys

    def _is_late_copy(self, seconds: float, key: tuple[int, int, int], velocity: int) -> bool:
        came = [s for s in self._sent if s.key == key and not s.returned and not s.late and s.seconds < seconds]
        sent = next((s for s in came if s.velocity == velocity), came[0] if came else None)
        if sent is None:
            return False
        exact = sent.velocity == velocity
        sent.late = True
        self._late.append("exactly" if exact else "like it")
        exactly = self._late.count("exactly")
        if (exact and exactly >= EXACTLY) or exactly + self._late.count("like it") >= AT_ALL:
            self._taken_back += self._mistaken
            self._mistaken = []
            if exact:
                self.returns.add(seconds - sent.seconds)
            return True
        self._mistaken = [*self._mistaken[1 - LEARNT :], key[1:]]
        return False

    def _returns(self) -> bool:
        """Whether this instrument may be one that returns what it gets: until enough notes came back from none."""
        return len(self._returned) < LEARNT or any(self._returned)

    def _forget(self, seconds: float) -> None:
        while self._sent and self._sent[0].seconds + max(self.window, LATEST) < seconds:
            self._forget_first()

    def _forget_first(self) -> None:
        sent = self._sent.popleft()
        if sent.key[0] == 0x90:
            self._returned.append(sent.returned)
            if not sent.late:
                self._late.append("")


def _key(message: Sequence[int]) -> tuple[int, int, int]:
    """Kind, channel and note or controller; a note-on with velocity 0 is a note-off (MIDI 1.0)."""
    kind = message[0] & 0xF0
    if kind == 0x90 and message[2] == 0:
        kind = 0x80
    return kind, message[0] & 0x0F, message[1]


def _is_off(key: tuple[int, int, int]) -> bool:
    return key[0] == 0x80
