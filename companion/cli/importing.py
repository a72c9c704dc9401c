"""``companion chart import``: a lead sheet of another format becomes a chart of ours."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.outputs import force_word, write
from companion.cli.takes import TAKE, written_down
from companion.cli.words import command, count
from companion.errors import ChartError, UseError
from companion.resources import IMPORT_SUFFIXES, chart_name, free_chart_place

if TYPE_CHECKING:
    import argparse

    from companion.chart.imported import Imported
    from companion.chart.model import Chart


def add_import(actions: Any) -> None:
    """Describe the command."""
    parser = command(
        actions,
        "import",
        _import,
        "make a chart of a lead sheet; what a chart can't hold is kept as comments, and listed with its bars",
        """
        companion chart import sheet.mxl
        companion chart import sheet.musicxml --out tune.toml
        companion chart import tunes.abc --tune 3
        companion chart import song.mid --melody "Lead Vocal"
        companion chart import last
        """,
    )
    parser.add_argument(
        "file", metavar="FILE", help=f"a lead sheet: {', '.join(IMPORT_SUFFIXES)}. Or {TAKE}: what you played in it"
    )
    parser.add_argument(
        "--out",
        type=Path,
        metavar="CHART.toml",
        help="the chart to write (default: the tune's name, among your charts)",
    )
    force_word(parser)
    parser.add_argument("--tune", type=count, metavar="N", help="which tune of a file with several: its number there")
    parser.add_argument(
        "--melody",
        metavar="NAME",
        help="the voice or track that has the melody, by its name in the file (default: it is found)",
    )


def _import(args: argparse.Namespace) -> int:
    from companion.load import import_file

    check_chart_file(args.out)
    played = written_down(args.file, alone=False)
    imported = played[0] if played else import_file(args.file, tune=args.tune, melody=args.melody)
    try:
        keep_imported(imported, args.out, force=args.force)
    except ChartError as error:
        raise error.within(file=str(args.file)) from None
    return 0


def check_chart_file(out: Path | None) -> None:
    """Before the work: a chart can be written there, it is called like one, and none of a newer format stands there."""
    from companion.chart.toml.read import check_not_newer
    from companion.files import check_writable

    if out is None:
        return
    if out.suffix.lower() != ".toml" and (out.is_file() or not out.exists()):
        raise UseError("a chart's file ends with .toml", file=str(out), mend=f"name it {out.stem}.toml")
    check_writable(out)
    check_not_newer(out)


def keep_imported(imported: Imported, out: Path | None, *, force: bool = False) -> None:
    """Write a chart with its remarks, among the player's own where no file is named, and list them; nothing is lost."""
    from companion.chart.imported import report, write_imported

    text = write_imported(imported)
    place = out or free_chart_place(chart_name(imported.chart.title))
    if out is None:
        place.parent.mkdir(parents=True, exist_ok=True)
    write(place, text, force=force)
    print(f"{place}: {_described(imported.chart)}")
    for line in report(imported):
        print(f"  {line}")


def _described(chart: Chart) -> str:
    """What has been made: 'Back Stairs, 32 bars of 4/4 in G minor, 132 quarters a minute, swing'."""
    from companion.chart.keys import write_key

    bars = len(chart.unfold().bars)
    about = f"{'1 bar' if bars == 1 else f'{bars} bars'} of {chart.metre} in {write_key(chart.fifths, chart.minor)}"
    return f"{chart.title}, {about}, {chart.tempo:g} quarters a minute, {chart.feel}"
