"""The player process of a demo on the page: the built-in pianist plays, the companion follows, the browser sounds both.

It is started with what it plays as JSON, tells what happens on its standard output and takes wishes on its standard
input (:mod:`companion.page.outgoing`). Without whoever started it, it ends.

Conventions: seconds on the live clock.
"""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import IO

import msgspec

from companion.chart.keys import write_key
from companion.chart.model import Chart
from companion.chart.toml.write import write_toml
from companion.errors import CompanionError
from companion.load import load
from companion.messages import Beat, Order, Part, Report, Round, State, Wish, WishName
from companion.page.how import How, chart_asked, settings_asked, style_asked
from companion.page.outgoing import Begun, Incoming, LineSaid, Notes, OnTheStand, Over, read_incoming, to_line
from companion.page.reporting import Reporter
from companion.practice.passage import Arranged, arranged_chart, check_bars, passage
from companion.stage.beside import take_standard_input
from companion.stage.clock import now
from companion.stage.demo import DemoTake, demo_folder, forget_older_demos, play_in_time, played_by
from companion.stage.names import check_names
from companion.stage.settings import Settings
from companion.stage.take_files import Outcome
from companion.stage.take_writer import TakeWriter

CHANNELS: dict[Part, int] = {"bass": 2, "chords": 3, "melody": 4, "solo": 4, "click": 10}
"""1-16, as in files; the player is on 1."""
DAMPER = 64
"""The controller of the damper pedal (MIDI 1.0)."""
AFTER = 2.0
"""Seconds that it goes on after the last note."""
LOOPED = 12
"""How often some bars are gone over."""
WISHES: tuple[WishName, ...] = ("stop", "again")
DEMO_MARK = "demo:"
"""Before the name of a take in which the built-in pianist plays."""
KEPT = 10
"""Takes of demos that are kept."""


def demo_takes() -> Path:
    """Where takes of the page's demos lie: apart from the player's own, for nobody practised in them."""
    return demo_folder() / "page"


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
        self._wishes: SimpleQueue[Incoming] = SimpleQueue()
        self._treatments: list[Incoming] = []
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
        """Let time pass. Raises Wished for what is asked for meanwhile and ends what is played."""
        with contextlib.suppress(Empty):
            while True:
                wait = moment - now()
                asked = self._wishes.get(timeout=wait) if wait > 0 else self._wishes.get_nowait()
                if asked.wish != "treatment":
                    raise Wished(asked.wish)
                self._treatments.append(asked)

    def treatments(self, at: float) -> list[Wish]:
        """What treatments were asked for since the last call, as wishes of a moment."""
        asked, self._treatments = self._treatments, []
        return [Wish(at, one.wish, one.value) for one in asked]

    def listen(self, wishes: IO[bytes]) -> None:
        """Take wishes, in a thread of its own; when nothing can come any more, that is one to stop."""

        def lines() -> None:
            while line := wishes.readline():
                with contextlib.suppress(msgspec.DecodeError):
                    self._wishes.put(read_incoming(line))
            self._wishes.put(Incoming("stop"))

        threading.Thread(target=lines, daemon=True).start()


@dataclass(frozen=True)
class Piece:
    """What is played, and where it lies in the tune."""

    tune: Chart
    """On the stand."""
    played: Chart
    """And in the take, whose rounds say which bars of the tune it has."""
    bars: tuple[int, int] | None = None
    """First and last of those that are gone over; None: all."""
    start: float = 0.0
    """Chart beat of the tune at which what is played begins."""


def piece_asked(chart: Chart, you: tuple[Part, ...], how: How) -> Piece:
    """The tune as it is to be played; bars of it are arranged as in their place. As :func:`chart_asked`."""
    whole = chart_asked(chart, msgspec.structs.replace(how, bars=None))
    if how.bars is None:
        return Piece(whole, whole)
    first, last = how.bars
    check_bars(chart, first, last)
    parts = frozenset(settings_asked(whole, you, how).parts)
    which = f"bar {first}" if first == last else f"bars {first}–{last}"
    whole = replace(whole, title=f"{whole.title}, {which}")
    whole = arranged_chart(whole, Arranged(parts, seed=how.seed, style=style_asked(how)))
    cut = passage(whole, first, last, way_in=0)
    return Piece(whole, cut.chart, how.bars, float(cut.start))


def play_for_page(words: DemoWords, sound: BrowserSound) -> None:
    """Play until the end, or until it is asked to stop; 'again' begins anew. The last time is kept as a take."""
    piece = piece_asked(load(words.chart), words.you, words.how)
    asked = replace(settings_asked(piece.played, words.you, words.how), style=style_asked(words.how))
    if piece.bars:
        asked = replace(asked, choruses=LOOPED)
    check_names(piece.played, asked)
    begun = Begun(
        number=words.number,
        title=piece.tune.title,
        you=words.you,
        parts=asked.parts,
        ordered=asked.order == "chart",
        demo=True,
        wishes=WISHES if piece.bars else (*WISHES, "treatment"),
    )
    sound.tell(OnTheStand(begun, write_toml(piece.tune), None, words.how.seed, style=asked.style))
    again, take = True, ""
    while again:
        again, take = _once(words, piece, asked, sound)
    sound.tell(Over(take=take))


def _once(words: DemoWords, piece: Piece, asked: Settings, sound: BrowserSound) -> tuple[bool, str]:
    """Play it; whether it is to be played again, and the name of the take."""
    player, settings = played_by(words.manner, piece.played, asked)
    teller = Teller(piece, settings, sound)
    writer = TakeWriter(piece.played, settings, demo_takes())
    take = DemoTake(writer, player.heard)

    def wished(at: float) -> list[Wish]:
        found = sound.treatments(at)
        for wish in found:
            writer.add(wish)
        return found

    def watch(at: float, orders: Sequence[Order], reports: Sequence[Report]) -> None:
        take.watch(at, orders, [*teller.tell(reports), *reports])

    last = max([*(event.seconds for event in player.heard), *(beat.seconds for beat in player.truth)])
    how: Outcome = "ended"
    again = False
    try:
        play_in_time(
            piece.played, player.heard, settings, until=last + AFTER, sound=sound, channels=CHANNELS, watch=watch,
            begins=teller.begins, wishes=wished,
        )  # fmt: skip
    except Wished as asked_for:
        how, again = "stopped", asked_for.name == "again"
    finally:
        sound.silence()
        folder = writer.close(how)
        forget_older_demos(demo_takes(), KEPT)
    return again, f"{DEMO_MARK}{folder.name}" if folder else ""


class Teller:
    """Tells the page what is reported of a piece, in the bars of the tune in which it lies."""

    def __init__(self, piece: Piece, settings: Settings, sound: BrowserSound) -> None:
        self._piece, self._settings, self._sound = piece, settings, sound
        self._reporter = Reporter()
        self._round = 0

    def begins(self, origin: float) -> None:
        """Take the moment at which the performance's seconds begin."""
        self._reporter.origin = origin

    def tell(self, reports: Sequence[Report]) -> list[Round]:
        """Tell some reports; the rounds that begin with them."""
        rounds = []
        for report in reports:
            if self._piece.bars and isinstance(report, Beat | State):
                if not self._round or (isinstance(report, Beat) and report.chorus > self._round):
                    rounds.append(self._next_round(report.seconds))
                    self._tell(rounds[-1])
                if report.chart_beat is not None:
                    report = replace(report, chart_beat=report.chart_beat + self._piece.start)
            self._tell(report)
        return rounds

    def _tell(self, report: Report) -> None:
        if (told := self._reporter.told(report)) is not None:
            self._sound.tell(told)

    def _next_round(self, seconds: float) -> Round:
        """Once more over the bars."""
        chart, settings = self._piece.tune, self._settings
        assert self._piece.bars is not None
        self._round += 1
        you, tempo = tuple(sorted(settings.you)), float(round(settings.tempo or chart.tempo))
        key = write_key(chart.fifths, chart.minor)
        return Round(seconds, self._round, *self._piece.bars, you, key, tempo, seconds)


def run_demo(words: str) -> int:
    """Play what the words say; 0 in any case, since all that is wrong is told to the page."""
    sound = BrowserSound(sys.stdout.buffer)
    sound.listen(take_standard_input())
    with contextlib.suppress(OSError):
        try:
            play_for_page(msgspec.json.decode(words, type=DemoWords), sound)
        except CompanionError as error:
            sound.tell(LineSaid(text=str(error)))
            sound.tell(Over(why=str(error)))
    return 0


if __name__ == "__main__":
    sys.exit(run_demo(sys.argv[1]))
