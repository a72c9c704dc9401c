"""How good the arrangements are, and how long they take, over a folder of lead sheets.

usage: python tests/benchmarks/arranging.py FOLDER [--seeds 10] [--choruses 3] [--treatment walking] [--every N]
[--rows]

FOLDER holds MusicXML lead sheets or charts; without it (or where it isn't there) the shipped charts are taken. Prints
each figure of the audit with its target, worst sheets first, and the time to arrange a chorus of each part, scaled to
32 bars of 4/4 and counted in the processor's time: median and 90th percentile, of fresh choruses of a known form, and
of the first.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path

from companion.arrange.audit.arrangement import AuditFigure, audit
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.load import load
from companion.resources import shipped_folder


def forms(folder: Path) -> list[tuple[str, Form]]:
    files = sorted(p for p in folder.iterdir() if p.suffix in (".mxl", ".musicxml", ".toml", ".xml"))
    return [(p.stem, load(p).unfold()) for p in files]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--choruses", type=int, default=3)
    parser.add_argument("--treatment", help="one for every sheet; otherwise each section's own, or what is proposed")
    parser.add_argument("--every", type=int, default=1, help="only every so many sheets")
    parser.add_argument("--rows", action="store_true", help="each sheet's misses")
    args = parser.parse_args()
    folder = args.folder if args.folder and args.folder.is_dir() else shipped_folder() / "charts"
    if folder != args.folder:
        print(f"no folder of lead sheets: measuring the charts in {folder}", file=sys.stderr)
    table: dict[str, list[tuple[AuditFigure, str]]] = {}
    first: dict[str, list[float]] = {"bass": [], "chords": []}
    fresh: dict[str, list[float]] = {"bass": [], "chords": []}
    for name, form in forms(folder)[:: args.every]:
        for part in ("bass", "chords"):
            for chorus in range(1, 4):
                took = timed(form, part, args.treatment, chorus)
                (first if chorus == 1 else fresh)[part].append(took)
        for figure in audit(form, treatment=args.treatment, seeds=args.seeds, choruses=args.choruses):
            table.setdefault(figure.name, []).append((figure, name))
    for title, found in table.items():
        report(title, found, args.rows)
    for part in ("bass", "chords"):
        for what, times in (("first", first[part]), ("fresh", fresh[part])):
            p90 = sorted(times)[int(0.9 * (len(times) - 1))]
            middle = statistics.median(times)
            print(f"{part}, {what} chorus of 32 bars: median {1000 * middle:.0f} ms, p90 {1000 * p90:.0f} ms")


def timed(form: Form, part: str, treatment: str | None, chorus: int) -> float:
    """Seconds of the processor to arrange a chorus, scaled to 32 bars of 4/4."""
    began = time.process_time()
    arrange(form, part, Request(treatment=treatment, chorus=chorus, seed=99))
    return (time.process_time() - began) * float(128 / form.length)


def report(title: str, found: list[tuple[AuditFigure, str]], rows: bool) -> None:
    counted = [(f, where) for f, where in found if f.of]
    if not counted:
        return
    mean = sum(f.value * f.of for f, _ in counted) / sum(f.of for f, _ in counted)
    missed = [(f, where) for f, where in counted if not f.reached]
    one = counted[0][0]
    low = f">= {one.at_least:g} " if one.at_least is not None else ""
    high = f"<= {one.at_most:g}" if one.at_most is not None else ""
    worst = (min if one.at_least is not None and one.at_most is None else max)(f.value for f, _ in counted)
    print(f"{title:55s} {mean:7.3f}  target {low}{high:8s} worst {worst:.3f}  missed {len(missed)}/{len(counted)}")
    for figure, where in missed[: 12 if rows else 2]:
        print(f"      {where}: {figure.value:.3f}  {'; '.join(figure.places[:3])}")


if __name__ == "__main__":
    main()
