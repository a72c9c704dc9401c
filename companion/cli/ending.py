"""Ending a command early: Enter or Ctrl-C, with the terminal left as it was."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

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


def leave_a_clean_line() -> None:
    """After Ctrl-C: take away the ^C that a terminal shows; elsewhere end the line."""
    if sys.stderr is not None and sys.stderr.isatty():
        print("\r" + " " * ECHO, end="\r", file=sys.stderr, flush=True)
    else:
        print(file=sys.stderr)
