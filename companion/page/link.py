"""The player process's connection to a page that it started: reports go out, wishes come back, nothing waits.

A report is put into a short queue, from which a thread writes to the page's pipe; where the page stands still the
oldest reports are dropped. A page that stalls or dies changes no note.

Conventions: seconds on the live clock.
"""

from __future__ import annotations

import contextlib
import subprocess
import threading
from collections import deque
from collections.abc import Callable

import msgspec

from companion.chart.model import Chart
from companion.chart.toml.write import write_toml
from companion.messages import Report, Wish
from companion.page.outgoing import Begun, Incoming, OnTheStand, Over, PageOpened, read_from_page, to_line
from companion.page.reporting import Reporter
from companion.stage.beside import start_beside
from companion.stage.settings import Settings

WAITING = 128
"""Reports that wait for a page that stands still; half a minute of beats."""
GOODBYE = 0.5
"""Seconds that what waits at the end may take."""


ENDS_WITHIN = 3.0
"""Seconds that a page may take to end."""


class PageLink:
    """A page in a process of its own.

    Parameters
    ----------
    begun : Begun
        What is on the stand.
    chart : Chart
    settings : Settings
    wish : callable
        Gets each wish, in a thread of its own; must return at once.
    say : callable
        Gets what there is to say of the page, in that thread.
    share : bool
        Whether other machines may see it, with a code.
    port : int, optional
        As for :func:`companion.page.serving.open_address`.
    """

    def __init__(
        self,
        begun: Begun,
        chart: Chart,
        settings: Settings,
        *,
        wish: Callable[[Wish], None],
        say: Callable[[str], None],
        share: bool = False,
        port: int | None = None,
        opens: bool = True,
    ):
        self._wish, self._say = wish, say
        self._reporter = Reporter()
        self._waiting: deque[Report | None] = deque(maxlen=WAITING)
        self._some = threading.Semaphore(0)
        words = [*(["share"] if share else []), *(["open"] if opens else []), *([] if port is None else [str(port)])]
        self._process = start_beside("companion.page.beside_player", *words)
        first = OnTheStand(begun, write_toml(chart), settings.treatment, settings.seed, style=settings.style)
        self._writer = threading.Thread(target=self._write, args=(to_line(first),), daemon=True)
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._writer.start()
        self._reader.start()

    @property
    def pid(self) -> int:
        """Process number of the page."""
        return self._process.pid

    def begins(self, origin: float) -> None:
        """Take the moment at which the rehearsal's seconds begin."""
        self._reporter.origin = origin

    def report(self, report: Report) -> None:
        """Take a report; returns at once, whatever the page does."""
        self._waiting.append(report)
        self._some.release()

    def close(self) -> None:
        """The playing is over: tell the page, which ends by itself then, or else is ended."""
        self._waiting.append(None)
        self._some.release()
        self._writer.join(GOODBYE)
        if not self._writer.is_alive() and self._process.stdin:
            with contextlib.suppress(OSError):
                self._process.stdin.close()
        try:
            self._process.wait(GOODBYE if self._writer.is_alive() else ENDS_WITHIN)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        for thread, pipe in ((self._writer, self._process.stdin), (self._reader, self._process.stdout)):
            thread.join(GOODBYE)
            if pipe is not None and not thread.is_alive():
                with contextlib.suppress(OSError):
                    pipe.close()

    def _write(self, first: bytes) -> None:
        pipe = self._process.stdin
        assert pipe is not None
        with contextlib.suppress(OSError, ValueError):
            pipe.write(first)
            pipe.flush()
            while True:
                self._some.acquire()
                try:
                    report = self._waiting.popleft()
                except IndexError:  # it was dropped meanwhile
                    continue
                told = Over() if report is None else self._reporter.told(report)
                if told is not None:
                    pipe.write(to_line(told))
                    pipe.flush()
                if report is None:
                    return

    def _read(self) -> None:
        pipe = self._process.stdout
        assert pipe is not None
        with contextlib.suppress(OSError, ValueError):
            while line := pipe.readline():
                with contextlib.suppress(msgspec.DecodeError):
                    self._take(read_from_page(line))

    def _take(self, message: Incoming | PageOpened) -> None:
        if isinstance(message, PageOpened):
            self._say(f"the page is at {message.url}")
            if message.code:
                self._say(f"from a tablet: {message.shared} with the code {message.code}")
        else:
            self._wish(Wish(0.0, message.wish, message.value))
