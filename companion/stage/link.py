"""The player process's connection to the sender: starts it, orders, reads its notices, does without it if it fails.

Each side watches the other. Whoever drives a link calls :meth:`SenderLink.alive` at least every
:data:`companion.stage.wire.HEARTBEAT` seconds; the sender answers. A sender that doesn't answer is killed, and what it
left sounding is silenced from here.

Conventions: seconds on the live clock; raw MIDI messages with the channel as on the wire (0-15).
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Literal

from companion.errors import DeviceError
from companion.ports import jack
from companion.ports.midi import DRAIN, Output
from companion.ports.sounding import Sounding
from companion.stage import wire
from companion.stage.beside import start_beside
from companion.stage.clock import now

RECENT = 0.5
"""Seconds after which a note-off that was ordered has certainly been sent."""
PATIENCE = 10.0
"""Seconds that a sender may take to close its output once all is silent."""
END_PATIENCE = 1.5
"""Seconds that a sender may take to play out what is due and to silence the rest; it takes half a second."""
IMPATIENCE = 0.3
"""The same for a sender that has not answered signs of life."""
UNANSWERED = 3
"""Signs of life without an answer from which the sender is in doubt."""
HUNG = 15
"""Signs of life without an answer from which it has failed. Counted, not timed: a computer that slept sent none."""


@dataclass(frozen=True)
class Notice:
    """Something that the sender said; ``what`` as in :mod:`companion.stage.wire`, or 'died'."""

    what: wire.NoticeKind | Literal["died"]
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
        self._process = start_beside("companion.stage.sender", words.to_json())
        self._lock = threading.Lock()
        self._sounding = Sounding(words.channels)
        self._offs: deque[tuple[float, tuple[int, ...]]] = deque()
        self._held: dict[tuple[int, int], tuple[int, ...]] = {}
        self._done: dict[str, Any] = {}
        self._silent = threading.Event()
        """The sender has silenced everything, or is dead."""
        self._beat_at = 0.0
        self._unanswered = 0
        self._stood_in = self._ending = False
        first = _read_notice(_stdout(self._process))
        if first is None or first.what != "ready":
            self._process.kill()
            self._process.communicate()
            more = first.more if first else {}
            raise DeviceError(more.get("text") or "the sender did not start", mend=more.get("mend"))
        self.realtime: bool = first.more["realtime"]
        self.port: str = first.more["port"]
        self.silenced: bool = first.more["silenced"]
        """Whether notes were silenced that a companion which was killed may have left sounding."""
        self._mark: str | None = first.more["mark"]
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

    def player(self, message: tuple[int, ...], *, through: float | None = None) -> None:
        """Tell what the player does on a shared sound; ``through``: have it sounded instead, when they did it."""
        if through is not None:
            self._sounding.order(message)
            self._write(wire.pack(through, wire.THROUGH, message))
        else:
            self._held[message[0] & 0xE0, message[1]] = message  # 0x80 for notes, 0xA0 for controllers
            self._write(wire.pack(0.0, wire.PLAYER, message))

    def alive(self) -> None:
        """Give the sender a sign of life where one is due, and end it when it has answered none for a long while."""
        if now() < self._beat_at:
            return
        self._beat_at = now() + wire.HEARTBEAT
        self._unanswered += 1
        if self._unanswered > HUNG:
            self._process.kill()  # its end is told by the listener
        else:
            self._write(wire.pack(0.0, wire.ALIVE))

    def wait_until(self, moment: float) -> None:
        """Sleep until a moment, with signs of life meanwhile."""
        while (left := moment - now()) > 0:
            self.alive()
            time.sleep(min(left, wire.HEARTBEAT / 2))

    def end(self) -> dict[str, Any]:
        """Let it play out what is due, silence everything and end; one that hangs is ended and silenced from here.

        Returns
        -------
        dict
            Its figures of lateness ('sent', 'median_ms', 'p99_ms', 'worst_ms') and 'dropped', the notes that were too
            late; empty when it had died.
        """
        self._ending = True
        doubtful = self._unanswered >= UNANSWERED
        if not doubtful:
            self._write(wire.pack(0.0, wire.END))
        hangs = not self._silent.wait(IMPATIENCE if doubtful else END_PATIENCE)
        if hangs:
            self._process.kill()
        self._wait_for_end()
        if not self._done and not self._stood_in:
            self.silence_for()
        return self._done

    def silence_for(self) -> None:
        """After the sender was killed: end from here what it left sounding. The computer's sound has ended with it."""
        self._stood_in = True
        if self.words.port is None:
            return
        sounding = Sounding(self.words.channels, self.words.shared)
        for message in self._held.values():
            sounding.player(message)
        ended = {(message[0] & 0x0F, message[1]) for _, message in self._offs}
        for channel, note in sorted({*self._sounding.notes, *ended}):
            sounding.adopt(channel, note)
        jack.client_left()  # the sender's, which JACK may only be noticing
        try:
            output = Output(self.words.api, self.port)
        except DeviceError:
            return  # the output has gone as well
        with contextlib.suppress(Exception):  # whatever the library says of a port that goes meanwhile
            for message in sounding.silence():
                output.send(message)
            time.sleep(DRAIN)
        output.close()
        if self._mark:
            with contextlib.suppress(OSError):
                Path(self._mark).unlink()

    def _wait_for_end(self) -> None:
        with self._lock, contextlib.suppress(OSError):
            if self._process.stdin:
                self._process.stdin.close()
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._reader.join(PATIENCE)
        _stdout(self._process).close()

    def _write(self, frame: bytes) -> None:
        with self._lock, contextlib.suppress(OSError, ValueError):  # its death is told by its notices' end
            pipe = self._process.stdin
            if pipe and not pipe.closed:
                pipe.write(frame)
                pipe.flush()

    def _listen(self) -> None:
        while (notice := _read_notice(_stdout(self._process))) is not None:
            self._unanswered = 0
            if notice.what == "done":
                self._done = notice.more
                self._silent.set()
            elif notice.what != "alive":
                self.port = notice.more.get("port", self.port)
                self._notify(notice)
        self._silent.set()
        if not self._ending:
            self._notify(Notice("died"))


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
