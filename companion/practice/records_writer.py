"""Rounds put into the records while one drills, in a thread of their own: no disk holds up a note.

What can't be written now is held and tried again; what can't be written at all is in the take, too, and taken in from
there when the records are next asked.

Conventions: moments in UTC.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from queue import Empty, SimpleQueue

from companion.chart.model import Chart
from companion.errors import CompanionError
from companion.messages import Report, Round
from companion.practice.records import Records, RoundRecord
from companion.practice.taken_in import chart_word, round_record, was_played

RETRY = 2.0
"""Seconds after which what was refused is tried again."""
PATIENCE = 10.0
"""Seconds that a disk may take at the end."""


def _now() -> datetime:
    return datetime.now(UTC)


class RecordsWriter:
    """Keeps the rounds of a drill; :meth:`report` returns at once and may be given to ``play`` as a watcher.

    Parameters
    ----------
    chart : Chart
        What is drilled, in its key.
    kind, time : str
        Of the drill.
    data : path, optional
        The folder for user data.
    now : callable
        Gives the date and time.
    """

    def __init__(
        self, chart: Chart, kind: str, time: str, data: Path | None = None, *, now: Callable[[], datetime] = _now
    ) -> None:
        self.trouble = ""
        """What wasn't as it should be, after :meth:`close`: a sentence."""
        self._chart, self._kind, self._time, self._data, self._now = chart, kind, time, data, now
        self._queue: SimpleQueue[tuple[Round, datetime] | None] = SimpleQueue()
        self._thread: threading.Thread | None = None
        self._found = ""
        """What was amiss with the file, and is mended."""

    def report(self, report: Report) -> None:
        """Take a report of the drill's; what is no judged round is passed over."""
        if not isinstance(report, Round) or not was_played(report):
            return
        self._queue.put((report, self._now()))
        if self._thread is None:
            self._thread = threading.Thread(target=self._write, daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Write what is left; after so many seconds the rest is given up, and said in ``trouble``."""
        if self._thread is None:
            return
        self._queue.put(None)
        self._thread.join(PATIENCE)
        if self._thread.is_alive():
            self.trouble = "the rounds are not all in the records: the disk doesn't answer; the take has them"

    # In the writer's thread

    def _write(self) -> None:
        waiting: deque[RoundRecord] = deque()
        retry_at, over = 0.0, False
        while not over:
            over = self._fetch(waiting, retry_at if waiting else None)
            while not over and not self._queue.empty():
                over = self._fetch(waiting, 0.0)
            if waiting and (over or time.monotonic() >= retry_at):
                self.trouble = self._put_down(waiting)
                retry_at = time.monotonic() + RETRY

    def _fetch(self, waiting: deque[RoundRecord], until: float | None) -> bool:
        """Wait for a round, or until it is time to try again; whether no more will come."""
        try:
            item = self._queue.get(timeout=None if until is None else max(0.0, until - time.monotonic()))
        except Empty:
            return False
        if item is None:
            return True
        report, at = item
        word = chart_word(Path(self._chart.source) if self._chart.source else None, self._chart.title)
        waiting.append(round_record(report, at, self._chart, word, kind=self._kind, time=self._time))
        return False

    def _put_down(self, waiting: deque[RoundRecord]) -> str:
        """Write what waits; what is left waits on. Gives what isn't as it should be, in a sentence."""
        try:
            with Records(self._data) as records:
                if not records.kept:
                    return records.trouble
                self._found = records.trouble or self._found
                while waiting:
                    records.add_round(waiting[0])
                    waiting.popleft()
                return self._found
        except CompanionError as error:
            return str(error)
        except Exception as defect:  # ours; but what is played goes on, and the take has the rounds
            return f"the rounds can't be put into the records: a defect of the companion, {type(defect).__name__}"
