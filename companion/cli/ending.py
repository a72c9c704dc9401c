"""What is typed while a command runs: Enter or Ctrl-C ends it early, with the terminal left as it was."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from queue import Empty, SimpleQueue

from companion.cli.asking import ask

LOOK = 0.2
"""Seconds between two looks whether the playing is over."""
ECHO = 2
"""Columns of the ^C that a terminal shows by itself."""


class EnterEnds:
    """A line typed at the terminal (Enter, or Ctrl-D) ends what is played; see :func:`enter_ends`."""

    def __init__(self, end: Callable[[], None]):
        self.listens = sys.stdin is not None and sys.stdin.isatty() and sys.platform != "win32"
        """Whether it does: not where standard input is no terminal, or can't be waited on."""
        self._end = end
        self._over, self._asking = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._wait_for_a_line, daemon=True)
        if self.listens:
            self._thread.start()

    def ask(self, question: str) -> bool:
        """Put a question to whoever sits there; the line that they type answers it, and ends nothing."""
        self._asking.set()
        try:
            return ask(question)
        finally:
            self._asking.clear()

    def stop(self) -> None:
        """From now on a line ends nothing."""
        self._over.set()
        if self.listens:
            self._thread.join(2 * LOOK)

    def _wait_for_a_line(self) -> None:
        import select

        while not self._over.wait(LOOK if self._asking.is_set() else 0):
            try:
                ready, _, _ = select.select([sys.stdin], [], [], LOOK)
                if ready and not self._asking.is_set() and not self._over.is_set():
                    sys.stdin.readline()
                    self._end()
                    return
            except (OSError, ValueError):
                return


@contextmanager
def enter_ends(end: Callable[[], None]) -> Iterator[EnterEnds]:
    """While something is played, have a line typed at the terminal end it."""
    entered = EnterEnds(end)
    try:
        yield entered
    finally:
        entered.stop()


@contextmanager
def typed_lines(take: Callable[[str], bool]) -> Iterator[bool]:
    """Meanwhile, hand on each line typed at the terminal, '' for Ctrl-D, as long as ``take`` says that it wants more.

    Gives whether it does: not where standard input is no terminal, or can't be waited on.
    """
    listening = sys.stdin is not None and sys.stdin.isatty() and sys.platform != "win32"
    over = threading.Event()
    thread = threading.Thread(target=_wait_for_lines, args=(over, take), daemon=True)
    if listening:
        thread.start()
    try:
        yield listening
    finally:
        over.set()
        if listening:
            thread.join(2 * LOOK)


def line_typed_within(seconds: float) -> str | None:
    """The line typed at the terminal within so many seconds, '' for Enter or Ctrl-D; None when there was none."""
    typed: SimpleQueue[str] = SimpleQueue()

    def first(line: str) -> bool:
        typed.put(line.strip())
        return False

    with typed_lines(first) as listening:
        try:
            return typed.get(timeout=seconds) if listening else None
        except Empty:
            return None


def _wait_for_lines(over: threading.Event, take: Callable[[str], bool]) -> None:
    import select

    while not over.is_set():
        try:
            ready, _, _ = select.select([sys.stdin], [], [], LOOK)
            if ready and not over.is_set() and not take(sys.stdin.readline()):
                return
        except (OSError, ValueError):
            return


def leave_a_clean_line() -> None:
    """After Ctrl-C: take away the ^C that a terminal shows; elsewhere end the line."""
    if sys.stderr is not None and sys.stderr.isatty():
        print("\r" + " " * ECHO, end="\r", file=sys.stderr, flush=True)
    else:
        print(file=sys.stderr)
