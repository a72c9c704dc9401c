"""The player process of a demo on the page: the built-in pianist plays, the companion follows, the browser sounds both.

It is started with what it plays as JSON, tells what happens on its standard output and takes wishes on its standard
input (:mod:`companion.page.outgoing`). Without whoever started it, it ends.

Conventions: seconds on the live clock.
"""

from __future__ import annotations

import contextlib
import io
import sys
import threading
from collections.abc import Sequence
from dataclasses import replace
from queue import Empty, SimpleQueue
from typing import IO

import msgspec

from companion.chart.model import Chart
from companion.chart.toml.write import write_toml
from companion.errors import CompanionError
from companion.load import load
from companion.messages import Order, Part, Report, WishName
from companion.page.how import How, chart_asked, settings_asked
from companion.page.outgoing import Begun, LineSaid, Notes, OnTheStand, Over, read_incoming, to_line
from companion.page.reporting import Reporter
from companion.stage.clock import now
from companion.stage.demo import play_in_time, played_by
from companion.stage.names import check_names
from companion.stage.settings import Settings

CHANNELS: dict[Part, int] = {"bass": 2, "chords": 3, "melody": 4, "solo": 4, "click": 10}
"""1-16, as in files; the player is on 1."""
DAMPER = 64
"""The controller of the damper pedal (MIDI 1.0)."""
AFTER = 2.0
"""Seconds that it goes on after the last note."""
LOOPED = 12
"""How often some bars are gone over."""
WISHES: tuple[WishName, ...] = ("stop", "again")


class DemoWords(msgspec.Struct, frozen=True):
    """What a demo is started with."""

    chart: str
    """A file."""
    number: int
    you: tuple[Part, ...] = ("melody",)
    """What the built-in pianist plays."""
    how: How = How()
    manner: str = "evening"


class Wished(Exception):
    """Something was asked for that ends what is played."""

    def __init__(self, name: WishName):
        super().__init__(name)
        self.name = name


class BrowserSound:
    """Where it sounds: every message goes to the page, ahead of its moment."""

    def __init__(self, out: IO[bytes]):
        self._out = out
        self._wishes: SimpleQueue[WishName] = SimpleQueue()
        self._on: set[tuple[int, int]] = set()
        """Channel and MIDI number of each note that was begun and not ended."""

    def tell(self, message: msgspec.Struct) -> None:
        """Tell the page. Raises OSError when nobody listens any more."""
        self._out.write(to_line(message))
        self._out.flush()

    def order(self, due: float, message: tuple[int, ...]) -> None:
        """Have a message sounded at a moment."""
        status, first, second = (*message, 0)[:3]
        if status & 0xF0 == 0x90 and second:
            self._on.add((status & 0x0F, first))
        elif status & 0xE0 == 0x80:
            self._on.discard((status & 0x0F, first))
        self.tell(Notes(notes=((due, status, first, second),)))

    def silence(self) -> None:
        """End what sounds, the pedal as well."""
        for channel, key in sorted(self._on):
            self.order(now(), (0x80 | channel, key, 64))
        self.order(now(), (0xB0, DAMPER, 0))

    def wait_until(self, moment: float) -> None:
        """Let time pass. Raises Wished for what is asked for meanwhile."""
        with contextlib.suppress(Empty):
            wait = moment - now()
            raise Wished(self._wishes.get(timeout=wait) if wait > 0 else self._wishes.get_nowait())

    def listen(self, wishes: IO[bytes] | io.RawIOBase) -> None:
        """Take wishes, in a thread of its own; when nothing can come any more, that is one to stop."""

        def lines() -> None:
            while line := bytes(wishes.readline()):
                with contextlib.suppress(msgspec.DecodeError):
                    self._wishes.put(read_incoming(line).wish)
            self._wishes.put("stop")

        threading.Thread(target=lines, daemon=True).start()


def play_for_page(words: DemoWords, sound: BrowserSound) -> None:
    """Play until the end, or until it is asked to stop; 'again' begins anew."""
    chart = chart_asked(load(words.chart), words.how)
    asked = settings_asked(chart, words.you, words.how)
    if words.how.bars:
        asked = replace(asked, choruses=LOOPED)
    check_names(chart, asked)
    begun = Begun(
        number=words.number,
        title=chart.title,
        you=words.you,
        parts=asked.parts,
        ordered=asked.order == "chart",
        demo=True,
        wishes=WISHES,
    )
    sound.tell(OnTheStand(begun, write_toml(chart), None, words.how.seed))
    again = True
    while again:
        try:
            _once(words, chart, asked, sound)
            again = False
        except Wished as wished:
            again = wished.name == "again"
    sound.tell(Over())


def _once(words: DemoWords, chart: Chart, asked: Settings, sound: BrowserSound) -> None:
    player, settings = played_by(words.manner, chart, asked)
    reporter = Reporter()

    def begins(origin: float) -> None:
        reporter.origin = origin

    def watch(at: float, orders: Sequence[Order], reports: Sequence[Report]) -> None:
        for report in reports:
            if (told := reporter.told(report)) is not None:
                sound.tell(told)

    last = max([*(event.seconds for event in player.heard[-1:]), player.truth[-1].seconds])
    until = last + AFTER
    try:
        play_in_time(
            chart, player.heard, settings, until=until, sound=sound, channels=CHANNELS, watch=watch, begins=begins
        )
    finally:
        sound.silence()


def run_demo(words: str) -> int:
    """Play what the words say; 0 in any case, since all that is wrong is told to the page."""
    sound = BrowserSound(sys.stdout.buffer)
    # Unbuffered: a reader that still waits at the end would hold the buffer's lock.
    sound.listen(io.FileIO(sys.stdin.fileno(), closefd=False))
    with contextlib.suppress(OSError):
        try:
            play_for_page(msgspec.json.decode(words, type=DemoWords), sound)
        except CompanionError as error:
            sound.tell(LineSaid(text=str(error)))
            sound.tell(Over(why=str(error)))
    return 0


if __name__ == "__main__":
    sys.exit(run_demo(sys.argv[1]))
