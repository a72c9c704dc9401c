"""Processes of our own beside this one: each runs a module of the companion, and is spoken to through pipes."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path
from typing import BinaryIO


def start_beside(module: str, *words: str) -> subprocess.Popen[bytes]:
    """Start a module of the companion as a process, its standard input and output being pipes to here.

    It has a session of its own: Ctrl-C in the terminal reaches this process alone, which ends the other in order.
    Without ``-P``, a file of the player's called like one of Python's modules would be run in its place.
    """
    home = str(Path(__file__).resolve().parents[2])
    path = os.pathsep.join(p for p in (home, os.environ.get("PYTHONPATH")) if p)
    return subprocess.Popen(
        [sys.executable, "-P", "-m", module, *words],
        env={**os.environ, "PYTHONPATH": path},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        start_new_session=sys.platform != "win32",
        creationflags=0x200 if sys.platform == "win32" else 0,  # CREATE_NEW_PROCESS_GROUP
    )


def take_standard_input() -> BinaryIO:
    """In such a process: standard input, for a thread that reads it to its end. Nobody else here has it any more.

    Python closes its own when the process ends; where a thread still waits in it, that is a fatal error and not an end.
    """
    assert isinstance(sys.stdin, io.TextIOWrapper)
    pipe: BinaryIO = sys.stdin.detach()
    return pipe
