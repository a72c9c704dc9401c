"""``companion drill``: a few bars, round after round, at the keyboard or from a recording."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.asking import is_terminal
from companion.cli.ending import enter_ends
from companion.cli.outputs import check_outputs, force_word, write
from companion.cli.practised import last_time_after, played_before, shape_before, take_kept
from companion.cli.progress import Progress
from companion.cli.setup import offer_setup
from companion.cli.stand import page_beside, stand_words
from companion.cli.words import (
    CHART,
    ArrangingOptions,
    as_new_word,
    bar_range,
    command,
    count,
    count_or_never,
    instrument_words,
    like_you_word,
    milliseconds,
    our_parts,
    partner_word,
    take_part,
    tempo,
    with_own_part,
    your_parts,
)
from companion.messages import WISHES
from companion.stage.settings import TIMES

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from companion.practice.drill import Drill
    from companion.practice.request import DrillRequest, Said

FIRST_CLICK = 3.0
"""Seconds from the command to the first click: the ports open, and hands find the keys."""


def add_drill(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "drill",
        _drill,
        "drill a few bars with you: round after round, faster as it comes right",
        """
        companion drill ferry-without-lights
        companion drill ferry-without-lights --bars 9-12 --you bass --from 60 --to 120 --step 5
        companion drill ferry-without-lights --section B --kind notes
        companion drill ferry-without-lights --bars 9-12 --keys fourths --time steady --click 2,4
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=CHART)
    which = parser.add_argument_group("what is drilled").add_mutually_exclusive_group()
    which.add_argument("--bars", type=bar_range, metavar="FIRST-LAST", help="these bars of the form")
    which.add_argument("--section", metavar="NAME", help="a section, as the chart names it")
    how = parser.add_argument_group("how")
    how.add_argument("--kind", default="usual", metavar="NAME", help="a kind of drill from configs/drills.toml")
    how.add_argument("--you", type=your_parts, metavar="LIST", help="the parts you play (default: melody)")
    how.add_argument("--parts", type=our_parts, metavar="LIST", help="the parts the companion plays")
    how.add_argument("--from", dest="start", type=tempo, metavar="BPM", help="the first tempo, quarters a minute")
    how.add_argument("--to", dest="goal", type=tempo, metavar="BPM", help="the tempo to reach, quarters a minute")
    how.add_argument("--step", type=_step, metavar="BPM", help="by how much it climbs, quarters a minute")
    how.add_argument("--ladder", metavar="NAME", help="a ladder of tempi from configs/drills.toml")
    how.add_argument("--rounds", type=count, metavar="N", help="stop after N rounds")
    how.add_argument("--minutes", type=count, metavar="N", help="stop after the round in which so many are over")
    how.add_argument("--time", choices=TIMES, help="follow: it goes with you; steady; patient: it waits for you")
    how.add_argument("--click", metavar="PATTERN", help="all; beats, as in 2,4; other-bars; away-2: gone for two bars")
    how.add_argument("--divide", type=int, choices=(1, 2, 3, 4), help="into how many parts the click divides a beat")
    swap = "change parts with the companion every N rounds; 0: never"
    how.add_argument("--swap", type=count_or_never, metavar="N", help=swap)
    how.add_argument("--keys", metavar="KEYS", help="round the keys: fourths, semitones, or a list, as in F,Bb,Eb")
    how.add_argument("--each", type=count, metavar="N", help="rounds in each key")
    how.add_argument("--memory", action="store_true", default=None, help="show and play less, step by step")
    how.add_argument("--anywhere", action="store_true", default=None, help="begin each round in a bar drawn by lot")
    how.add_argument("--treatment", metavar="NAME", help="one treatment instead of the chart's own")
    how.add_argument("--seed", type=int, default=0, metavar="N", help="same seed, same accompaniment")
    partner_word(how)
    as_new_word(how)
    like_you_word(how)
    how.add_argument("--key", metavar="KEY", help="take it in another key, such as Eb")
    group = instrument_words(parser)
    group.add_argument(
        "--sound",
        action=argparse.BooleanOptionalAction,
        help="sound the companion with FluidSynth, not your instrument",
    )
    group.add_argument(
        "--through", action=argparse.BooleanOptionalAction, help="sound your own notes on the output, too"
    )
    group.add_argument("--latency", type=milliseconds, metavar="MS", help="what the sound chain takes, in milliseconds")
    parser.add_argument("--line", action="store_true", help="show where you are in one line, not in the whole window")
    stand_words(parser)
    parser.set_defaults(evening=None)
    recorded = parser.add_argument_group("from a recording")
    recorded.add_argument("--replay", type=Path, metavar="PERFORMANCE.mid", help="drill a recorded performance")
    recorded.add_argument("--json", type=Path, metavar="FILE", help="write the rounds as JSON")
    force_word(recorded)


def _step(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value <= 100:
        raise argparse.ArgumentTypeError(f"'{text}' is no step; give quarters a minute, such as 4")
    return value


def _drill(args: argparse.Namespace) -> int:
    from companion.load import load
    from companion.preferences.every import check_preferences
    from companion.resources import chart_path

    path = chart_path(args.chart)
    check_outputs([args.json], [path, *([args.replay] if args.replay else [])])
    check_preferences()
    chart = ArrangingOptions.by(args).of(load(path))
    bars = _bars(chart, args)
    take_part(args, chart, recorded=args.replay is not None)
    chart = with_own_part(args, chart)
    request = _request(chart, bars, args)
    if args.replay:
        _tell(chart, _replayed(chart, request, args), args)
    else:
        _play(chart, request, args)
    return 0


def _tell(chart: Chart, drill: Drill, args: argparse.Namespace) -> None:
    """What became of a drill: in words, and as JSON where that was asked for."""
    if args.json:
        write(args.json, rounds_json(drill), force=args.force)
    print(*account_lines(chart, drill), sep="\n")


def _bars(chart: Chart, args: argparse.Namespace) -> tuple[int, int]:
    """The bars that were named, or some that are worth it; then the part is the one that was played there, too."""
    from companion.practice.passage import section_bars
    from companion.practice.proposal import beginning, proposed
    from companion.practice.taken_in import chart_word

    form = chart.unfold()
    if args.section:
        return section_bars(form, args.section)
    if args.bars:
        bars: tuple[int, int] = args.bars
        return bars
    word = chart_word(Path(chart.source) if chart.source else None, chart.title)
    found = beginning(form) if args.replay else proposed(form, args.you, chart=word)
    args.you = args.you or found.you
    print(f"bars {found.bars[0]}-{found.bars[1]}: {found.why}; --bars or --section says otherwise", file=sys.stderr)
    return found.bars


def _request(chart: Chart, bars: tuple[int, int], args: argparse.Namespace) -> DrillRequest:
    from companion.practice.request import drill_request

    return drill_request(chart, bars, _said(args), args.kind)


def _said(args: argparse.Namespace) -> Said:
    from dataclasses import fields, replace

    from companion.practice.request import Said

    said = {field.name: getattr(args, field.name) for field in fields(Said) if field.name != "style"}
    return replace(Said(**said), style=ArrangingOptions.by(args).style)


# From a recording


def _replayed(chart: Chart, request: DrillRequest, args: argparse.Namespace) -> Drill:
    from companion.practice.drill import Drill
    from companion.practice.replayed import replay_drill
    from companion.practice.signals import drill_signals
    from companion.stage.performance import performance_length, read_performance
    from companion.stage.signals import sifted

    heard, length = read_performance(args.replay), performance_length(args.replay)
    latency = {} if args.latency is None else {"latency": args.latency / 1000}
    drill = Drill(chart, request, shape=shape_before(args, chart, request.you, request.time), **latency)
    with Progress("drilling", length) as progress:
        told = sifted(heard, drill_signals(chart, request), length)
        replay_drill(drill, told, length, watch=progress.show)
    return drill


def rounds_json(drill: Drill) -> str:
    """The rounds of a drill, as other programs read them."""
    from companion.practice.replayed import rounds_table

    return json.dumps({"rounds": rounds_table(drill), "ended": drill.ended}, indent=1, ensure_ascii=False) + "\n"


# At the keyboard


def _play(chart: Chart, request: DrillRequest, args: argparse.Namespace) -> None:
    from queue import SimpleQueue

    from companion.practice.drill import Drill
    from companion.practice.records_writer import RecordsWriter
    from companion.practice.signals import drill_signals
    from companion.stage.live import play
    from companion.stage.loop import Inbox, Stop
    from companion.stage.settings import Settings

    print(f"bars {request.bars[0]}-{request.bars[1]}: {request.what}", file=sys.stderr)
    you, parts = request.hands(1)
    settings = Settings(
        you=you, parts=parts, time=request.time, tempo=request.start, seed=request.seed, style=request.style
    )
    shape = shape_before(args, chart, request.you, request.time)
    made: list[Drill] = []
    moves_on = args.evening is None

    def rehearsal(settled: Settings) -> Drill:
        made.append(
            Drill(chart, request, latency=settled.latency, first_click=FIRST_CLICK, shape=shape, moves_on=moves_on)
        )
        return made[0]

    wishes: Inbox = SimpleQueue()
    offer_setup(args.midi)
    records = RecordsWriter(chart, args.kind, request.time)
    account = None
    try:
        with (
            page_beside(args, chart, settings, wishes, WISHES) as shown,
            enter_ends(lambda: wishes.put(Stop("stopped"))) as enter,
            last_time_after(args.minutes, wishes),
        ):
            if enter.listens:
                print("Enter ends it, and so does Ctrl-C", file=sys.stderr)
            account = play(
                chart,
                replace(settings, click=request.click or "all"),
                port_in=args.port_in,
                port_out=args.port_out,
                midi=args.midi,
                sound=args.sound,
                through=args.through,
                latency=None if args.latency is None else args.latency / 1000,
                wishes=wishes,
                rehearsal=rehearsal,
                signals=drill_signals(chart, request),
                large=not args.line,
                ask=enter.ask if is_terminal() else None,
                played=played_before(),
                **shown | {"watch": [records.report, *shown["watch"]]},
            )
    finally:
        records.close()
        take_kept(account.take if account else None, records.trouble)
        if made:  # after Ctrl-C as well
            _tell(chart, made[0], args)
    if args.evening:
        args.evening.stopped = made[0].stopped


def account_lines(chart: Chart, drill: Drill) -> list[str]:
    """What became of a drill, in words."""
    judged = [played for played in drill.rounds if played.verdict and not played.verdict.nothing]
    if not judged:
        return [f"{chart.title}: no round was played"]
    good = [played for played in judged if played.verdict and played.verdict.good]
    first, last = judged[-1].bars
    many = f"{len(judged)} rounds" if len(judged) > 1 else "a round"
    lines = [f"{chart.title}, bars {first}-{last}: {many}, {len(good)} good"]
    if good:
        lines[0] += f", the fastest at {max(played.tempo for played in good):g}"
    ended = {"goal": "the goal is reached", "rounds": "all rounds are played", "player": "ended as you asked"}
    if drill.ended:
        lines.append(ended[drill.ended])
    latest = judged[-1].verdict
    if latest and not latest.good:
        lines.append(f"the last round: {latest.why}")
    return lines
