"""``companion review``: what happened in a take, or in any recorded performance of a chart."""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.outputs import check_outputs, force_word, write
from companion.cli.words import CHART, command, take_part, your_parts
from companion.errors import UseError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from companion.chart.model import Chart
    from companion.messages import Heard
    from companion.stage.settings import Settings


def add_review(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "review",
        _review,
        "say what happened in a take: notes, time and chords, bar by bar, and the drill that would mend it",
        """
        companion review
        companion review last --json last.json
        companion review ferry-without-lights tonight.mid --you melody,chords
        """,
    )
    parser.add_argument(
        "what",
        metavar="TAKE|CHART",
        nargs="?",
        default="last",
        help=f"a take: 'last', a number of 'companion take list', or its folder (default: last). Or {CHART}",
    )
    parser.add_argument(
        "performance",
        type=Path,
        metavar="PERFORMANCE",
        nargs="?",
        help="after a chart: a Standard MIDI File of your playing",
    )
    parser.add_argument(
        "--you", type=your_parts, metavar="LIST", help="the parts you play (default: the take's; melody)"
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write all of it as JSON, every note and bar")
    force_word(parser)


def _review(args: argparse.Namespace) -> int:
    from companion.practice.account import account
    from companion.practice.alignment import align
    from companion.practice.review import review
    from companion.practice.review_table import review_table

    what = _performed(args)
    check_outputs([args.json], what.sources)
    form, parts = what.chart.unfold(), what.settings.you
    found = review(form, align(what.chart, what.settings, what.heard, what.end), parts, what.heard)
    if args.json:
        text = json.dumps(review_table(found), indent=1, ensure_ascii=False) + "\n"
        write(args.json, text, force=args.force)
    print(*account(what.chart.title, found, form, parts, what.name), sep="\n")
    return 0


@dataclass(frozen=True)
class _Performed:
    """What is reviewed."""

    chart: Chart
    name: str
    """Of the chart, on the command line."""
    settings: Settings
    heard: Sequence[Heard]
    end: float
    """Seconds up to which it was played."""
    sources: list[Path]
    """The files that it is read from."""


def _performed(args: argparse.Namespace) -> _Performed:
    from companion.load import load
    from companion.resources import chart_names, chart_path
    from companion.stage.performance import performance_length, read_performance
    from companion.stage.settings import Settings
    from companion.stage.take import read_take
    from companion.stage.take_names import take_folder

    if args.performance is None:
        folder = take_folder(args.what)
        if folder is None:
            raise UseError(
                f"'{args.what}' is no take", mend="see 'companion take list'; after a chart name also what was played"
            )
        take = read_take(folder)
        chart, settings = take.rehearsed()
        settings = replace(settings, you=args.you or settings.you)
        source = Path(take.source or chart.title)
        name = source.stem if source.stem in chart_names() else str(source)
        return _Performed(chart, name, settings, take.heard(), take.seconds, [take.midi])
    path = chart_path(args.what)
    chart = load(path)
    take_part(args, chart, recorded=True)
    heard, end = read_performance(args.performance), performance_length(args.performance)
    return _Performed(chart, args.what, Settings(you=args.you), heard, end, [path, args.performance])
