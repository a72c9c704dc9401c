"""Marks on the disk for outputs that may be sounding, so that the next start can silence them after a sudden end.

A process that plays on a port keeps a mark for it and removes it once everything is silent. If every process of the
companion is killed at once the mark remains, and the next process that opens the port sends the note-offs.

Conventions: channels 0-15, as on the wire; a port is known by its name without the numbers that change.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Iterable
from pathlib import Path
from typing import IO

from companion.files import lock
from companion.ports.midi import device
from companion.ports.sounding import ALL_NOTES_OFF, SUSTAIN, RawMessage

FOLDER = "may-be-sounding"
"""The folder for marks, in the folder for user data."""


class SoundingMark:
    """Says that this process may be sounding notes on a port. Where the disk refuses, there is none.

    Parameters
    ----------
    folder : Path
        Where marks lie.
    api, port : str
        As in :class:`companion.ports.midi.Ports`.
    channels : iterable of int
    """

    def __init__(self, folder: Path, api: str, port: str, channels: Iterable[int]):
        self.path = folder / f"{os.getpid()}-{time.time_ns()}.json"
        self._file: IO[bytes] | None = None
        text = json.dumps({"api": api, "device": device(port), "channels": sorted(channels)})
        with contextlib.suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            self._file = self.path.open("xb", buffering=0)
            lock(self._file)
            self._file.write(text.encode() + b"\n")

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


def _marks(folder: Path) -> list[Path]:
    try:
        return sorted(folder.glob("*.json"))
    except OSError:
        return []
