"""``companion chart``: what can be done with a chart without playing it."""

from __future__ import annotations

import shutil
import sys
from typing import TYPE_CHECKING, Any

from companion.cli.arranging import add_arrange
from companion.cli.auditing import add_audit
from companion.cli.by_ear import add_ear
from companion.cli.capture import add_capture
from companion.cli.importing import add_import
from companion.cli.treatments import add_treatments
from companion.cli.words import (
    CHART,
    ArrangingOptions,
    arrangement_words,
    bar_range,
    command,
    command_group,
    count,
    like_you_word,
)
from companion.errors import FaultsFound, InputError, UseError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

LONGEST_FORM = 16
"""Characters of a form in the list."""


def add_chart(commands: Any) -> None:
    """Describe the commands."""
    purpose = "check charts, show them, and look into their arrangements"
    group = command_group(commands, "chart", purpose)
    actions = group.add_subparsers(title="commands", metavar="COMMAND")
    _add_list(actions)
    _add_check(actions)
    _add_show(actions)
    add_import(actions)
    add_capture(actions)
    add_ear(actions)
    add_arrange(actions)
    _add_explain(actions)
    add_audit(actions)
    add_treatments(actions)


# list


def _add_list(actions: Any) -> None:
    command(
        actions,
        "list",
        _list,
        "list the charts that need no path: your own and those that come with the companion",
        """
        companion chart list
        """,
    )


def _list(args: argparse.Namespace) -> int:
    from companion.chart.keys import write_key
    from companion.load import load
    from companion.resources import chart_names, chart_path, data_folder, is_shipped

    rows = [("name", "title", "form", "bars", "key", "metre", "tempo", "feel", "")]
    for name in chart_names():
        path = chart_path(name)
        whose = "" if is_shipped(path) else "your own"
        try:
            chart = load(path)
        except InputError as error:
            rows.append((name, f"can't be read: {error.what}", "", "", "", "", "", "", whose))
            continue
        form = chart.unfold()
        key = write_key(chart.fifths, chart.minor)
        tempo, bars = f"{chart.tempo:g}", str(len(form.bars))
        rows.append((name, chart.title, _form(chart.form), bars, key, str(chart.metre), tempo, chart.feel, whose))
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        print("  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip())
    print(f"your own lie in {data_folder() / 'charts'}")
    return 0


def _form(names: Sequence[str]) -> str:
    text = " ".join(names)
    return text if len(text) <= LONGEST_FORM else text[: LONGEST_FORM - 1] + "…"


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
    from companion.engrave.writable import unprintable_bars
    from companion.load import check_file, load
    from companion.music.swing import feel_names
    from companion.resources import chart_path

    treatments, feels, found, unread = names(), feel_names(), 0, 0
    for name in args.charts:
        try:
            path = chart_path(name)
            faults = check_file(path, treatments=treatments, feels=feels)
            if not faults:
                faults = tuple(fault.within(file=str(path)) for fault in unprintable_bars(load(path)))
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
    arrangement_words(parser, treatment=None, seed=None, free=False)


def _show(args: argparse.Namespace) -> int:
    from companion.chart.show import show
    from companion.load import load
    from companion.resources import chart_path

    width = args.width or shutil.get_terminal_size((100, 24)).columns
    print(show(ArrangingOptions.by(args).of(load(chart_path(args.chart))), width=width, scales=not args.no_scales))
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
    parser.add_argument("--bars", type=bar_range, metavar="FIRST-LAST", help="which bars of the form (default: all)")
    like_you_word(parser)
    arrangement_words(parser, chorus=True)


def _explain(args: argparse.Namespace) -> int:
    from companion.arrange.explain import explain, scales_for_form
    from companion.load import load
    from companion.resources import chart_path

    asked = ArrangingOptions.by(args)
    form = asked.of(load(chart_path(args.chart))).unfold()
    first, last = args.bars or (1, len(form.bars))
    if first > len(form.bars):
        raise UseError(f"there is no bar {first}", file=args.chart, mend=f"the form has {len(form.bars)} bars")
    print(f"over the whole form: {scales_for_form(form)}")
    for bar in explain(form, asked.request, first=first, last=last):
        print(bar)
    return 0
