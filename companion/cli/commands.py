"""The commands, one function each to describe it and one to carry it out."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion import __version__
from companion.cli.asking import is_terminal
from companion.cli.charts import add_chart
from companion.cli.demo import add_demo
from companion.cli.drilling import add_drill
from companion.cli.ending import enter_ends
from companion.cli.lessons import add_lesson
from companion.cli.looking_back import add_history
from companion.cli.outputs import check_outputs, force_word, write
from companion.cli.paper import add_print
from companion.cli.practised import played_before, shape_before, take_kept
from companion.cli.progress import Progress
from companion.cli.reviewing import add_review
from companion.cli.setup import add_setup, offer_setup
from companion.cli.signals import add_signals
from companion.cli.stand import add_stand, page_beside, stand_words
from companion.cli.takes import TAKE, add_take
from companion.cli.today import add_today
from companion.cli.words import (
    CHART,
    MORE,
    ArrangingOptions,
    Parser,
    command,
    count,
    data_word,
    instrument_words,
    partner_word,
    rehearsal_words,
    seconds,
    settings_like,
    settings_of,
    take_part,
    with_own_part,
)
from companion.errors import UseError
from companion.messages import Beat

if TYPE_CHECKING:
    from collections.abc import Iterable

    from companion.chart.model import Chart
    from companion.messages import Heard, Report, Wish
    from companion.stage.replay import Recording
    from companion.stage.settings import Settings

COUNT_IN_AFTER = 3.0
"""Seconds from the command to the first click: the ports open, and hands find the keys."""

TO_THE_END = 30.0
"""Seconds after a recording in which the companion may bring a tune to its end."""


def build_parser() -> argparse.ArgumentParser:
    """Every command with its options."""
    parser = Parser(
        prog="companion",
        description="Plays the other hand while you play yours: it follows you through a chart.",
        epilog=MORE,
    )
    parser.add_argument("--version", action="version", version=f"companion {__version__}")
    data_word(parser)
    parser.set_defaults(run=None, data=None, parser=parser)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    add_demo(commands)
    _add_play(commands)
    add_drill(commands)
    add_stand(commands)
    add_today(commands)
    _add_replay(commands)
    add_review(commands)
    add_history(commands)
    add_take(commands)
    add_lesson(commands)
    add_chart(commands)
    add_print(commands)
    add_setup(commands)
    _add_ports(commands)
    add_signals(commands)
    return parser


# companion play


def _add_play(commands: Any) -> None:
    parser = command(
        commands,
        "play",
        _play,
        "play a chart with you, on your MIDI keyboard",
        """
        companion play ferry-without-lights
        companion play ferry-without-lights --you bass --tempo 60 --time patient
        companion play two-spoons-short --trade 4 --count-in 2
        companion play tune.mxl --you solo --sound --wav tonight.wav
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=CHART)
    order = "chart where you are counted in, else open"
    rehearsal = rehearsal_words(parser, latency="that of instruments.toml", order=order)
    rehearsal.add_argument(
        "--count-in",
        type=count,
        metavar="BARS",
        help="click so many bars first, at --tempo or the chart's (default: it comes in when it knows where you are)",
    )
    partner_word(rehearsal)
    group = instrument_words(parser)
    group.add_argument(
        "--sound",
        action=argparse.BooleanOptionalAction,
        help="sound the companion with FluidSynth, not your instrument",
    )
    group.add_argument(
        "--through",
        action=argparse.BooleanOptionalAction,
        help="sound your own notes on the output, too (for a keyboard without a sound of its own)",
    )
    parser.add_argument("--wav", type=Path, metavar="FILE.wav", help="render what was played, after the end")
    parser.set_defaults(evening=None)
    parser.add_argument("--line", action="store_true", help="show where you are in one line, not in the whole window")
    stand_words(parser)
    force_word(parser)


def _play(args: argparse.Namespace) -> int:
    from companion.load import load
    from companion.preferences.every import check_preferences
    from companion.resources import chart_path

    path = chart_path(args.chart)
    check_outputs([args.wav], [path])
    check_preferences()
    chart = ArrangingOptions.by(args).of(load(path))
    take_part(args, chart)
    chart = with_own_part(args, chart)
    usual = "chart" if args.count_in and chart.events and not args.choruses else "open"
    settings = settings_of(args, order=args.order or usual)
    if args.count_in:
        settings = _counted_in(chart, settings, args.count_in)
    settings = replace(settings, shape=shape_before(args, chart, settings.you, settings.time))

    offer_setup(args.midi)

    from queue import SimpleQueue

    from companion.stage.from_the_top import signals_of, usable_wishes
    from companion.stage.live import play
    from companion.stage.loop import Inbox, Stop

    wishes: Inbox = SimpleQueue()
    usable = usable_wishes(settings, next_follows=bool(args.evening))
    with (
        page_beside(args, chart, settings, wishes, (*usable, "treatment")) as shown,
        enter_ends(lambda: wishes.put(Stop("stopped"))) as enter,
    ):
        if enter.listens:
            print("Enter ends it, and so does Ctrl-C", file=sys.stderr)
        account = play(
            chart,
            settings,
            port_in=args.port_in,
            port_out=args.port_out,
            midi=args.midi,
            sound=args.sound,
            through=args.through,
            latency=None if args.latency is None else args.latency / 1000,
            wav=args.wav,
            force=args.force,
            wishes=wishes,
            large=not args.line,
            ask=enter.ask if is_terminal() else None,
            played=played_before(),
            signals=signals_of(chart, settings, next_follows=True) if args.evening else None,
            **shown,
        )
    take_kept(account.take)
    if args.evening:
        args.evening.stopped = account.stopped
    return 0


def _counted_in(chart: Chart, settings: Settings, bars: int) -> Settings:
    """The settings with so many bars counted in, before the introduction where there is one."""
    from companion.arrange.events import order

    tempo = settings.tempo or chart.tempo
    before = order(chart)[0].start if settings.order == "chart" else 0
    counted = float(bars * chart.metre.bar - before)
    return replace(settings, tempo=tempo, start=COUNT_IN_AFTER + counted * 60 / tempo, count_in=bars)


# companion replay


def _add_replay(commands: Any) -> None:
    parser = command(
        commands,
        "replay",
        _replay,
        "play a recorded performance into the rehearsal, as fast as the machine can",
        """
        companion replay tune.toml take.mid --out together.mid
        companion replay sheet.mxl comping.mid --you chords --tempo 132 --start 2.5 --beats beats.csv
        companion replay last --treatment open --out again.mid
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=f"{CHART}. Or {TAKE}")
    parser.add_argument(
        "performance",
        type=Path,
        metavar="PERFORMANCE",
        nargs="?",
        help="a Standard MIDI File of your playing; a take has its own, and its settings, but for what is said here",
    )
    rehearsal = rehearsal_words(parser, latency="10", order="form")
    rehearsal.add_argument(
        "--start",
        type=seconds,
        metavar="SECONDS",
        help="with --tempo, the count-in: when the first downbeat is due, in seconds of the performance",
    )
    group = parser.add_argument_group("what is written")
    group.add_argument("--beats", type=Path, metavar="FILE.csv", help="each beat as sounded: place, moment, how sure")
    group.add_argument("--out", type=Path, metavar="FILE.mid", help="your playing and the companion's, a track a part")
    group.add_argument("--trace", type=Path, metavar="FILE", help="what the companion believed at each event")
    force_word(group)


def _replay(args: argparse.Namespace) -> int:
    from companion.load import load
    from companion.resources import chart_path
    from companion.stage.performance import performance_length, read_performance
    from companion.stage.take import read_take
    from companion.stage.take_names import take_folder

    if args.start is not None and args.tempo is None:
        raise UseError("--start tells when a count-in ends", mend="say how fast it counts with --tempo BPM")
    if args.performance is None:
        folder = take_folder(args.chart)
        if folder is None:
            raise UseError("say also PERFORMANCE, what was played", mend="name a MIDI file after the chart, or a take")
        take = read_take(folder)
        chart, taken = take.rehearsed()
        performance, source = take.midi, take.folder
        chart = ArrangingOptions.by(args).of(chart)
        settings = replace(settings_like(taken, args, start=args.start), trace=args.trace is not None)
        settings = replace(settings, shape=None) if args.as_new else settings
        told: tuple[Wish, ...] = take.wishes or ()
        sifted_already = take.wishes is not None
    else:
        performance, source = args.performance, chart_path(args.chart)
        chart = ArrangingOptions.by(args).of(load(source))
        take_part(args, chart, recorded=True)
        settings = settings_of(args, start=args.start, trace=args.trace is not None)
        settings = replace(settings, shape=shape_before(args, chart, settings.you, settings.time))
        told, sifted_already = (), False
    check_outputs([args.beats, args.out, args.trace], [source, performance])
    _check_room(chart, settings)
    heard: list[Heard | Wish] = [*read_performance(performance), *told]
    heard.sort(key=lambda event: event.seconds)
    length = performance_length(performance)
    if settings.order != "form":
        length += TO_THE_END

    from companion.stage.console import Account, BeatTally, count_notes
    from companion.stage.from_the_top import signals_of
    from companion.stage.player_tally import tally_of
    from companion.stage.replay import replay

    signals = None if sifted_already or settings.order == "form" else signals_of(chart, settings)
    with Progress("replaying", length) as progress:
        recording = replay(
            chart, heard, settings, signals=signals, until=length, watch=lambda seconds, *_: progress.show(seconds)
        )
    written = _write_recording(args, recording, settings, chart.title)
    notes = sum(event.is_note_on for event in recording.heard)
    beats = BeatTally(report for report in recording.reports if isinstance(report, Beat))
    said = tally_of(chart.unfold(), settings.you, [*recording.heard, *recording.reports]).lines()
    account = Account(chart.title, length, notes, beats, count_notes(recording.orders), said)
    print(*account.lines(), *written, sep="\n")
    return 0


def _write_recording(args: argparse.Namespace, recording: Recording, settings: Settings, title: str) -> list[str]:
    """Write what was asked for, and say of each file what is in it."""
    from companion.stage.performance import recording_bytes

    said = []
    if args.out:
        parts = (*settings.parts, *(("solo",) if settings.trade else ()))
        tracks = recording_bytes(recording.heard, recording.orders, parts=parts, title=title)
        write(args.out, tracks, force=args.force)
        said.append(f"{args.out}: your playing and the companion's, a track a part")
    if args.beats:
        table = beats_table(recording.reports)
        write(args.beats, table, force=args.force)
        said.append(f"{args.beats}: {len(table.splitlines()) - 1} beats, each with its moment and how sure it was")
    if args.trace:
        lines = trace_lines(recording.reports)
        write(args.trace, lines, force=args.force)
        said.append(f"{args.trace}: {len(lines.splitlines())} reports, what the companion believed at each event")
    return said


def _check_room(chart: Chart, settings: Settings) -> None:
    """An introduction that is counted in begins within the recording."""
    from companion.arrange.events import order

    if settings.order != "chart" or settings.start is None or settings.tempo is None:
        return
    before = -float(order(chart)[0].start) * 60 / settings.tempo
    if before > settings.start:
        what = f"the introduction takes {before:.1f} s and would begin before the recording"
        raise UseError(what, mend=f"give --start {before:.1f} or later, or --order open")


def beats_table(reports: Iterable[Report]) -> str:
    """The beats among the reports as CSV: place in quarters, moment in seconds, probability 0-1."""
    rows = [f"{r.chart_beat + 0.0:.10g},{r.seconds:.6f},{r.sure:.4f}\n" for r in reports if isinstance(r, Beat)]
    return "chart_beat,seconds,sure\n" + "".join(rows)


def trace_lines(reports: Iterable[Report]) -> str:
    """All reports as JSON, one a line, under their names: 'belief' after each event, 'beat', 'state'."""
    import json
    from dataclasses import asdict

    rows = ({"report": type(report).__name__.lower(), **asdict(report)} for report in reports)
    return "".join(json.dumps(row) + "\n" for row in rows)


# companion ports


def _add_ports(commands: Any) -> None:
    parser = command(
        commands,
        "ports",
        _ports,
        "list the MIDI ports, and say which of them would be used",
        """
        companion ports
        companion ports --in stage --midi jack
        """,
    )
    instrument_words(parser)


def _ports(args: argparse.Namespace) -> int:
    from companion.ports.midi import list_ports
    from companion.resources import data_folder

    print(f"takes, your own charts and your own configs: {data_folder()}")
    print("\n".join(list_ports(args.port_in, args.port_out, args.midi)))
    return 0
