"""A progress line for long work, on a terminal only."""

from __future__ import annotations

import sys
import time
from types import TracebackType

from companion.cli.ending import ECHO

EVERY = 0.1
"""Seconds between two looks of the same line."""


class Progress:
    """A line on standard error that is rewritten in place, and gone at the end; nothing where that is no terminal.

    Parameters
    ----------
    what : str
        What is going on: "replaying".
    whole : float
        What is done when all is done; in any unit.
    """

    def __init__(self, what: str, whole: float = 1.0):
        self._what, self._whole, self._next, self._shown = what, whole, time.monotonic() + EVERY, 0
        self._terminal = sys.stderr is not None and sys.stderr.isatty()

    def show(self, done: float) -> None:
        """Say how much is done."""
        if not self._terminal or time.monotonic() < self._next:
            return
        share = min(max(done / self._whole, 0.0), 1.0) if self._whole > 0 else 1.0
        line = f"{self._what}: {100 * share:.0f} %"
        sys.stderr.write("\r" + line.ljust(self._shown))
        sys.stderr.flush()
        self._shown, self._next = len(line), time.monotonic() + EVERY

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._shown:
            sys.stderr.write("\r" + " " * (self._shown + ECHO) + "\r")
            sys.stderr.flush()
