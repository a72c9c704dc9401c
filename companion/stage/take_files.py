"""Drafts of a take's two files, extended while it is played, so that closing it takes the same time after hours.

Each event is stored in the form in which it will be written: notes as rows of fixed size, beats and states as lines of
JSON. A draft lies in memory while it is small, then in a file of the system's temporary folder. The journal remains the
original, from which the files are made again should a draft be lost.

Conventions: seconds from the take's start; channels 0-15 in notes.
"""

from __future__ import annotations

import json
import os
import re
import time
import unicodedata
from collections import Counter
from contextlib import suppress
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from tempfile import SpooledTemporaryFile
from typing import Any, Literal

import numpy as np

from companion.files import write_whole
from companion.messages import PARTS, Beat, Heard, Order, Part, Round, State, Wish
from companion.resources import data_folder
from companion.stage.journal import TakeEvent
from companion.stage.note_tracks import NOTE, PACKED, with_notes
from companion.stage.performance import CHANNELS, PLAYER_CHANNEL, recording_bytes
from companion.stage.typed_rows import of_type

Outcome = Literal["ended", "stopped", "interrupted", "lost"]
"""How a take ended: by itself; because that was asked for; broken off; or because a device or the companion failed."""
FORMAT = 1
MIDI, DATA = "take.mid", "take.json"
IN_MEMORY = 1 << 20
"""Bytes of a draft that lie in memory at most: an hour or so."""


class TakeFiles:
    """A draft of a take's two files.

    Parameters
    ----------
    in_memory : int
        Bytes above which a draft goes to the temporary folder; 0: it never does.
    """

    def __init__(self, in_memory: int = IN_MEMORY):
        self.last = 0.0
        """Seconds of the last event."""
        self._notes = _draft(in_memory)
        self._beats = _draft(in_memory)
        self._states = _draft(in_memory)
        self._rounds = _draft(in_memory)
        self._wishes = _draft(in_memory)
        self._kept = False
        self._on: Counter[tuple[Part, int]] = Counter()
        self._parts: set[Part] = set()

    def add(self, event: TakeEvent) -> None:
        """Put down an event. Raises OSError when the temporary folder is full."""
        if isinstance(event, Heard):
            self._note(event.seconds, 0, event.status & 0xF0 | PLAYER_CHANNEL - 1, event.data1, event.data2)
        elif isinstance(event, Order):
            self._order(event)
        elif isinstance(event, Beat):
            self._beats.write(_line(event))
        elif isinstance(event, Round):
            self._rounds.write(_line(event))
        elif isinstance(event, Wish):
            self._wishes.write(_line(event))
            self._kept = self._kept or event.name == "keep"
        else:
            self._states.write(_line(event))
        if not isinstance(event, State | Round):
            self.last = max(self.last, event.seconds)

    def _order(self, order: Order) -> None:
        key, kind = (order.part, order.data1), order.status & 0xF0
        if kind == 0x90 and order.data2 > 0:
            self._on[key] += 1
        elif kind in (0x80, 0x90) and self._on[key]:
            self._on[key] -= 1
        self._parts.add(order.part)
        track = 1 + PARTS.index(order.part)
        self._note(order.seconds, track, kind | CHANNELS[order.part] - 1, order.data1, order.data2)

    def _note(self, seconds: float, track: int, *message: int) -> None:
        self._notes.write(PACKED.pack(seconds, track, *message))

    def write(self, folder: Path, head: dict[str, Any], how: Outcome) -> None:
        """Write the two files, where they don't stand yet, and force them to the disk.

        Raises
        ------
        InputError, OSError
            They can't be written.
        """
        if not (folder / MIDI).exists():
            write_whole(folder / MIDI, self._midi(head["title"]))
        if not (folder / DATA).exists():
            write_whole(folder / DATA, self._data(head, how))
        for path in (folder / MIDI, folder / DATA, folder):
            _force(path)

    def _midi(self, title: str) -> bytes:
        """The recording; a note that a crash left on ends with the take, so that the file plays to its end."""
        for (part, note), count in list(self._on.items()):
            for _ in range(count):
                self._order(Order(self.last, part, 0x80, note, 64))
        notes = np.frombuffer(_content(self._notes), NOTE)
        parts = [part for part in PARTS if part in self._parts]
        numbers = {0: 1} | {1 + PARTS.index(part): 2 + n for n, part in enumerate(parts)}  # of tracks in the file
        empty = recording_bytes([], [], parts=parts, title=title)
        return with_notes(empty, {number: notes[notes["track"] == track] for track, number in numbers.items()})

    def _data(self, head: dict[str, Any], how: Outcome) -> bytes:
        table = {**head, "seconds": round(self.last, 6), "how": how, "kept": self._kept}
        text = json.dumps(table, indent=1, ensure_ascii=False).encode().removesuffix(b"\n}")
        drafts = {"beats": self._beats, "states": self._states, "rounds": self._rounds, "wishes": self._wishes}
        for name, draft in drafts.items():
            text += f',\n "{name}": [\n'.encode() + _content(draft).removesuffix(b",\n") + b"\n ]"
        return text + b"\n}\n"

    def close(self) -> None:
        """Let the drafts go."""
        for draft in (self._notes, self._beats, self._states, self._rounds, self._wishes):
            draft.close()


def check_head(head: dict[str, Any]) -> None:
    """See that a take's head is one.

    Raises
    ------
    ValueError, KeyError, TypeError
        It isn't, or is of another format; the text says so.
    """
    if type(head["format"]) is not int or head["format"] != FORMAT:
        raise ValueError("it is of another format")
    for text in (head["title"], head["started"], head["chart"]["toml"]):
        of_type(text, str)
    of_type(head["chart"]["source"], str | None)
    moment(head["started"])
    if not isinstance(head["settings"], dict):
        raise ValueError("its settings are no table")
    for shown in ("you", "parts"):
        of_type(head["settings"].get(shown, []), tuple[str, ...])
    of_type(head["settings"].get("time", ""), str)
    json.dumps(head, ensure_ascii=False).encode()


def moment(text: str) -> datetime:
    """A date and time with its zone, this computer's where it says none.

    Raises
    ------
    ValueError
        It is none, or lies where no zone is known.
    """
    try:
        found = datetime.fromisoformat(text)
        return found if found.tzinfo else found.astimezone()
    except (OverflowError, OSError, TypeError) as error:
        raise ValueError(str(error)) from None


def takes_folder(data: Path | None = None) -> Path:
    """Where takes lie: under ``data``, by default under :func:`companion.resources.data_folder`."""
    return (data or data_folder()) / "takes"


def new_folder(root: Path, title: str) -> Path:
    """Make a folder for a take, named by date, time and title; one that is there already is not used."""
    root.mkdir(parents=True, exist_ok=True)
    return free_place(root / f"{time.strftime('%Y-%m-%d-%H%M%S')}-{slug(title)}", Path.mkdir)


def free_place(wanted: Path, take: Any) -> Path:
    """The wanted place, or the first of its name with a number that is free.

    Parameters
    ----------
    wanted : Path
    take : callable
        Takes a place for oneself; raises FileExistsError where something stands.
    """
    for count in range(1, 1000):
        place = wanted if count == 1 else wanted.with_name(f"{wanted.name}-{count}")
        with suppress(FileExistsError):
            take(place)
            return place
    raise FileExistsError(17, "too many of one name", str(wanted))


def slug(title: str) -> str:
    """A title as part of a file's name: lower case, a-z and 0-9, the rest as hyphens.

    >>> slug("Été à Lyon (No. 2)"), slug("///")
    ('ete-a-lyon-no-2', 'take')
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:48].strip("-") or "take"


def _draft(in_memory: int) -> SpooledTemporaryFile[bytes]:
    return SpooledTemporaryFile(max_size=in_memory)


def _line(event: Beat | State | Round | Wish) -> bytes:
    table = {f.name: getattr(event, f.name) for f in fields(event)}
    return b"  " + json.dumps(table, ensure_ascii=False).encode() + b",\n"


def _content(draft: SpooledTemporaryFile[bytes]) -> bytes:
    draft.seek(0)
    return draft.read()


def _force(path: Path) -> None:
    """Force a file, or the entries of a folder, to the disk."""
    with suppress(OSError):  # not every system can do it for a folder
        number = os.open(path, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
