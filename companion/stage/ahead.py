"""A background thread that arranges the next chorus in short slices, so that it delays neither the loop nor the sound.

Arranging a chorus takes 30 to 100 milliseconds. In one piece that holds a processor, or Python's lock, for too long: at
the loop's own priority a sound server without real-time priority starves; at an ordinary priority the loop waits for
the lock while other programs keep this thread off the processor. So the work runs at the loop's priority, because it
holds the lock, in slices of a fraction of a millisecond, asleep for four fifths of the time. What each way costs is
measured by ``benchmarks/preparing.py``.

Method: Python calls a function at each call and return in this thread (``sys.setprofile``); it sleeps when a slice is
over. The work itself needs no change.

Conventions: seconds.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable
from queue import SimpleQueue
from types import FrameType
from typing import Any, TypeVar

from companion.stage.clock import now
from companion.stage.priority import ask_for_priority

SLICE = 0.0003
"""Seconds of work in one slice; a period of a quick sound server is four times as long."""
PAUSE = 0.0012
"""Seconds of sleep between two slices."""

Done = TypeVar("Done")


class Ahead:
    """A thread that does what it is asked to, one thing after the other, in slices.

    It touches nothing of whoever asks: what a piece of work needs it has with it, and what comes of it is handed back.

    Parameters
    ----------
    done : callable
        Gets what each piece of work gives, in this thread.
    failed : callable
        Gets the exception, in this thread, when the work raises one; nothing more is done then.
    priority : int
        Real-time priority while it works; where that is refused, or 0, an ordinary one.
    """

    def __init__(self, done: Callable[[Any], None], failed: Callable[[Exception], None], priority: int = 0) -> None:
        self._done, self._failed, self._priority = done, failed, priority
        self._asked: SimpleQueue[Callable[[], Any] | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Begin to work."""
        self._thread.start()

    def ask(self, work: Callable[[], Any]) -> None:
        """Have something done; returns at once."""
        self._asked.put(work)

    def end(self) -> None:
        """Do nothing more after what is under way; returns at once."""
        self._asked.put(None)

    def join(self, seconds: float) -> None:
        """Wait until it is through, so long at most."""
        self._thread.join(seconds)

    def _run(self) -> None:
        if self._priority:
            ask_for_priority(self._priority)
        try:
            while (work := self._asked.get()) is not None:
                self._done(in_slices(work))
        except Exception as error:  # told, not swallowed: who plays decides what becomes of it
            self._failed(error)


def in_slices(work: Callable[[], Done], pause: Callable[[float], None] = time.sleep) -> Done:
    """Do some work in the calling thread, with a pause of :data:`PAUSE` after every :data:`SLICE`; what it gives."""
    until = now() + SLICE

    def look(_frame: FrameType, _event: str, _argument: Any) -> None:
        nonlocal until
        if now() >= until:
            pause(PAUSE)
            until = now() + SLICE

    before = sys.getprofile()
    sys.setprofile(look)
    try:
        return work()
    finally:
        sys.setprofile(before)
