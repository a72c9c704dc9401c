"""Takes: everything that was played, kept from the first note, whatever happens.

A take is a folder under ``takes`` in the folder for user data, named by date, time and chart. In it:

- ``take.mid``: what the player and the companion played, a track each (:mod:`companion.stage.performance`);
- ``take.json``: the chart, the settings and the beats;
- while it is played, ``journal.jsonl`` instead: one row of JSON an event, appended and forced to the disk twice a
  second. At the end the two files are made from it; after a crash that is done when the companion is next started.

Nothing is ever overwritten: a folder is new or isn't used. A take can be replayed: ``companion replay CHART
FOLDER/take.mid``.

Conventions: seconds from the take's start, which lies :data:`LEAD_IN` before its first event.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
import threading
import time
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import asdict, astuple, dataclass, fields, is_dataclass, replace
from datetime import datetime
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import IO, TYPE_CHECKING, Any

from companion import __version__
from companion.errors import InputError
from companion.messages import Beat, Belief, Heard, Order, Report, State
from companion.resources import data_folder
from companion.stage.performance import read_performance, write_recording

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from companion.stage.settings import Settings

FORMAT = 1
LEAD_IN = 1.0
"""Seconds of quiet before the first event of a take."""
FORCED = 0.5
"""Seconds after which what was played is on the disk."""
MIDI, DATA, JOURNAL = "take.mid", "take.json", "journal.jsonl"

Row = list[Any]


@dataclass(frozen=True)
class Take:
    """A kept take, without its notes."""

    folder: Path
    title: str
    started: datetime
    seconds: float
    """From its start to its last event."""
    how: str
    """How it ended: 'ended', 'stopped', 'interrupted' (the companion was broken off) or 'lost' (a device went)."""
    source: str | None
    """The file that the chart was read from."""
    chart: str
    """The chart as TOML."""
    settings: dict[str, Any]
    beats: tuple[Beat, ...]
    states: tuple[State, ...] = ()

    @property
    def midi(self) -> Path:
        """The Standard MIDI File."""
        return self.folder / MIDI

    def heard(self) -> list[Heard]:
        """What the player played. Raises PerformanceError when the file is damaged."""
        return read_performance(self.midi)

    def rehearsed(self) -> tuple[Chart, Settings]:
        """The chart and the settings, to replay it. Raises ChartError when the chart is of a newer format."""
        from companion.chart.toml_format import parse_toml
        from companion.stage.settings import Settings

        known = {f.name for f in fields(Settings)}
        table = {name: value for name, value in self.settings.items() if name in known}
        table |= {"you": frozenset(table["you"]), "parts": tuple(table["parts"])}
        return parse_toml(self.chart), Settings(**table)


def takes_folder(data: Path | None = None) -> Path:
    """Where takes lie: under ``data``, by default under :func:`companion.resources.data_folder`."""
    return (data or data_folder()) / "takes"


def list_takes(data: Path | None = None) -> list[Take]:
    """Every kept take, the latest first; those of a crash are completed before."""
    recover(data)
    found = []
    for place in _folders(data):
        with contextlib.suppress(InputError):
            found.append(read_take(place))
    return sorted(found, key=lambda take: (take.started, take.folder.name), reverse=True)


def read_take(folder: Path) -> Take:
    """Read a take.

    Raises
    ------
    InputError
        There is none in that folder, it is damaged, or it is of a newer format.
    """
    file = folder / DATA
    try:
        table = json.loads(file.read_text(encoding="utf-8"))
        if table["format"] > FORMAT:
            raise InputError("is of a newer format", file=str(file), mend="update the companion")
        return Take(
            folder,
            table["title"],
            datetime.fromisoformat(table["started"]),
            float(table["seconds"]),
            table["how"],
            table["chart"]["source"],
            table["chart"]["toml"],
            table["settings"],
            tuple(Beat(**row) for row in table["beats"]),
            tuple(State(**row) for row in table.get("states", [])),
        )
    except OSError:
        mend = f"a take is a folder with {DATA} and {MIDI}"
        raise InputError("there is no take", file=str(folder), mend=mend) from None
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"damaged ({type(error).__name__})", file=str(file)) from None


def recover(data: Path | None = None) -> list[Path]:
    """Complete takes that a crash left as journals; returns their folders. Those being played now are left alone."""
    done = []
    for place in _folders(data):
        journal = place / JOURNAL
        if not journal.exists():
            continue
        with contextlib.suppress(OSError, InputError), journal.open("r+b") as file:
            if _lock(file) and complete(place, "interrupted"):
                done.append(place)
    return done


def complete(folder: Path, how: str) -> bool:
    """Make the take's two files from its journal, then remove the journal; False when there is nothing to make it from.

    Raises
    ------
    InputError, OSError
        They can't be written; the journal stays.
    """
    rows = list(_rows(folder / JOURNAL))
    head: dict[str, Any] = next((row[1] for row in rows if row[0] == "take"), {})
    if not head:
        return False
    heard = [Heard(*row[1:]) for row in rows if row[0] == "heard"]
    orders = [Order(*row[1:]) for row in rows if row[0] == "order"]
    beats = [Beat(*row[1:]) for row in rows if row[0] == "beat"]
    states = [State(*row[1:]) for row in rows if row[0] == "state"]
    last = max([*(h.seconds for h in heard), *(o.seconds for o in orders), *(b.seconds for b in beats), 0.0])
    table = {
        **head,
        "seconds": round(last, 6),
        "how": how,
        "beats": [asdict(b) for b in beats],
        "states": [asdict(s) for s in states],
    }
    if not (folder / MIDI).exists():
        write_recording(folder / MIDI, heard, _silenced(orders, last), title=head["title"])
        _force(folder / MIDI)
    if not (folder / DATA).exists():
        beside = folder / f".{DATA}.{os.getpid()}.part"
        beside.write_text(json.dumps(table, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        _force(beside)
        beside.replace(folder / DATA)
    _force(folder)
    (folder / JOURNAL).unlink()
    return True


class TakeWriter:
    """Keeps a take while it is played; writing happens in a thread of its own, so that no disk holds up the playing.

    Parameters
    ----------
    chart : Chart
        What is played.
    settings : Settings
        How.
    data : path, optional
        The folder for user data.
    """

    def __init__(self, chart: Chart, settings: Settings, data: Path | None = None):
        self.trouble: str | None = None
        """Why the take can't be kept, if it can't."""
        self.heard: list[Heard] = []
        self.orders: list[Order] = []
        self.beats: list[Beat] = []
        self._root = takes_folder(data)
        self._head = _head(chart, settings)
        self._origin: float | None = None
        self._before: list[Heard | Order | Report] = []
        self._rows: list[Row] = []
        self._queue: SimpleQueue[Row | None] = SimpleQueue()
        self._thread: threading.Thread | None = None
        self._folder: Path | None = None
        self._file: IO[bytes] | None = None

    def add(self, event: Heard | Order | Report) -> None:
        """Keep something that was heard, ordered or reported; what the follower believed is not kept."""
        if isinstance(event, Belief):
            return
        note = isinstance(event, Heard) and event.is_note_on
        if self._origin is None:
            self._before.append(event)
            if note or isinstance(event, Order):
                self._origin = max(0.0, event.seconds - LEAD_IN)
                for earlier in self._before:
                    self._keep(earlier, self._origin)
                self._before.clear()
        else:
            self._keep(event, self._origin)
        if note and not self._thread:
            self._begin()

    def _keep(self, event: Heard | Order | Report, origin: float) -> None:
        seconds = round(max(0.0, event.seconds - origin), 6)
        if isinstance(event, Heard):
            self.heard.append(Heard(seconds, event.status, event.data1, event.data2))
            row: Row = ["heard", seconds, event.status, event.data1, event.data2]
        elif isinstance(event, Order):
            self.orders.append(Order(seconds, event.part, event.status, event.data1, event.data2))
            row = ["order", seconds, event.part, event.status, event.data1, event.data2]
        elif isinstance(event, Beat):
            self.beats.append(replace(event, seconds=seconds))
            row = ["beat", *astuple(self.beats[-1])]
        elif isinstance(event, State):
            row = ["state", *astuple(replace(event, seconds=seconds))]
        else:
            return
        if self._thread:
            self._queue.put(row)
        else:
            self._rows.append(row)

    def close(self, how: str) -> Path | None:
        """Complete the take. Returns its folder; None when no note was played or it couldn't be kept (``trouble``)."""
        if not self._thread:
            return None
        self._queue.put(None)
        self._thread.join()
        if not self._folder:
            return None
        try:
            complete(self._folder, how)
        except (OSError, InputError) as error:
            self.trouble = str(error)
        finally:
            if self._file:
                self._file.close()
        return self._folder

    def _begin(self) -> None:
        self._head["started"] = datetime.now().astimezone().isoformat(timespec="seconds")
        if self._head["settings"].get("start") is not None:
            self._head["settings"]["start"] -= self._origin or 0.0
        self._queue.put(["take", self._head])
        for row in self._rows:
            self._queue.put(row)
        self._rows.clear()
        self._thread = threading.Thread(target=self._write, daemon=True)
        self._thread.start()

    def _write(self) -> None:
        try:
            self._folder = _new_folder(self._root, self._head["title"])
            self._file = (self._folder / JOURNAL).open("xb", buffering=0)
            _lock(self._file)
            _force(self._folder)
            self._copy(self._file)
        except OSError as error:
            self.trouble = f"{error.strerror or error}: {error.filename or self._root}"

    def _copy(self, file: IO[bytes]) -> None:
        """Append rows as they come; force them to the disk :data:`FORCED` seconds later at the latest."""
        due: float | None = None
        while True:
            try:
                row = self._queue.get(timeout=None if due is None else max(0.0, due - time.monotonic()))
                if row is None:
                    break
                file.write(_line(row))  # unbuffered: from here on the system has it, even if this process is killed
                due = due or time.monotonic() + FORCED
                if time.monotonic() < due:
                    continue
            except Empty:
                pass
            os.fsync(file.fileno())
            due = None
        os.fsync(file.fileno())


def _head(chart: Chart, settings: Settings) -> dict[str, Any]:
    from companion.chart.toml_format import write_toml

    return {
        "format": FORMAT,
        "companion": __version__,
        "title": chart.title,
        "started": "",
        "chart": {"source": str(chart.source) if chart.source else None, "toml": write_toml(chart)},
        "settings": settings_table(settings),
    }


def settings_table(settings: Any) -> dict[str, Any]:
    """Settings as a table that JSON can hold; sets as sorted lists."""
    assert is_dataclass(settings)
    table = {f.name: getattr(settings, f.name) for f in fields(settings)}
    return {name: sorted(value) if isinstance(value, frozenset) else value for name, value in table.items()}


def _new_folder(root: Path, title: str) -> Path:
    root.mkdir(parents=True, exist_ok=True)
    name = f"{time.strftime('%Y-%m-%d-%H%M%S')}-{slug(title)}"
    for count in range(1, 1000):
        folder = root / (name if count == 1 else f"{name}-{count}")
        try:
            folder.mkdir()
        except FileExistsError:
            continue
        return folder
    raise FileExistsError(17, "too many takes of one second", str(root / name))


def slug(title: str) -> str:
    """A title as part of a file's name: lower case, a-z and 0-9, the rest as hyphens.

    >>> slug("Été à Lyon (No. 2)"), slug("///")
    ('ete-a-lyon-no-2', 'take')
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:48].strip("-") or "take"


def _folders(data: Path | None) -> list[Path]:
    try:
        return sorted(place for place in takes_folder(data).iterdir() if place.is_dir())
    except OSError:
        return []


def _line(row: Row) -> bytes:
    return json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _rows(journal: Path) -> Iterator[Row]:
    """The rows of a journal; one that a crash cut off is passed over."""
    with journal.open("rb") as file:
        for line in file:
            try:
                row = json.loads(line)
            except ValueError:
                continue
            if isinstance(row, list) and row:
                yield row


def _silenced(orders: Sequence[Order], last: float) -> list[Order]:
    """Orders with a note-off at the end for each note that a crash left on, so that the file plays to its end."""
    on: dict[tuple[str, int], int] = {}
    for order in orders:
        key = order.part, order.data1
        if order.status & 0xF0 == 0x90 and order.data2 > 0:
            on[key] = on.get(key, 0) + 1
        elif order.status & 0xF0 in (0x80, 0x90):
            on[key] = max(0, on.get(key, 0) - 1)
    return [*orders, *(Order(last, part, 0x80, note, 64) for (part, note), count in on.items() for _ in range(count))]


def _force(path: Path) -> None:
    """Force a file, or the entries of a folder, to the disk."""
    with contextlib.suppress(OSError):  # not every system can do it for a folder
        number = os.open(path, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def _lock(file: IO[bytes]) -> bool:
    """Mark a journal as being written by this process; False when another one does. The mark dies with the process."""
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(1 << 30)  # a byte beyond the end, so that others can still read the rows
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            file.seek(0, os.SEEK_END)
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
