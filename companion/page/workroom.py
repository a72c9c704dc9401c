"""The process that does the page's longer work: arranging, importing, reviewing, printing, asking for ports.

The server must go on telling while that lasts, and what is read from anywhere is read here: where a file makes a reader
die or stand still, this process is what ends, and the next piece of work begins with a new one.

Conventions: lines of JSON go in and out, a task and its answer at a time; bytes in them are base64.
"""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import IO, Any

import msgspec

from companion.errors import CompanionError, UseError
from companion.page.outgoing import to_line
from companion.stage.beside import start_beside

MODULE = "companion.page.workroom"
POLITE = 10
"""By how much it gives way to other processes (nice)."""
PATIENCE = 60.0
"""Seconds that a task may take."""


class Task(msgspec.Struct, frozen=True):
    """What is to be done."""

    name: str
    words: msgspec.Raw


class TaskDone(msgspec.Struct, frozen=True):
    """What came of it, or what is wrong."""

    value: msgspec.Raw = msgspec.Raw(b"null")
    fault: str = ""


class Workroom:
    """Has tasks done in a process of its own; asked from any thread, it does one after the other."""

    def __init__(self, patience: float = PATIENCE) -> None:
        self._patience = patience
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start the process, if there is none; it takes a while until it is ready."""
        with self._lock:
            self._started()

    def _started(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is not None:
            self.end()
        self._process = self._process or start_beside(MODULE)
        return self._process

    def ask(self, name: str, words: msgspec.Struct) -> bytes:
        """What comes of a task, as JSON.

        Raises
        ------
        UseError
            It can't be done, took too long, or the process died of it.
        """
        task = Task(name, msgspec.Raw(msgspec.json.encode(words)))
        with self._lock:
            line = self._answer(to_line(task))
        if not line:
            raise UseError("that was too much: it took too long, or broke down", mend="try it with less")
        done = msgspec.json.decode(line, type=TaskDone)
        if done.fault:
            raise UseError(done.fault)
        return bytes(done.value)

    def renew(self) -> None:
        """Begin with a new process, which reads preferences anew."""
        with self._lock:
            self.end()

    def _answer(self, line: bytes) -> bytes:
        process = self._started()
        assert process.stdin is not None and process.stdout is not None
        timer = threading.Timer(self._patience, process.kill)
        timer.start()
        try:
            with contextlib.suppress(OSError):
                process.stdin.write(line)
                process.stdin.flush()
                return process.stdout.readline()
        finally:
            timer.cancel()
        return b""

    def end(self) -> None:
        """End the process, if there is one."""
        if self._process is not None:
            self._process.kill()
            self._process.communicate()
            self._process = None


def _tasks() -> dict[str, tuple[type[Any], Callable[[Any], Any]]]:
    from companion.page import choosing, editing, explaining, importing, instrument, printing, proposing, takes

    return {
        "tune": (choosing.TuneAsked, choosing.tune),
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
        "take": (takes.TakeAsked, takes.sounding),
        "delete": (takes.TakeAsked, takes.deleted),
        "today": (takes.Nothing, proposing.today),
        "piano": (takes.Nothing, instrument.status),
        "set-piano": (instrument.PianoAsked, instrument.set_piano),
    }


def do_what_is_asked(asked: IO[bytes], out: IO[bytes]) -> None:
    """Do tasks until there are no more."""
    tasks = _tasks()
    while line := asked.readline():
        try:
            task = msgspec.json.decode(line, type=Task)
            kind, work = tasks[task.name]
            done = TaskDone(msgspec.Raw(msgspec.json.encode(work(msgspec.json.decode(task.words, type=kind)))))
        except CompanionError as error:
            done = TaskDone(fault=str(error))
        out.write(to_line(done))
        out.flush()


if __name__ == "__main__":
    with contextlib.suppress(OSError, AttributeError):
        os.nice(POLITE)
    answers = io.FileIO(os.dup(1), "w")
    sys.stdout = sys.stderr  # whatever a library prints is no answer
    os.dup2(2, 1)
    do_what_is_asked(sys.stdin.buffer, io.BufferedWriter(answers))
