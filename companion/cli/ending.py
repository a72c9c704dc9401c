"""Ending a command early: Enter or Ctrl-C, with the terminal left as it was."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

LOOK = 0.2
"""Seconds between two looks whether the playing is over."""
ECHO = 2
"""Columns of the ^C that a terminal shows by itself."""


@contextmanager
def enter_ends(end: Callable[[], None]) -> Iterator[bool]:
    """While something is played, a line typed at the terminal (Enter, or Ctrl-D) ends it.

    Gives whether it does: not where standard input is no terminal, or can't be waited on.
    """
    listening = sys.stdin is not None and sys.stdin.isatty() and sys.platform != "win32"
    over = threading.Event()
    thread = threading.Thread(target=_wait_for_a_line, args=(over, end), daemon=True)
    if listening:
        thread.start()
    try:
        yield listening
    finally:
        over.set()
        if listening:
            thread.join(2 * LOOK)


def _wait_for_a_line(over: threading.Event, end: Callable[[], None]) -> None:
    import select

    while not over.is_set():
        try:
            ready, _, _ = select.select([sys.stdin], [], [], LOOK)
            if ready and not over.is_set():
                sys.stdin.readline()
                end()
                return
        except (OSError, ValueError):
            return


def leave_a_clean_line() -> None:
    """After Ctrl-C: take away the ^C that a terminal shows; elsewhere end the line."""
    if sys.stderr is not None and sys.stderr.isatty():
        print("\r" + " " * ECHO, end="\r", file=sys.stderr, flush=True)
    else:
        print(file=sys.stderr)
