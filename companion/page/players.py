"""Player processes, as the page sees them: the one that started the page, or one that the page starts.

Either way lines come from it (:mod:`companion.page.outgoing`) and wishes go to it. What can't be sent is dropped: the
page never waits for a player, nor a player for the page.
"""

from __future__ import annotations

import contextlib
import subprocess
import threading
from collections.abc import Callable
from typing import IO

import msgspec

from companion.messages import WishName
from companion.page.outgoing import AnyOutgoing, Incoming, OnTheStand, read_on_the_stand, read_outgoing, to_line
from companion.stage.beside import start_beside

LONGEST_LINE = 4 * 1024 * 1024
"""Bytes; a chart has at most a megabyte."""
PATIENCE = 3.0
"""Seconds that a player may take to end what sounds."""


class PlayerLines:
    """Reads a player's lines in a thread of its own, until they end.

    Parameters
    ----------
    lines : binary file
    on_the_stand, told : callable
        Get what comes, in that thread.
    ended : callable
        Called once, after the last line.
    """

    def __init__(
        self,
        lines: IO[bytes],
        on_the_stand: Callable[[OnTheStand], None],
        told: Callable[[AnyOutgoing], None],
        ended: Callable[[], None],
    ):
        self._lines, self._on_the_stand, self._told, self._ended = lines, on_the_stand, told, ended
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        with contextlib.suppress(OSError, ValueError), self._lines:
            while line := self._lines.readline(LONGEST_LINE):
                self._take(line)
        self._ended()

    def _take(self, line: bytes) -> None:
        try:
            self._told(read_outgoing(line))
        except msgspec.DecodeError:
            with contextlib.suppress(msgspec.DecodeError):  # a line that is neither is none of ours
                self._on_the_stand(read_on_the_stand(line))


class WishPipe:
    """Hands wishes to a player."""

    def __init__(self, pipe: IO[bytes]):
        self._pipe = pipe

    def wish(self, name: WishName, value: tuple[str, str] | None = None) -> None:
        """Ask for something; nothing happens where the player has gone."""
        with contextlib.suppress(OSError, ValueError):
            self._pipe.write(to_line(Incoming(name, value)))
            self._pipe.flush()


class OwnPlayer:
    """A player process that the page started."""

    def __init__(self, module: str, words: str):
        self._process = start_beside(module, words)
        assert self._process.stdin is not None and self._process.stdout is not None
        self.lines: IO[bytes] = self._process.stdout
        self.wishes = WishPipe(self._process.stdin)

    @property
    def plays(self) -> bool:
        """Whether it is there still."""
        return self._process.poll() is None

    def end(self) -> None:
        """End it: in order, or at once where it doesn't listen."""
        self.wishes.wish("stop")
        with contextlib.suppress(OSError, ValueError):
            if self._process.stdin:
                self._process.stdin.close()
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
