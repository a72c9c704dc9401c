"""A process of our own that answers, one line of JSON for one: for what takes long, or may break.

The server must go on telling while that lasts. Where a question makes the process die or stand still, the process is
what ends, and the next question begins with a new one.

Conventions: asked from any thread, it answers one question after the other.
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

POLITE = 10
"""By how much it gives way to other processes (nice)."""
PATIENCE = 60.0
"""Seconds that an answer may take."""


class AnswerMade(msgspec.Struct, frozen=True):
    """What came of a question, or what is wrong."""

    value: msgspec.Raw = msgspec.Raw(b"null")
    fault: str = ""


class AnsweringProcess:
    """The process, from outside.

    Parameters
    ----------
    module : str
        A module that ends with :func:`answer_here`.
    patience : float
        Seconds that an answer may take.
    """

    def __init__(self, module: str, patience: float = PATIENCE) -> None:
        self._module, self._patience = module, patience
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, if it isn't there; it takes a while until it is ready."""
        with self._lock:
            self._started()

    def ask(self, question: msgspec.Struct, broken: UseError) -> bytes:
        """The answer, as JSON.

        Raises
        ------
        UseError
            What is wrong with the question; or ``broken``, where the process took too long or died of it.
        """
        with self._lock:
            line = self._answered(to_line(question))
        if not line:
            raise broken
        answer = msgspec.json.decode(line, type=AnswerMade)
        if answer.fault:
            raise UseError(answer.fault)
        return bytes(answer.value)

    def end(self) -> None:
        """End it at once, if it is there, whatever is under way."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            with contextlib.suppress(OSError):
                process.communicate()

    def _started(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is not None:
            self.end()
        self._process = self._process or start_beside(self._module)
        return self._process

    def _answered(self, line: bytes) -> bytes:
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


def answer_each(asked: IO[bytes], out: IO[bytes], answer: Callable[[bytes], Any]) -> None:
    """Answer lines until there are no more; ``answer`` gives what is sent as JSON, or raises CompanionError."""
    while line := asked.readline():
        try:
            told = AnswerMade(msgspec.Raw(msgspec.json.encode(answer(line))))
        except CompanionError as error:
            told = AnswerMade(fault=str(error))
        out.write(to_line(told))
        out.flush()


def answer_here(answer: Callable[[bytes], Any]) -> None:
    """Answer what comes on standard input, on standard output: the whole of such a process."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(POLITE)
    answers = io.FileIO(os.dup(1), "w")
    sys.stdout = sys.stderr  # whatever a library prints is no answer
    os.dup2(2, 1)
    answer_each(sys.stdin.buffer, io.BufferedWriter(answers), answer)
