"""The process that draws: engraving takes a while, and while it goes on the server must go on telling.

Conventions: as in :mod:`companion.page.drawing`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Literal

import msgspec

from companion.errors import UseError
from companion.messages import EventKind
from companion.page.answering import AnsweringProcess, answer_here
from companion.page.outgoing import OnTheStand

Drawing = Literal["form", "systems", "voicings"]

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


class Draughtsman:
    """Has things drawn in a process of its own, and keeps the last of them."""

    def __init__(self) -> None:
        self._process = AnsweringProcess("companion.page.draughtsman")
        self._process.start()
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
        return self._process.ask(ask, UseError("the drawing failed", mend="load the page again"))

    def end(self) -> None:
        """End the process."""
        self._process.end()


def _draw(ask: DrawingAsked) -> Any:
    from companion.page.drawing import form_drawn, systems_drawn, voicings_drawn

    view = ask.view
    if ask.drawing == "form":
        return form_drawn(ask.what, view.key)
    if ask.drawing == "systems":
        return systems_drawn(ask.what, view.width, key=view.key, chorus=view.chorus, event=view.event)
    return voicings_drawn(ask.what, key=view.key, chorus=view.chorus, event=view.event)


if __name__ == "__main__":
    answer_here(lambda line: _draw(msgspec.json.decode(line, type=DrawingAsked)))
