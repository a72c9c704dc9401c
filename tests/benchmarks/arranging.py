"""How good the arrangements are, and how long they take, over a folder of lead sheets.

usage: python tests/benchmarks/arranging.py FOLDER [--seeds 10] [--choruses 2] [--treatment walking] [--rows]

FOLDER holds MusicXML lead sheets or charts; without it (or where it isn't there) the shipped charts are taken. Prints each
figure of the audit with its target, worst sheets first, and the time to arrange a chorus of each part, scaled to 32 bars of
4/4 and counted in the processor's time: median and 90th percentile, of fresh choruses of a known form, and of the first.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from fractions import Fraction
from pathlib import Path

from companion.arrange import audit
from companion.arrange.plan import arrange, plan
from companion.chart.load import load
from companion.chart.model import Form
from companion.resources import shipped_folder


def forms(folder: Path) -> list[tuple[str, Form]]:
    files = sorted(p for p in folder.iterdir() if p.suffix in (".mxl", ".musicxml", ".toml", ".xml"))
    return [(p.stem, load(p).unfold()) for p in files]


def timed(form: Form, part: str, **how: object) -> tuple[float, tuple[object, ...]]:
    began = time.process_time()
    notes = arrange(form, part, **how)  # type: ignore[arg-type]
    return time.process_time() - began, notes


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--choruses", type=int, default=2)
    parser.add_argument("--treatment", default="walking")
    parser.add_argument("--take", type=int, default=0, help="only every so many sheets")
    parser.add_argument("--rows", action="store_true", help="each sheet's misses")
    args = parser.parse_args()
    folder = args.folder if args.folder and args.folder.is_dir() else shipped_folder() / "charts"
    if folder != args.folder:
        print(f"no folder of lead sheets: measuring the charts in {folder}", file=sys.stderr)
    table: dict[str, list[tuple[audit.Figure, str]]] = {}
    fresh: dict[str, list[float]] = {"bass": [], "chords": []}
    first: dict[str, list[float]] = {"bass": [], "chords": []}
    for name, form in forms(folder)[:: args.take or 1]:
        scale = float(128 / form.length)
        for seed in range(args.seeds):
            rows: dict[str, list[tuple[object, ...]]] = {"bass": [], "chords": []}
            for chorus in range(1, args.choruses + 1):
                for part in ("bass", "chords"):
                    took, notes = timed(form, part, treatment=args.treatment, chorus=chorus, seed=seed)
                    (first if seed == 0 and chorus == 1 else fresh)[part].append(took * scale)
                    rows[part].append(notes)
            gaps = any(t.placement == "gaps" for _, _, t in plan(form, args.treatment))
            figures = audit.walking(form, rows["bass"]) if args.treatment == "walking" else []  # type: ignore[arg-type]
            figures += audit.voiced(form, rows["chords"], rows["bass"])  # type: ignore[arg-type]
            figures += audit.placed(form, rows["chords"], gaps=gaps)  # type: ignore[arg-type]
            for figure in figures:
                table.setdefault(figure.name, []).append((figure, f"{name}/{seed}"))
    for title, found in table.items():
        report(title, found, args.rows)
    for part in ("bass", "chords"):
        for what, times in (("first", first[part]), ("fresh", fresh[part])):
            if times:
                p90 = sorted(times)[int(0.9 * (len(times) - 1))]
                print(f"{part}, {what} chorus of 32 bars: median {1000 * statistics.median(times):.0f} ms, p90 {1000 * p90:.0f} ms")
    _ = Fraction


def report(title: str, found: list[tuple[audit.Figure, str]], rows: bool) -> None:
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
