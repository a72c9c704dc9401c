"""``companion chart audit``: what a teacher would count in arrangements, chart by chart and in all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.outputs import check_outputs, force_word, write
from companion.cli.progress import Progress
from companion.cli.words import CHART, ArrangingOptions, arrangement_words, command, count
from companion.errors import FaultsFound

if TYPE_CHECKING:
    import argparse

    from companion.arrange.audit.figures import AuditFigure, Total


def add_audit(actions: Any) -> None:
    """Describe the command."""
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
    own = "what the chart says, written bars as they are"
    arrangement_words(parser, treatment=f"one treatment for the whole form, played freely (default: {own})", seed=None)
    parser.add_argument(
        "--seeds",
        type=count,
        default=10,
        metavar="N",
        help="how many arrangements of each chart, three choruses each (default: 10)",
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there, too")
    force_word(parser)


def _audit(args: argparse.Namespace) -> int:
    from companion.arrange.audit.arrangement import audit
    from companion.arrange.audit.figures import totals
    from companion.arrange.treatments import treatment
    from companion.load import load
    from companion.resources import chart_path

    paths = [chart_path(name) for name in args.charts]
    check_outputs([args.json], paths)
    asked = ArrangingOptions.by(args)
    if asked.treatment:
        treatment(asked.treatment)
    forms = [asked.of(load(path)).unfold() for path in paths]
    found: list[tuple[str, list[AuditFigure]]] = []
    for number, (name, form) in enumerate(zip(args.charts, forms, strict=True)):
        with Progress(f"arranging {number + 1} of {len(forms)}") as progress:
            figures = audit(form, treatment=asked.treatment, seeds=args.seeds, watch=progress.show)
        found.append((name, figures))
        print(name, *_lines(figures), sep="\n", flush=True)
    summed = totals(found)
    if len(found) > 1:
        print(f"all {len(found)} charts", *_total_lines(summed), sep="\n")
    if args.json:
        write(args.json, _json(found, summed), force=args.force)
    missed = sum(not figure.reached for _, figures in found for figure in figures)
    if missed:
        raise FaultsFound(f"{missed} targets missed" if missed > 1 else "a target missed")
    return 0


def _lines(figures: Sequence[AuditFigure]) -> Iterable[str]:
    """The figures of a chart under the part that they are about; a miss is marked and says where it is."""
    for part, group in groupby(figures, key=lambda figure: figure.part):
        yield f"  {part}"
        for figure in group:
            said = f"{figure.value:9.3g}" if figure.of else "        –"
            line = f"  {'  ' if figure.reached else '! '}{figure.name:<52}{said}   {_target(figure)}"
            yield line if figure.reached else f"{line}   {', '.join(figure.places)}".rstrip()


def _total_lines(totals: Sequence[Total]) -> Iterable[str]:
    """The figures over all charts: the mean, the worst chart, and how many miss the target."""
    yield f"  {'':54}{'mean':>9}{'worst':>9}   target"
    for part, group in groupby(totals, key=lambda total: total.figure.part):
        yield f"  {part}"
        for total in group:
            figure = total.figure
            missed = f"   missed by {len(total.missed)}, most by {total.worst_chart}" if total.missed else ""
            yield f"    {figure.name:<52}{total.mean:9.3g}{total.worst:9.3g}   {_target(figure)}{missed}"


def _target(figure: AuditFigure) -> str:
    low, high = figure.at_least, figure.at_most
    if low is None and high is None:
        return "no target: too few cases"
    if low is not None and high is not None:
        return f"{low:g} to {high:g}"
    return f"{low:g} or more" if low is not None else "none" if high == 0 else f"{high:g} or less"


def _json(found: Sequence[tuple[str, Sequence[AuditFigure]]], summed: Sequence[Total]) -> str:
    import json
    from dataclasses import asdict

    charts = [
        {"chart": name, "figures": [asdict(figure) | {"reached": figure.reached} for figure in figures]}
        for name, figures in found
    ]
    in_all = [
        {
            "part": total.figure.part,
            "name": total.figure.name,
            "mean": total.mean,
            "worst": total.worst,
            "worst_chart": total.worst_chart,
            "missed": list(total.missed),
            "at_least": total.figure.at_least,
            "at_most": total.figure.at_most,
        }
        for total in summed
    ]
    return json.dumps({"format": 1, "charts": charts, "all": in_all}, indent=1, ensure_ascii=False) + "\n"
