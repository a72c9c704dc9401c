"""The player process's end of the sender: starts it, hands it orders, hears its notices.

Conventions: seconds on the live clock; raw MIDI messages with the channel as on the wire (0-15).
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import IO, Any

from companion.errors import DeviceError
from companion.ports.sounding import Sounding
from companion.stage import wire
from companion.stage.clock import now

RECENT = 0.5
"""Seconds for which an ordered note-off may not have been sent when the sender dies."""
PATIENCE = 10.0
"""Seconds that a sender may take to be ready or to end."""


@dataclass(frozen=True)
class Notice:
    """Something that the sender said; ``what`` as in :mod:`companion.stage.wire`, or 'died'."""

    what: str
    more: dict[str, Any] = field(default_factory=dict)


class SenderLink:
    """A running sender.

    Parameters
    ----------
    words : SenderWords
        What it is started with.
    notify : callable
        Gets each notice but the first and the last, in a thread of its own; must return at once.

    Raises
    ------
    DeviceError
        It couldn't open the output.
    """

    def __init__(self, words: wire.SenderWords, notify: Callable[[Notice], None]):
        self.words = words
        self._notify = notify
        self._process = _start(words)
        self._lock = threading.Lock()
        self._sounding = Sounding(words.channels)
        self._offs: deque[tuple[float, tuple[int, ...]]] = deque()
        self._held: dict[tuple[int, int], tuple[int, ...]] = {}
        self._done: dict[str, Any] = {}
        self._ending = False
        first = _read_notice(_stdout(self._process))
        if first is None or first.what != "ready":
            self._process.kill()
            self._process.communicate()
            more = first.more if first else {}
            raise DeviceError(more.get("text") or "the sender did not start", mend=more.get("mend"))
        self.realtime: bool = first.more["realtime"]
        self.port: str = first.more["port"]
        self._reader = threading.Thread(target=self._listen, daemon=True)
        self._reader.start()

    @property
    def pid(self) -> int:
        """Process number of the sender."""
        return self._process.pid

    def order(self, due: float, message: tuple[int, ...]) -> None:
        """Have a message sent at a moment."""
        for passed in self._sounding.order(message):
            if passed[0] & 0xF0 == 0x80:
                self._offs.append((due, passed))
        while self._offs and self._offs[0][0] < now() - RECENT:
            self._offs.popleft()
        self._write(wire.pack(due, wire.ORDER, message))

    def player(self, message: tuple[int, ...], *, through: bool = False) -> None:
        """Tell what the player does on a shared sound; ``through``: have it sounded at once instead."""
        if through:
            self._sounding.order(message)
        else:
            self._held[message[0] & 0xE0, message[1]] = message  # 0x80 for notes, 0xA0 for controllers
        self._write(wire.pack(0.0, wire.THROUGH if through else wire.PLAYER, message))

    def end(self) -> dict[str, Any]:
        """Let it play out what is due, silence everything and end.

        Returns
        -------
        dict
            Its figures of lateness ('sent', 'median_ms', 'p99_ms', 'worst_ms'); empty when it had died.
        """
        self._ending = True
        self._write(wire.pack(0.0, wire.END))
        return self._wait_for_end()

    def silence_for(self) -> None:
        """After the sender was killed: start another for as long as it takes to end what the first left sounding."""
        try:
            other = SenderLink(replace(self.words, programs=()), lambda _: None)
        except DeviceError:
            return  # the output has gone as well
        for message in self._held.values():
            other._write(wire.pack(0.0, wire.PLAYER, message))
        ended = {(message[0] & 0x0F, message[1]) for _, message in self._offs}
        for channel, note in sorted({*self._sounding.notes, *ended}):
            other._write(wire.pack(0.0, wire.ADOPT, (channel, note)))
        other.end()

    def _wait_for_end(self) -> dict[str, Any]:
        with contextlib.suppress(OSError):
            if self._process.stdin:
                self._process.stdin.close()
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._reader.join(PATIENCE)
        _stdout(self._process).close()
        return self._done

    def _write(self, frame: bytes) -> None:
        with self._lock, contextlib.suppress(OSError, ValueError):  # its death is told by its notices' end
            pipe = self._process.stdin
            if pipe and not pipe.closed:
                pipe.write(frame)
                pipe.flush()

    def _listen(self) -> None:
        while (notice := _read_notice(_stdout(self._process))) is not None:
            if notice.what == "done":
                self._done = notice.more
            else:
                self._notify(notice)
        if not self._ending:
            self._notify(Notice("died"))


def _start(words: wire.SenderWords) -> subprocess.Popen[bytes]:
    # A session of its own: Ctrl-C in the terminal reaches the player alone, who ends the sender in order. Without -P,
    # a file of the player's called like one of Python's modules would be run in its place.
    home = str(Path(__file__).resolve().parents[2])
    path = os.pathsep.join(p for p in (home, os.environ.get("PYTHONPATH")) if p)
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "companion.stage.sender", words.to_json()],
        env={**os.environ, "PYTHONPATH": path},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        start_new_session=sys.platform != "win32",
        creationflags=0x200 if sys.platform == "win32" else 0,  # CREATE_NEW_PROCESS_GROUP
    )


def _stdout(process: subprocess.Popen[bytes]) -> IO[bytes]:
    assert process.stdout is not None
    return process.stdout


def _read_notice(pipe: IO[bytes]) -> Notice | None:
    try:
        line = pipe.readline()
        table = json.loads(line) if line else None
    except (OSError, ValueError):
        return None
    return Notice(table.pop("what"), table) if table else None
