"""The journal of a take: one row of JSON an event, appended while it is played.

The first row is ``["take", HEAD]``, every other the name of its kind and the values of its fields in order:
``["heard", 1.0, 144, 60, 80]``. A row that a crash cut off is the last one and lacks its line's end.

Conventions: seconds from the take's start; status bytes without their channel.
"""

from __future__ import annotations

import json
import os
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields
from pathlib import Path
from typing import IO, Any

from companion.files import lock
from companion.messages import PARTS, Beat, Heard, Order, Round, State, Wish
from companion.stage.performance import LONGEST
from companion.stage.typed_rows import from_values

JOURNAL = "journal.jsonl"
FORCED = 0.5
"""Seconds after which what was played is on the disk."""
RETRY = 2.0
"""Seconds after which a disk that refused is tried again."""
HEAD = "take"

TakeEvent = Heard | Wish | Order | Beat | State | Round
"""What a take holds."""
KINDS: dict[str, type[TakeEvent]] = {
    "heard": Heard,
    "wish": Wish,
    "order": Order,
    "beat": Beat,
    "state": State,
    "round": Round,
}

_NAMES = {kind: name for name, kind in KINDS.items()}
_FIELDS = {kind: tuple(f.name for f in fields(kind)) for kind in KINDS.values()}


def head_line(head: dict[str, Any]) -> bytes:
    """The first row."""
    return _line([HEAD, head])


def line_of(event: TakeEvent) -> bytes:
    """The row of an event."""
    return _line([_NAMES[type(event)], *(getattr(event, name) for name in _FIELDS[type(event)])])


def read_rows(lines: Iterable[bytes]) -> Iterator[dict[str, Any] | TakeEvent | None]:
    """What the rows of a journal say, in order: the head, events, and None for each that says nothing sound.

    A row without its line's end is passed over: a crash cut it off.
    """
    for line in lines:
        if line.endswith(b"\n"):
            yield _read(line)


def _read(line: bytes) -> dict[str, Any] | TakeEvent | None:
    try:
        name, *values = json.loads(line)
        if name == HEAD:
            return values[0] if len(values) == 1 and isinstance(values[0], dict) else None
        event: TakeEvent = from_values(KINDS[name], values)
        if not 0 <= event.seconds <= LONGEST:
            return None
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    return event if _can_be_written(event) else None


def _can_be_written(event: TakeEvent) -> bool:
    """Whether a file can hold it: status and data bytes in their ranges (MIDI 1.0), a part that there is."""
    if isinstance(event, Wish | Beat | State | Round):
        return True
    if isinstance(event, Order) and event.part not in PARTS:
        return False
    return 0x80 <= event.status < 0xF0 and 0 <= event.data1 < 0x80 and 0 <= event.data2 < 0x80


def _line(row: list[Any]) -> bytes:
    return json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


class JournalFile:
    """A journal being written; what the disk refuses is held in memory and tried again. For one thread.

    Parameters
    ----------
    make_folder : callable
        Makes the folder for it; may raise OSError.
    tell : callable
        Gets a sentence when the disk refuses, and when it takes everything again.
    """

    def __init__(self, make_folder: Callable[[], Path], tell: Callable[[str], None]):
        self.folder: Path | None = None
        self.trouble: OSError | None = None
        """What the disk said last, while it refuses."""
        self.waiting: deque[bytes] = deque()
        """What isn't on the disk yet."""
        self._make_folder, self._tell = make_folder, tell
        self._file: IO[bytes] | None = None
        self._forced_at: float | None = None
        self._retry_at = 0.0

    def append(self, line: bytes) -> None:
        """Write a row, now or as soon as the disk takes it."""
        self.waiting.append(line)
        self.go_on()

    def wait(self) -> float | None:
        """Seconds until :meth:`go_on` has something to do; None: nothing before the next row."""
        moments = [self._retry_at] if self.trouble else []
        moments += [self._forced_at] if self._forced_at is not None else []
        return max(0.0, min(moments) - time.monotonic()) if moments else None

    def go_on(self, *, last: bool = False) -> None:
        """Write what waits and force it to the disk when that is due; ``last``: whatever the time."""
        if self.trouble and time.monotonic() < self._retry_at and not last:
            return
        try:
            self._write()
            if self._forced_at is not None and (last or time.monotonic() >= self._forced_at):
                self._forced_at = None
                if self._file:
                    os.fsync(self._file.fileno())
        except OSError as error:
            self._retry_at = time.monotonic() + RETRY
            if not self.trouble:
                self._tell(
                    f"the take can't be written now ({disk_reason(error)}); it is held in memory and tried again"
                )
            self.trouble = error
        else:
            if self.trouble:
                self._tell("the take is on the disk again, and nothing of it is missing")
            self.trouble = None

    def _write(self) -> None:
        if self._file is None:
            self.folder = self.folder or self._make_folder()
            self._file = (self.folder / JOURNAL).open("xb", buffering=0)
            lock(self._file)
        while self.waiting:
            # Unbuffered: from here on the system has it, even if this process is killed.
            written = self._file.write(self.waiting[0])
            if written < len(self.waiting[0]):
                self.waiting[0] = self.waiting[0][written:]  # a disk that has just become full takes a part
            else:
                self.waiting.popleft()
            self._forced_at = self._forced_at or time.monotonic() + FORCED

    def close(self) -> None:
        """Let the file go, and with it the mark that it is being written."""
        if self._file:
            self._file.close()


def disk_reason(error: OSError) -> str:
    """What the system said, in a few words."""
    return getattr(error, "what", None) or (error.strerror or str(error) or type(error).__name__).lower()
