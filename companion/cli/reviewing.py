"""``companion review``: what happened in a take, or in any recorded performance of a chart."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.outputs import check_outputs, force_word, numbered, write
from companion.cli.progress import Progress
from companion.cli.words import CHART, bar_range, command, data_said, take_part, your_parts
from companion.errors import UseError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from companion.chart.model import Chart
    from companion.engrave.sheet import Sheet
    from companion.messages import Heard
    from companion.practice.review import Review
    from companion.stage.settings import Settings


def add_review(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "review",
        _review,
        "say what happened in a take: notes right and wrong, bar by bar, and where you went",
        """
        companion review
        companion review last --json last.json
        companion review last --out last.svg
        companion review last --revoice 5-8 --out bars.pdf
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
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FILE.svg",
        help="draw it: your notes over the written ones, findings at their bars, timing below. Of several times "
        "through each is drawn, as FILE-1.svg, FILE-2.svg and so on",
    )
    parser.add_argument(
        "--revoice",
        type=bar_range,
        metavar="FIRST-LAST",
        help="instead, say how your chords in these bars would be right and lie near each other with the fewest notes "
        "changed; with --out on the staff, as .svg or .pdf",
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write notes, bars, moves and findings as JSON")
    force_word(parser)


def _review(args: argparse.Namespace) -> int:
    from companion.practice.account import account
    from companion.practice.alignment import align
    from companion.practice.review import review
    from companion.practice.review_table import review_table

    if args.revoice:
        return _revoiced(args)
    if args.out and args.out.suffix.lower() != ".svg":
        raise UseError("that suffix can't be drawn", file=str(args.out), mend="end it with .svg")
    chart, settings, heard, end, title, sources = _performed(args)
    form = chart.unfold()
    check_outputs([args.json, args.out], sources)
    found = review(form, align(chart, settings, heard, end), settings.you, heard)
    if args.performance is None:
        found = _in_the_light_of_earlier(args, found, settings)
    if args.json:
        text = json.dumps(review_table(found), indent=1, ensure_ascii=False) + "\n"
        write(args.json, text, force=args.force)
    print(*account(chart.title, found, form, settings.you, _name(args), data_said(args)), sep="\n")
    if args.out:
        _draw(args.out, _pictures(chart, settings, found, title), sources, force=args.force)
    return 0


def _in_the_light_of_earlier(args: argparse.Namespace, found: Review, settings: Settings) -> Review:
    """The review with what takes before say of it."""
    from companion.practice.slips_before import in_the_light_of_earlier
    from companion.stage.take_names import find_take

    with Progress("looking through your takes before") as progress:
        return in_the_light_of_earlier(found, find_take(args.what), settings.you, progress=progress.show)


def _revoiced(args: argparse.Namespace) -> int:
    from companion.practice.alignment import align
    from companion.practice.revoiced import passage_lines, passage_sheet, revoiced_passage
    from companion.stage.take import read_take
    from companion.stage.take_names import take_folder

    if args.json:
        raise UseError("--json is the review's", mend="leave out --json or --revoice")
    if args.out and args.out.suffix.lower() not in (".svg", ".pdf"):
        raise UseError("that suffix can't be engraved", file=str(args.out), mend="end it with .svg or .pdf")
    chart, settings, heard, end, _, sources = _performed(args)
    check_outputs([args.out], sources)
    folder = None if args.performance else take_folder(args.what)
    ours = read_take(folder).sounded() if folder else []
    parts = settings.parts if folder else ()
    form = chart.unfold()
    with Progress("looking through it"):
        laid = align(chart, settings, heard, end)
    found = revoiced_passage(form, laid, args.revoice, settings.you, ours, parts)
    print(*passage_lines(form, found), sep="\n")
    if args.out:
        _engrave(args, passage_sheet(chart, found, settings.you), sources)
    return 0


def _engrave(args: argparse.Namespace, sheet: Sheet, sources: list[Path]) -> None:
    """Write a sheet as pages or as a PDF."""
    from companion.engrave.page import pages, pdf

    with Progress("engraving") as progress:
        svgs = pages(sheet, progress=progress.show)
    names = [args.out] if args.out.suffix.lower() == ".pdf" else numbered(args.out, len(svgs))
    check_outputs(names, sources)
    if args.out.suffix.lower() == ".pdf":
        write(args.out, pdf(svgs, sheet.title), force=args.force)
    else:
        for name, svg in zip(names, svgs, strict=True):
            write(name, svg, force=args.force)
    print(f"{', '.join(map(str, names))}: as you played it, and with the fewest changes")


def _name(args: argparse.Namespace) -> str:
    """What the chart is called on the command line."""
    from companion.resources import chart_names
    from companion.stage.take import read_take
    from companion.stage.take_names import take_folder

    if args.performance is not None:
        return str(args.what)
    folder = take_folder(args.what)
    source = Path((read_take(folder).source if folder else None) or "CHART")
    return source.stem if source.stem in chart_names() else str(source)


def _pictures(chart: Chart, settings: Settings, found: Review, title: str) -> list[str]:
    """The pictures of a review, with progress."""
    from companion.practice.review_picture import review_pictures

    with Progress("drawing") as progress:
        return [one.svg for one in review_pictures(chart, settings.you, found, title, progress=progress.show)]


def _draw(out: Path, pictures: Sequence[str], sources: list[Path], *, force: bool) -> None:
    """Write the pictures, one or numbered ones."""
    if not pictures:
        print(f"{out}: nothing to draw")
        return
    names = numbered(out, len(pictures))
    check_outputs(names, sources)
    for name, picture in zip(names, pictures, strict=True):
        write(name, picture, force=force)
    print(f"{', '.join(map(str, names))}: what you played over what is written")


def _performed(args: argparse.Namespace) -> tuple[Chart, Settings, Sequence[Heard], float, str, list[Path]]:
    """The chart, the settings, what was played up to when, what that is called, and the files that it is read from."""
    from companion.load import load
    from companion.resources import chart_path
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
        title = f"{take.title}, {take.started.day} {take.started:%B %Y, %H:%M}"
        return chart, settings, take.heard(), take.seconds, title, [take.midi]
    path = chart_path(args.what)
    chart = load(path)
    take_part(args, chart, recorded=True)
    heard, end = read_performance(args.performance), performance_length(args.performance)
    title = f"{chart.title}, {args.performance.name}"
    return chart, Settings(you=args.you), heard, end, title, [path, args.performance]
