"""The player process of a page that began playing or a drill at the piano: as the commands do it, told by the page.

It is started with what it plays as JSON, tells what happens on its standard output and takes wishes on its standard
input (:mod:`companion.page.outgoing`). Without whoever started it, it ends, with nothing left sounding.

Conventions: tempo in quarters a minute; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
import threading
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue
from typing import IO

import msgspec

from companion.arrange.chords.comping_style import CompingStyle
from companion.chart.model import Chart
from companion.chart.toml.write import write_toml
from companion.errors import CompanionError
from companion.load import load
from companion.messages import PARTS, WISHES, Report, State, Wish
from companion.page.how import DrillAsked, How, PianoWords, chart_asked, drill_said, settings_asked, style_asked
from companion.page.outgoing import Begun, LineSaid, OnTheStand, Over, read_incoming, to_line
from companion.page.reporting import Reporter
from companion.practice.comping_words import in_short
from companion.practice.drill import Drill
from companion.practice.practised import played_before, take_kept
from companion.practice.records_writer import RecordsWriter
from companion.practice.request import drill_request
from companion.practice.signals import drill_signals
from companion.stage.beside import take_standard_input
from companion.stage.from_the_top import usable_wishes
from companion.stage.live import play
from companion.stage.loop import Inbox, Stop
from companion.stage.settings import Settings

FIRST_CLICK = 3.0
"""Seconds to the first click: the ports open, and hands find the keys."""


class Told:
    """The page, told in lines; whoever has gone is told nothing."""

    def __init__(self, out: IO[bytes]):
        self._out, self._lock = out, threading.Lock()
        self._reporter = Reporter()

    def tell(self, message: msgspec.Struct) -> None:
        """Tell something."""
        with self._lock, contextlib.suppress(OSError, ValueError):
            self._out.write(to_line(message))
            self._out.flush()

    def begins(self, origin: float) -> None:
        """Take the moment at which the rehearsal's seconds begin."""
        self._reporter.origin = origin

    def report(self, report: Report) -> None:
        """Tell what a rehearsal reports."""
        if (told := self._reporter.told(report)) is not None:
            self.tell(told)


def listen(wishes: IO[bytes], inbox: Inbox) -> None:
    """Take wishes, in a thread of its own; when nothing can come any more, the playing stops."""

    def lines() -> None:
        while line := wishes.readline():
            with contextlib.suppress(msgspec.DecodeError):
                asked = read_incoming(line)
                inbox.put(Wish(0.0, asked.wish, asked.value))
        inbox.put(Stop("stopped"))

    threading.Thread(target=lines, daemon=True).start()


def play_at_the_piano(words: PianoWords, page: Told, inbox: Inbox) -> Path | None:
    """Play, or drill, until the player or the page ends it; the folder of the take. Raises CompanionError."""
    chart = load(words.chart)
    if words.drill is None:
        return _play(chart, words, page, inbox)
    return _drill(chart, words, words.drill, page, inbox)


def _play(chart: Chart, words: PianoWords, page: Told, inbox: Inbox) -> Path | None:
    chart = chart_asked(chart, words.how)
    settings = settings_asked(chart, words.you, words.how)
    settings = replace(settings, order="open", style=_style(words.how, page))
    _put(chart, words, settings, page, usable=(*usable_wishes(settings), "treatment"))

    def begins(origin: float) -> None:
        page.begins(origin)
        page.report(State(0.0, "waiting", tempo=settings.tempo))  # the ports are open

    account = play(
        chart,
        settings,
        watch=[page.report],
        begins=begins,
        wishes=inbox,
        screen=Path(os.devnull).open("w", encoding="utf-8"),  # noqa: SIM115 - it lives as long as the process
        played=played_before(),
    )
    return _kept(account.take, page)


def _drill(chart: Chart, words: PianoWords, drill: DrillAsked, page: Told, inbox: Inbox) -> Path | None:
    how = words.how
    chart = chart_asked(chart, How(treatments=how.treatments))
    bars = how.bars or (1, len(chart.unfold().bars))
    said = replace(drill_said(drill, words.you, how), style=_style(how, page))
    request = drill_request(chart, bars, said, drill.kind)
    you, parts = request.hands(1)
    settings = Settings(
        you=you, parts=parts, time=request.time, tempo=request.start, seed=request.seed, style=request.style
    )
    _put(chart, words, settings, page, usable=WISHES)
    page.tell(LineSaid(text=f"bars {bars[0]}–{bars[1]}: {request.what}"))
    made: list[Drill] = []

    def rehearsal(settled: Settings) -> Drill:
        made.append(Drill(chart, request, latency=settled.latency, first_click=FIRST_CLICK, moves_on=True))
        return made[0]

    records = RecordsWriter(chart, drill.kind, request.time)
    timer = threading.Timer(60 * (drill.minutes or 0), lambda: inbox.put(Wish(0.0, "last time", True)))
    timer.daemon = True
    if drill.minutes:
        timer.start()
    try:
        account = play(
            chart,
            replace(settings, click=request.click or "all"),
            watch=[records.report, page.report],
            begins=page.begins,
            wishes=inbox,
            rehearsal=rehearsal,
            signals=drill_signals(chart, request),
            screen=Path(os.devnull).open("w", encoding="utf-8"),  # noqa: SIM115 - as above
            played=played_before(),
        )
    finally:
        timer.cancel()
        records.close()
    return _kept(account.take, page, records.trouble)


def _style(how: How, page: Told) -> CompingStyle | None:
    """How the player comps, where chords are to be like theirs; what is known of it is said."""
    style = style_asked(how)
    if style is not None and (style.shapes or style.rhythms):
        page.tell(LineSaid(text=f"chords like yours: {in_short(style)}"))
    return style


def _put(chart: Chart, words: PianoWords, settings: Settings, page: Told, *, usable: tuple[str, ...]) -> None:
    """Have it on the stand."""
    begun = Begun(
        number=words.number,
        title=chart.title,
        you=tuple(part for part in PARTS if part in settings.you),
        parts=settings.parts,
        ordered=settings.order == "chart" and bool(chart.events),
        wishes=usable,  # type: ignore[arg-type]
    )
    page.tell(OnTheStand(begun, write_toml(chart), settings.treatment, settings.seed, style=settings.style))


def _kept(folder: Path | None, page: Told, trouble: str = "") -> Path | None:
    """Put a take into the records; what isn't as it should be is said."""
    trouble = take_kept(folder, trouble)
    if trouble:
        page.tell(LineSaid(text=trouble))
    return folder


def run_at_the_piano(words: str) -> int:
    """Play what the words say; 0 in any case, since all that is wrong is told to the page."""
    page = Told(io.BufferedWriter(io.FileIO(os.dup(1), "w")))
    os.dup2(2, 1)  # whatever else is printed is none of the page's
    inbox: Inbox = SimpleQueue()
    listen(take_standard_input(), inbox)
    why, folder = "", None
    try:
        folder = play_at_the_piano(msgspec.json.decode(words, type=PianoWords), page, inbox)
    except KeyboardInterrupt:
        pass
    except CompanionError as error:
        why = str(error)
        page.tell(LineSaid(text=why))
    page.tell(Over(why=why, take=folder.name if folder else ""))
    return 0


if __name__ == "__main__":
    sys.exit(run_at_the_piano(sys.argv[1]))
