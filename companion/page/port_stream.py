"""What the ports tell, for the one page that looks at them: it starts the process that listens, and ends it.

Server-sent events, as in :mod:`companion.page.hub`. Only one page listens at a time: another one that begins to takes
it over. Whoever is about to play asks for :meth:`PortStream.release` first, since some systems give a port to one
program alone. The last event of a stream says why it ends; a page that lost its line asks again by itself.

Conventions: :meth:`PortStream.stream` runs in the server's loop, all else is called from any thread.
"""

from __future__ import annotations

import asyncio
import contextlib
import subprocess
import threading
from collections.abc import AsyncIterator, Callable
from typing import Literal

from companion.page.outgoing import to_line
from companion.page.port_watch import Watched
from companion.stage.beside import start_beside

MODULE = "companion.page.port_watch"
SIGN_OF_LIFE = 5.0
"""Seconds without a message after which the page is told that the line is there."""
PATIENCE = 2.0
"""Seconds that letting go of the ports may take."""

Why = Literal["playing", "elsewhere", "broken"]
"""Why a stream ends: something is played, another page listens, or the process broke down."""


class EndedTold(Watched, frozen=True, tag="ended"):
    """Nothing more is told."""

    why: Why


class _Listener:
    """The process, its lines, and why it was ended."""

    def __init__(self) -> None:
        self.process = start_beside(MODULE)
        self.why: Why = "broken"
        self.told = False
        """Whether it has told anything; before that it holds no port."""
        self._lock = threading.Lock()

    def end(self, why: Why) -> None:
        """Have it let go of its ports; returns when it has."""
        with self._lock:
            if self.process.poll() is not None:
                return
            self.why = why
            with contextlib.suppress(OSError, ValueError):
                if self.process.stdin:
                    self.process.stdin.close()
            try:
                self.process.wait(PATIENCE if self.told else 0)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()


class PortStream:
    """Gives what the ports tell to the page that looks at them.

    Parameters
    ----------
    may : callable
        Whether the ports are free to be listened to; may wait until that is known.
    """

    def __init__(self, may: Callable[[], bool]) -> None:
        self._may = may
        self._lock = threading.Lock()
        self._listener: _Listener | None = None

    def release(self, why: Why = "playing") -> None:
        """Let go of every port; returns when that is done."""
        with self._lock:
            listener, self._listener = self._listener, None
        if listener is not None:
            listener.end(why)

    def _begin(self) -> _Listener | None:
        if not self._may():
            return None
        self.release("elsewhere")
        with self._lock:
            listener = self._listener = _Listener()
        if not self._may():  # asked again once it can be found and ended, so that none begins beside a player
            self.release()
        return listener

    async def stream(self) -> AsyncIterator[bytes]:
        """What one page gets, until it goes, another one begins to listen, or something is played."""
        loop = asyncio.get_running_loop()
        lines: asyncio.Queue[bytes] = asyncio.Queue()
        listener = await loop.run_in_executor(None, self._begin)
        if listener is None:
            yield _ended("playing")
            return

        def read() -> None:
            pipe = listener.process.stdout
            with contextlib.suppress(OSError, ValueError, RuntimeError):
                while pipe and (line := pipe.readline()):
                    listener.told = True
                    loop.call_soon_threadsafe(lines.put_nowait, line)
            listener.process.wait()
            with contextlib.suppress(RuntimeError):  # the server has ended meanwhile
                loop.call_soon_threadsafe(lines.put_nowait, b"")

        threading.Thread(target=read, daemon=True).start()
        try:
            while True:
                try:
                    line = await asyncio.wait_for(lines.get(), SIGN_OF_LIFE)
                except TimeoutError:
                    yield b": still here\n\n"
                    continue
                if not line:
                    yield _ended(listener.why)
                    return
                yield b"data: " + line + b"\n"
        finally:
            threading.Thread(target=self._left, args=(listener,), daemon=True).start()

    def _left(self, listener: _Listener) -> None:
        """The page has gone."""
        with self._lock:
            if self._listener is listener:
                self._listener = None
        listener.end("elsewhere")
        for pipe in (listener.process.stdin, listener.process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError, ValueError):
                    pipe.close()


def _ended(why: Why) -> bytes:
    return b"data: " + to_line(EndedTold(why)) + b"\n"
