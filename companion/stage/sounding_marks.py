"""Marks on the disk of companions that run: what they may leave sounding, and which instrument they use.

A process that plays on a port keeps a mark for it and removes it once everything is silent. If every process of the
companion is killed at once the mark remains, and the next process that opens the port sends the note-offs. As long as
the process lives the mark says that somebody plays there, and another companion asks before it joins in.

Whether a process lives is told by its lock on the mark, which dies with it, whatever number it had.

Conventions: channels 0-15, as on the wire; a port is known by its name without the numbers that change.
"""

from __future__ import annotations

import contextlib
import json
import os
import platform
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from companion.chart.plain import printable_text
from companion.errors import DeviceError
from companion.files import lock
from companion.ports.choice import device
from companion.ports.sounding import ALL_NOTES_OFF, SUSTAIN, RawMessage

FOLDER = "may-be-sounding"
"""The folder for marks, in the folder for user data."""
ENDS_WITHIN = 1.5
"""Seconds that another companion gets to end: a sender whose player was killed silences everything first."""
LOOK = 0.1
"""Seconds between two looks whether it has."""

Ask = Callable[[str], bool]
"""Puts a question to the person at the terminal; whether they agree."""


class SoundingMark:
    """Says that this process uses an instrument, and may be sounding notes. Where the disk refuses, there is none.

    Parameters
    ----------
    folder : Path
        Where marks lie.
    api, port : str
        As in :class:`companion.ports.choice.Ports`; None: no port is played on.
    channels : iterable of int
        Those that are played on.
    listening : str, optional
        The port that is listened to.
    title : str
        What is played.
    """

    def __init__(
        self,
        folder: Path,
        api: str,
        port: str | None,
        channels: Iterable[int],
        *,
        listening: str | None = None,
        title: str = "",
    ):
        self.path = folder / f"{os.getpid()}-{time.time_ns()}.json"
        self._file: IO[bytes] | None = None
        table = {
            "api": api,
            "device": port and device(port),
            "channels": sorted(channels),
            "listening": listening and device(listening),
            "title": title,
            "since": time.time(),
            "host": platform.node(),
        }
        with contextlib.suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            self._file = self.path.open("xb", buffering=0)
            # Where a disk knows no locks nobody could tell whether this process lives.
            table["locked"] = lock(self._file)
            self._file.write(json.dumps(table).encode() + b"\n")

    def remove(self) -> None:
        """All is silent."""
        if self._file:
            self._file.close()
            with contextlib.suppress(OSError):
                self.path.unlink()


def left_sounding(folder: Path, api: str, port: str) -> dict[Path, set[int]]:
    """The marks on a port whose processes have died, and their channels."""
    found = {}
    for path in _marks(folder):
        with contextlib.suppress(OSError, ValueError, TypeError, KeyError), path.open("r+b") as file:
            if not lock(file):
                continue  # its process lives
            table = json.loads(file.readline())
            if (table["api"], table["device"]) == (api, device(port)):
                found[path] = {channel for channel in table["channels"] if channel in range(16)}
    return found


def silencing(channels: Iterable[int]) -> list[RawMessage]:
    """What ends every note on channels: not every instrument knows 'all notes off', so each key has its note-off."""
    messages: list[RawMessage] = []
    for channel in sorted(channels):
        messages += [(0xB0 | channel, SUSTAIN, 0), (0xB0 | channel, ALL_NOTES_OFF, 0)]
        messages += [(0x80 | channel, note, 64) for note in range(128)]
    return messages


@dataclass(frozen=True)
class Other:
    """Another companion that uses a port."""

    port: str
    """The port by its present name."""
    listens: bool
    """It listens there, or else it plays there."""
    title: str
    since: float
    """When it began, in seconds of ``time.time``."""

    def __str__(self) -> str:
        """What it does, in a clause."""
        began, today = time.localtime(self.since), time.localtime()
        clock = time.strftime("%H:%M" if began[:3] == today[:3] else "%Y-%m-%d %H:%M", began)
        about = ", ".join(part for part in (f"started {clock}", self.title) if part)
        return f"another companion ({about}) is {'listening to' if self.listens else 'playing on'} {self.port}"


def played_on(folder: Path, api: str, *, output: str | None = None, listening: str | None = None) -> Other | None:
    """Another companion that lives and plays on ``output``, or listens to the port that is to be listened to.

    Parameters
    ----------
    folder : Path
        Where marks lie.
    api, output, listening : str
        As in :class:`companion.ports.choice.Ports`.
    """
    for path in _marks(folder):
        with contextlib.suppress(OSError, ValueError, TypeError, KeyError, AttributeError), path.open("r+b") as file:
            dead = lock(file)
            table = json.loads(file.readline())
            if dead:
                if not table["channels"]:
                    path.unlink()  # it has left nothing to silence
                continue
            if not table["locked"] or table["host"] != platform.node() or table["api"] != api:
                continue
            for port, key in ((output, "device"), (listening, "listening")):
                if port is not None and table[key] == device(port):
                    return _other(port, key == "listening", table)
    return None


def check_alone(folder: Path, api: str, *, output: str | None, listening: str | None = None, ask: Ask | None) -> None:
    """Before a port is opened: see that no other companion uses it, or that the person here wants to all the same.

    Parameters
    ----------
    folder, api, output, listening
        As for :func:`played_on`.
    ask : callable, optional
        See :data:`Ask`; None where there is nobody to ask.

    Raises
    ------
    DeviceError
        Another companion plays or listens there, and nobody said to go on.
    """
    until = time.monotonic() + ENDS_WITHIN
    while (other := played_on(folder, api, output=output, listening=listening)) and time.monotonic() < until:
        time.sleep(LOOK)
    if other is None:
        return
    mend = "end that one first, or name another port (see 'companion ports')"
    if ask is None:
        raise DeviceError(str(other), mend=mend)
    if not ask(f"{other}; play all the same?"):
        raise DeviceError(f"{other.port} is left to the other companion", mend=mend)


def _other(port: str, listens: bool, table: dict[str, Any]) -> Other:
    return Other(port, listens, printable_text(str(table["title"])), float(table["since"]))


def _marks(folder: Path) -> list[Path]:
    try:
        return sorted(folder.glob("*.json"))
    except OSError:
        return []
