"""The process that draws: engraving takes a while, and while it goes on the server must go on telling.

Conventions: as in :mod:`companion.page.drawing`. Lines of JSON go in and out, a request and its answer at a time.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from functools import lru_cache
from typing import IO, Any, Literal

import msgspec

from companion.errors import CompanionError, UseError
from companion.messages import EventKind
from companion.page.outgoing import OnTheStand, to_line
from companion.stage.beside import start_beside

Drawing = Literal["form", "systems", "voicings"]

POLITE = 10
"""By how much it gives way to other processes (nice)."""
KEPT = 32
"""Drawings that are kept: two choruses, each for some sizes of window."""


class View(msgspec.Struct, frozen=True):
    """Which view of a tune is asked for; widths in spaces of the staff."""

    number: int
    width: float = 100.0
    key: str = ""
    chorus: int = 1
    event: EventKind | None = None


class DrawingAsked(msgspec.Struct, frozen=True):
    """A request."""

    drawing: Drawing
    what: OnTheStand
    view: View


class DrawingMade(msgspec.Struct, frozen=True):
    """What comes of it: the drawing, or what is wrong."""

    drawing: msgspec.Raw = msgspec.Raw(b"null")
    fault: str = ""


class Draughtsman:
    """Has things drawn in a process of its own; asked from any thread, it draws one after the other."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process = start_beside("companion.page.draughtsman")
        self._draw = lru_cache(maxsize=KEPT)(self._drawn)

    def draw(self, drawing: Drawing, what: OnTheStand, view: View) -> bytes:
        """A drawing as JSON.

        Raises
        ------
        UseError
            It can't be made, or the process died of it.
        """
        return self._draw(DrawingAsked(drawing, what, view))

    def _drawn(self, ask: DrawingAsked) -> bytes:
        with self._lock:
            line = self._answer(ask)
        if not line:
            raise UseError("the drawing failed", mend="load the page again")
        answer = msgspec.json.decode(line, type=DrawingMade)
        if answer.fault:
            raise UseError(answer.fault)
        return bytes(answer.drawing)

    def _answer(self, ask: DrawingAsked) -> bytes:
        if self._process.poll() is not None:
            self.end()
            self._process = start_beside("companion.page.draughtsman")
        assert self._process.stdin is not None and self._process.stdout is not None
        with contextlib.suppress(OSError):
            self._process.stdin.write(to_line(ask))
            self._process.stdin.flush()
            return self._process.stdout.readline()
        return b""

    def end(self) -> None:
        """End the process."""
        self._process.kill()
        with contextlib.suppress(OSError):
            self._process.communicate()


def _draw(ask: DrawingAsked) -> Any:
    from companion.page.drawing import form_drawn, systems_drawn, voicings_drawn

    view = ask.view
    if ask.drawing == "form":
        return form_drawn(ask.what, view.key)
    if ask.drawing == "systems":
        return systems_drawn(ask.what, view.width, key=view.key, chorus=view.chorus, event=view.event)
    return voicings_drawn(ask.what, key=view.key, chorus=view.chorus, event=view.event)


def draw_what_is_asked(asked: IO[bytes], out: IO[bytes]) -> None:
    """DrawingMade requests until there are no more."""
    while line := asked.readline():
        try:
            answer = DrawingMade(msgspec.Raw(msgspec.json.encode(_draw(msgspec.json.decode(line, type=DrawingAsked)))))
        except CompanionError as error:
            answer = DrawingMade(fault=str(error))
        out.write(to_line(answer))
        out.flush()


if __name__ == "__main__":
    with contextlib.suppress(OSError, AttributeError):
        os.nice(POLITE)
    draw_what_is_asked(sys.stdin.buffer, sys.stdout.buffer)
