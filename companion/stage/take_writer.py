"""Writing a take while it is played, in a thread of its own, so that a slow or full disk never delays a note.

What the disk refuses is held in memory and tried again; what can't be kept where it belongs at the end is written to
the system's temporary folder instead.

Conventions: seconds from the take's start, which lies :data:`LEAD_IN` before its first event.
"""

from __future__ import annotations

import tempfile
import threading
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, fields, is_dataclass, replace
from datetime import datetime
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

from companion import __version__
from companion.errors import CompanionError
from companion.messages import Beat, Belief, Heard, Order, Report, Round, Treated, Wish
from companion.stage.console import BeatTally
from companion.stage.journal import JOURNAL, JournalFile, TakeEvent, disk_reason, head_line, line_of, read_rows
from companion.stage.player_tally import PlayerTally
from companion.stage.sending_figures import SendingFigures
from companion.stage.take_files import FORMAT, Outcome, TakeFiles, new_folder, takes_folder

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from companion.stage.settings import Settings

LEAD_IN = 1.0
"""Seconds of quiet before the first event of a take."""
ROOM = 1 << 20
"""Bytes that must fit on the disk before the first note: half an hour of playing."""
PATIENCE = 10.0
"""Seconds that a disk may take at the end."""


def why_not_kept(data: Path | None = None) -> str | None:
    """Try whether a take could be kept: the reason why not, in a sentence, or None."""
    root = takes_folder(data)
    try:
        root.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=root, buffering=0) as trial:
            if trial.write(bytes(ROOM)) < ROOM:
                raise OSError(28, "no room is left")
    except OSError as error:
        mend = "make room or name another folder with --data"
        return f"what you play can't be kept in {root} ({disk_reason(error)}): {mend}; it is tried again while you play"
    return None


class TakeWriter:
    """Keeps a take from its first note.

    Parameters
    ----------
    chart : Chart
        What is played.
    settings : Settings
        How.
    data : path, optional
        The folder for user data.
    tell : callable, optional
        Gets a sentence, in a thread of the writer's, when the disk refuses and when it takes everything again.
    elsewhere : path, optional
        Where the take goes when it can't be kept in the folder for user data.
    """

    def __init__(
        self,
        chart: Chart,
        settings: Settings,
        data: Path | None = None,
        *,
        tell: Callable[[str], None] = lambda text: None,
        elsewhere: Path | None = None,
    ):
        self.trouble: str | None = None
        """After :meth:`close`: what isn't as it should be, in a sentence."""
        self.seconds = 0.0
        """Of the last note or beat."""
        self.notes_heard = 0
        self.notes_by_part: Counter[str] = Counter()
        self.beats = BeatTally()
        self.drilled = False
        """Whether rounds of a drill were played."""
        self.player = PlayerTally(chart.unfold(), settings.you)
        self.sending: SendingFigures | None = None
        """How late messages were, to be kept with the take where that is known."""
        self._root, self._elsewhere = takes_folder(data), elsewhere
        self._head = _head(chart, settings)
        self._origin: float | None = None
        self._before: list[Heard | Wish | Order | Report] = []
        self._waiting: list[TakeEvent] = []
        """What comes before the first note."""
        self._queue: SimpleQueue[bytes | TakeEvent | None] = SimpleQueue()
        self._thread: threading.Thread | None = None
        self._journal = JournalFile(lambda: new_folder(self._root, self._head["title"]), tell)
        self._files: TakeFiles | None = None

    def add(self, event: Heard | Wish | Order | Report) -> None:
        """Keep something that was heard, wished, ordered or reported; what the follower believed is not kept,
        and what follows from a wish needn't be."""
        if isinstance(event, Belief | Treated):
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

    def _keep(self, event: Heard | Wish | Order | Report, origin: float) -> None:
        if isinstance(event, Belief | Treated):
            return
        kept = replace(event, seconds=round(max(0.0, event.seconds - origin), 6))
        self.player.add(kept)
        if isinstance(kept, Heard):
            self.notes_heard += kept.is_note_on
        elif isinstance(kept, Order):
            self.notes_by_part[kept.part] += kept.status & 0xF0 == 0x90 and kept.data2 > 0
        elif isinstance(kept, Beat):
            self.beats.add(kept)
        elif isinstance(kept, Round):
            self.drilled = True
            kept = replace(kept, start=round(kept.start - origin, 6))
        if isinstance(kept, Heard | Beat):
            self.seconds = max(self.seconds, kept.seconds)
        if self._thread:
            self._queue.put(kept)
        else:
            self._waiting.append(kept)

    def _begin(self) -> None:
        self._head["started"] = datetime.now().astimezone().isoformat(timespec="seconds")
        if self._head["settings"].get("start") is not None:
            self._head["settings"]["start"] -= self._origin or 0.0
        self._queue.put(head_line(self._head))
        for event in self._waiting:
            self._queue.put(event)
        self._waiting.clear()
        self._files = TakeFiles()
        self._thread = threading.Thread(target=self._write, daemon=True)
        self._thread.start()

    # In the writer's thread

    def _write(self) -> None:
        while True:
            try:
                item = self._queue.get(timeout=self._journal.wait())
            except Empty:
                self._journal.go_on()
                continue
            if item is None:
                break
            self._journal.append(item if isinstance(item, bytes) else line_of(item))
            if not isinstance(item, bytes):
                self._draft(item)
        self._journal.go_on(last=True)

    def _draft(self, event: TakeEvent) -> None:
        if self._files is None:
            return
        try:
            self._files.add(event)
        except OSError:  # the temporary folder is full: at the end it is made from the journal
            with suppress(OSError):
                self._files.close()
            self._files = None

    # The end

    def close(self, how: Outcome) -> Path | None:
        """Complete the take, and say in ``trouble`` what isn't as it should be.

        Returns
        -------
        Path or None
            The folder in which the whole take lies; None when no note was played, or it couldn't be kept.
        """
        if not self._thread:
            return None
        self._queue.put(None)
        self._thread.join(PATIENCE)
        if self._thread.is_alive():
            self.trouble = f"the take is not complete: the disk of {self._root} doesn't answer"
            return None
        if self.sending:
            self._head["sending"] = asdict(self.sending)
        try:
            return self._complete(how)
        finally:
            self._journal.close()
            if self._files:
                self._files.close()

    def _complete(self, how: Outcome) -> Path | None:
        folder = self._journal.folder
        try:
            self._files = self._files or self._made_again()
            if folder is None:
                raise self._journal.trouble or OSError("no folder could be made")
            self._files.write(folder, self._head, how)
        except (OSError, CompanionError) as error:
            return self._complete_elsewhere(how, _why(error))
        with suppress(OSError):  # one that stays is found complete at the next start
            (folder / JOURNAL).unlink()
        return folder

    def _complete_elsewhere(self, how: Outcome, why: str) -> Path | None:
        """In the temporary folder. What is in the journal stays there, too, for what it is worth."""
        try:
            if self._elsewhere is None or self._files is None:
                raise FileNotFoundError
            place = Path(tempfile.mkdtemp(prefix="companion-take-", dir=self._elsewhere))
            self._files.write(place, self._head, how)
        except (OSError, CompanionError):
            self.trouble = self._what_is_left(why)
            return None
        self.trouble = f"the take could not be kept in {self._root} ({why}): copy it from {place} before you switch off"
        return place

    def _what_is_left(self, why: str) -> str:
        folder = self._journal.folder
        if folder is None or not (folder / JOURNAL).exists() or self._journal_is_empty(folder):
            return f"the take could not be kept in {self._root} ({why})"
        what = "what was played" if not self._journal.waiting else "a part of what was played"
        later = "it becomes a take when the companion is next started and there is room"
        return f"the take could not be completed ({why}); {what} lies in {folder / JOURNAL}, and {later}"

    def _journal_is_empty(self, folder: Path) -> bool:
        return (folder / JOURNAL).stat().st_size == 0

    def _made_again(self) -> TakeFiles:
        """The draft once more, from the journal and from what the disk didn't take."""
        files = TakeFiles(in_memory=0)
        lines: list[bytes] = []
        if self._journal.folder:
            lines = (self._journal.folder / JOURNAL).read_bytes().splitlines(keepends=True)
        if lines and self._journal.waiting and not lines[-1].endswith(b"\n"):
            lines[-1] += self._journal.waiting.popleft()
        for row in read_rows([*lines, *self._journal.waiting]):
            if isinstance(row, TakeEvent):
                files.add(row)
        return files


def settings_table(settings: Any) -> dict[str, Any]:
    """Settings as a table that JSON can hold; sets as sorted lists, dataclasses as tables."""
    assert is_dataclass(settings)
    table = {f.name: getattr(settings, f.name) for f in fields(settings)}
    return {name: _plain(value) for name, value in table.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, frozenset):
        return sorted(value)
    return asdict(value) if is_dataclass(value) and not isinstance(value, type) else value


def _head(chart: Chart, settings: Settings) -> dict[str, Any]:
    from companion.chart.toml.write import write_toml

    return {
        "format": FORMAT,
        "companion": __version__,
        "title": chart.title,
        "started": "",
        "chart": {"source": str(chart.source) if chart.source else None, "toml": write_toml(chart)},
        "settings": settings_table(settings),
    }


def _why(error: OSError | CompanionError) -> str:
    return error.what if isinstance(error, CompanionError) else disk_reason(error)
