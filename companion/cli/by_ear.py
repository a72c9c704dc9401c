"""``companion chart ear``: a tune learnt by ear, phrase by phrase."""

from __future__ import annotations

import argparse
import sys
import threading
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

from companion.cli.asking import ask, is_terminal
from companion.cli.setup import offer_setup
from companion.cli.words import CHART, bar_range, command, count, tempo
from companion.errors import UseError

if TYPE_CHECKING:
    from companion.chart.model import Form
    from companion.messages import Report
    from companion.stage.by_ear import ByEar


def add_ear(actions: Any) -> None:
    """Describe the command."""
    parser = command(
        actions,
        "ear",
        _ear,
        "learn a tune by ear: it plays a phrase, you answer it, then the roots of its chords",
        """
        companion chart ear ferry-without-lights --bars 1-8
        companion chart ear tune.mxl --phrase 2 --tempo 80
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=CHART)
    parser.add_argument("--bars", type=bar_range, metavar="FIRST-LAST", help="which bars of the form (default: all)")
    parser.add_argument("--phrase", type=count, default=4, metavar="BARS", help="how long a phrase is")
    parser.add_argument("--tempo", type=tempo, metavar="BPM", help="quarters a minute (default: the chart's)")
    _instrument_words(parser)


def _instrument_words(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which instrument is meant."""
    about = "What isn't said here comes from configs/instruments.toml."
    group = parser.add_argument_group("your instrument", about)
    group.add_argument("--in", dest="port_in", metavar="NAME", help="the port to listen to: its name or part of it")
    group.add_argument("--out", dest="port_out", metavar="NAME", help="the port to play on: its name or part of it")
    group.add_argument("--midi", choices=("auto", "alsa", "jack", "core", "windows"), help="which MIDI service to use")
    group.add_argument(
        "--sound", action=argparse.BooleanOptionalAction, help="sound it with FluidSynth, not on your instrument"
    )


def _ear(args: argparse.Namespace) -> int:
    from companion.load import load
    from companion.preferences.every import check_preferences
    from companion.resources import chart_path
    from companion.stage.by_ear import ByEar, questions
    from companion.stage.live import play
    from companion.stage.settings import Settings

    check_preferences()
    chart = load(chart_path(args.chart))
    form = chart.unfold()
    first, last = args.bars or (1, len(form.bars))
    if first > len(form.bars):
        raise UseError(f"there is no bar {first}", file=args.chart, mend=f"the form has {len(form.bars)} bars")
    asked = questions(form, first, last, args.phrase)
    if not asked:
        raise UseError("nothing is written in these bars", file=args.chart, mend="name others with --bars")
    offer_setup(args.midi)
    by_ear = ByEar(form, asked, args.tempo)
    teller = _Teller(by_ear, form)
    try:
        play(
            chart,
            Settings(you=frozenset({"melody"}), parts=("click",), tempo=by_ear.tempo),
            port_in=args.port_in,
            port_out=args.port_out,
            midi=args.midi,
            sound=args.sound,
            rehearsal=by_ear,
            watch=[teller.watch],
            ask=ask if is_terminal() else None,
        )
    finally:
        teller.close()
        if by_ear.answers:
            learnt = sum(answer.right for answer in by_ear.answers if answer.question in asked)
            print(f"{learnt} of {len(asked)} questions answered right, in {len(by_ear.answers)} answers")
    return 0


class _Teller:
    """Says after each answer what was right, in a thread of its own: a held-up terminal holds up no note."""

    def __init__(self, by_ear: ByEar, form: Form):
        self._by_ear, self._form, self._said = by_ear, form, 0
        self._queue: SimpleQueue[str | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._write, daemon=True)
        self._thread.start()

    def watch(self, report: Report) -> None:
        from companion.stage.by_ear import answer_text

        for answer in self._by_ear.answers[self._said :]:
            self._queue.put(answer_text(answer, self._form))
        self._said = len(self._by_ear.answers)

    def close(self) -> None:
        self._queue.put(None)
        self._thread.join(1.0)

    def _write(self) -> None:
        clear = "\r\x1b[K" if sys.stdout.isatty() else ""
        while (line := self._queue.get()) is not None:
            print(f"{clear}{line}", flush=True)
