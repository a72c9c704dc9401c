"""The process that does the page's longer work: arranging, importing, reviewing, printing, asking for ports.

What is read from anywhere is read here: where a file makes a reader die or stand still, this process is what ends
(:mod:`companion.page.answering`).

Conventions: a task and what comes of it are JSON; bytes in them are base64.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import msgspec

from companion.errors import UseError
from companion.page.answering import PATIENCE, AnsweringProcess, answer_here

MODULE = "companion.page.workroom"


class Task(msgspec.Struct, frozen=True):
    """What is to be done."""

    name: str
    words: msgspec.Raw


def task(name: str, words: msgspec.Struct) -> Task:
    """A task with its words."""
    return Task(name, msgspec.Raw(msgspec.json.encode(words)))


class Workroom(AnsweringProcess):
    """Has tasks done in a process of its own."""

    def __init__(self, patience: float = PATIENCE) -> None:
        super().__init__(MODULE, patience)

    def do(self, name: str, words: msgspec.Struct) -> bytes:
        """What comes of a task, as JSON.

        Raises
        ------
        UseError
            It can't be done, took too long, or the process died of it.
        """
        broken = UseError("that was too much: it took too long, or broke down", mend="try it with less")
        return self.ask(task(name, words), broken)


@cache
def _tasks() -> dict[str, tuple[type[Any], Callable[[Any], Any]]]:
    from companion.page import (
        choosing,
        editing,
        explaining,
        importing,
        instrument,
        likeness,
        printing,
        proposing,
        takes,
    )

    return {
        "tune": (choosing.TuneAsked, choosing.tune),
        "likeness": (takes.Nothing, likeness.likeness),
        "hear": (choosing.HearAsked, choosing.hear),
        "explain": (explaining.ExplainAsked, explaining.explained),
        "keep": (explaining.KeepAsked, explaining.kept),
        "import": (importing.ImportAsked, importing.imported),
        "text": (editing.TextAsked, editing.text_of),
        "check": (editing.CheckAsked, editing.checked),
        "save": (editing.SaveAsked, editing.saved),
        "print": (printing.PrintAsked, printing.printed),
        "takes": (takes.Nothing, takes.takes_listed),
        "review": (takes.TakeAsked, takes.reviewed),
        "pictures": (takes.TakeAsked, takes.pictured),
        "take": (takes.TakeAsked, takes.sounding),
        "delete": (takes.TakeAsked, takes.deleted),
        "today": (takes.Nothing, proposing.today),
        "piano": (takes.Nothing, instrument.status),
        "set-piano": (instrument.PianoAsked, instrument.set_piano),
        "teach": (instrument.TeachAsked, instrument.teach),
    }


def do_task(line: bytes) -> Any:
    """Do a task that came as JSON. Raises CompanionError."""
    wanted = msgspec.json.decode(line, type=Task)
    kind, work = _tasks()[wanted.name]
    return work(msgspec.json.decode(wanted.words, type=kind))


if __name__ == "__main__":
    _tasks()  # what it needs is there before anybody asks
    answer_here(do_task)
