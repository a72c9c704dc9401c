"""``companion chart``: what can be done with a chart without playing it."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.arranging import add_arrange
from companion.cli.importing import add_import
from companion.cli.progress import Progress
from companion.cli.words import CHART, MORE, bars, check_outputs, command, count
from companion.errors import FaultsFound, InputError, UseError

if TYPE_CHECKING:
    import argparse

    from companion.arrange.figures import Figure


def add_chart(commands: Any) -> None:
    """Describe the commands."""
    purpose = "check charts, show them, and look into their arrangements"
    group = commands.add_parser("chart", help=purpose, description=f"{purpose[0].upper()}{purpose[1:]}.", epilog=MORE)
    group.set_defaults(parser=group)
    actions = group.add_subparsers(title="commands", metavar="COMMAND")
    _add_check(actions)
    _add_show(actions)
    add_import(actions)
    add_arrange(actions)
    _add_explain(actions)
    _add_audit(actions)


# check


def _add_check(actions: Any) -> None:
    parser = command(
        actions,
        "check",
        _check,
        "say all that is wrong with charts, with section and bar",
        """
        companion chart check tune.toml
        companion chart check *.toml sheet.mxl
        """,
    )
    parser.add_argument("charts", metavar="FILE", nargs="+", help=CHART)


def _check(args: argparse.Namespace) -> int:
    from companion.arrange.treatments import names
    from companion.chart.check import check_file
    from companion.music.swing import feel_names
    from companion.resources import chart_path

    treatments, feels, found, unread = names(), feel_names(), 0, 0
    for name in args.charts:
        try:
            faults = check_file(chart_path(name), treatments=treatments, feels=feels)
        except InputError as error:
            print(f"companion: {error}", file=sys.stderr)
            unread += 1
            continue
        print(*faults or [f"{name}: nothing wrong"], sep="\n")
        found += len(faults)
    if unread:
        return InputError.exit_status
    if found:
        raise FaultsFound(f"{found} faults found" if found > 1 else "a fault found")
    return 0


# show


def _add_show(actions: Any) -> None:
    parser = command(
        actions,
        "show",
        _show,
        "show a chart: form, sections with chords and melody, and the scales that serve",
        """
        companion chart show ferry-without-lights
        companion chart show sheet.mxl --no-scales --width 60
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=CHART)
    parser.add_argument("--width", type=count, metavar="COLUMNS", help="width in characters (default: the terminal's)")
    parser.add_argument("--no-scales", action="store_true", help="leave the scales out")


def _show(args: argparse.Namespace) -> int:
    from companion.chart.load import load
    from companion.chart.show import show
    from companion.resources import chart_path

    width = args.width or shutil.get_terminal_size((100, 24)).columns
    print(show(load(chart_path(args.chart)), width=width, scales=not args.no_scales))
    return 0


# explain


def _add_explain(actions: Any) -> None:
    parser = command(
        actions,
        "explain",
        _explain,
        "say bar by bar what each hand plays in an arrangement, and why",
        """
        companion chart explain ferry-without-lights --bars 5-8
        companion chart explain sheet.mxl --treatment walking --seed 3
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=CHART)
    parser.add_argument("--bars", type=bars, metavar="FIRST-LAST", help="which bars of the form (default: all)")
    _arrangement_words(parser)
    parser.add_argument("--chorus", type=count, default=1, metavar="N", help="which time through the form")
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="same seed, same arrangement")


def _explain(args: argparse.Namespace) -> int:
    from companion.arrange.explain import explain
    from companion.chart.load import load
    from companion.resources import chart_path

    form = load(chart_path(args.chart)).unfold()
    first, last = args.bars or (1, len(form.bars))
    if first > len(form.bars):
        raise UseError(f"there is no bar {first}", file=args.chart, mend=f"the form has {len(form.bars)} bars")
    for bar in explain(form, treatment=args.treatment, chorus=args.chorus, seed=args.seed, first=first, last=last):
        print(bar)
    return 0


# audit


def _add_audit(actions: Any) -> None:
    parser = command(
        actions,
        "audit",
        _audit,
        "count in arrangements what a teacher would, against its targets",
        """
        companion chart audit ferry-without-lights
        companion chart audit *.mxl --treatment walking --seeds 3 --json figures.json
        """,
    )
    parser.add_argument("charts", metavar="CHART", nargs="+", help=CHART)
    _arrangement_words(parser)
    parser.add_argument("--seeds", type=count, default=10, metavar="N", help="how many arrangements of each chart")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there, too")


def _audit(args: argparse.Namespace) -> int:
    from companion.arrange.audit import audit
    from companion.chart.load import load
    from companion.files import write_whole
    from companion.resources import chart_path

    paths = [chart_path(name) for name in args.charts]
    check_outputs([args.json], paths)
    found: dict[str, list[Figure]] = {}
    with Progress("arranging", len(paths)) as progress:
        for number, (name, path) in enumerate(zip(args.charts, paths, strict=True)):
            progress.show(number)
            found[name] = audit(load(path).unfold(), treatment=args.treatment, seeds=args.seeds)
    for name, figures in found.items():
        print(name, *map(_figure, figures), sep="\n")
    if args.json:
        write_whole(args.json, _figures_json(found))
    missed = sum(not figure.reached for figures in found.values() for figure in figures)
    if missed:
        raise FaultsFound(f"{missed} targets missed" if missed > 1 else "a target missed")
    return 0


def _figure(figure: Figure) -> str:
    low, high = figure.at_least, figure.at_most
    target = f"{low:g} to {high:g}" if low is not None and high is not None else ""
    target = target or (f"{low:g} or more" if low is not None else "none" if high == 0 else f"{high:g} or less")
    line = f"  {'  ' if figure.reached else '! '}{figure.name:<55}{figure.value:8.3g}   {target}"
    return line if figure.reached else f"{line}   {', '.join(figure.places)}".rstrip()


def _figures_json(found: dict[str, list[Figure]]) -> str:
    import json
    from dataclasses import asdict

    charts = [
        {"chart": name, "figures": [asdict(figure) | {"reached": figure.reached} for figure in figures]}
        for name, figures in found.items()
    ]
    return json.dumps({"format": 1, "charts": charts}, indent=1, ensure_ascii=False) + "\n"


def _arrangement_words(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--treatment", metavar="NAME", help="one treatment for the whole form (default: what the chart says)"
    )
