"""Compare the openings of our tunes with a folder of lead sheets: no eight intervals in a row may be shared.

    python tests/benchmarks/originality.py DATA [CHART ...]

DATA holds lead sheets (.mxl, .musicxml); CHARTs are ours unless given. For every section of a chart the intervals
of its first notes are looked for anywhere in each sheet's melody, in any key; so are the chart's first eight changes of
chord. Prints for each the longest agreement there is. Exit status 1 when something is shared.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path

from companion.chart.model import Form
from companion.errors import CompanionError
from companion.load import load

LONGEST = 8
"""Intervals, and changes of chord, in a row that no tune of ours may share with a sheet."""


def intervals(form: Form) -> list[int]:
    """Semitones from note to note."""
    return [b.pitch.midi - a.pitch.midi for a, b in pairwise(form.melody)]


def changes(form: Form) -> list[tuple[int, str]]:
    """Semitones from root to root, and the quality arrived at."""
    chords = [span.chord for span in form.chords if span.chord.root is not None]
    kept = [b for a, b in zip([None, *chords], chords, strict=False) if a != b]
    return [((b.root.pc - a.root.pc) % 12, b.quality) for a, b in pairwise(kept) if a.root and b.root]


def longest_shared(ours: Sequence[object], theirs: Sequence[object]) -> int:
    """How many of our first steps stand in a row somewhere in theirs."""
    best = 0
    for start in range(len(theirs)):
        length = 0
        while length < len(ours) and start + length < len(theirs) and ours[length] == theirs[start + length]:
            length += 1
        best = max(best, length)
    return best


def openings(form: Form) -> Iterator[tuple[str, list[int]]]:
    """The intervals from the start of each section (its pickup included), each section once."""
    steps = intervals(form)
    seen = set()
    for place in form.sections:
        if place.name in seen:
            continue
        seen.add(place.name)
        first = next((k for k, note in enumerate(form.melody) if note.beat >= place.start - 1), 0)
        yield place.name, steps[first : first + 2 * LONGEST]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("data", type=Path, metavar="DATA")
    parser.add_argument("charts", type=Path, nargs="*", metavar="CHART")
    options = parser.parse_args()
    if not options.data.is_dir():
        print(f"{options.data}: no such folder; nothing compared", file=sys.stderr)
        return 2
    ours = options.charts or sorted((Path(__file__).parents[2] / "charts").glob("*.toml"))
    sheets = sorted(p for p in options.data.iterdir() if p.suffix in (".mxl", ".musicxml"))
    shared = 0
    try:
        forms = [(sheet.name, load(sheet).unfold()) for sheet in sheets]
        for path in ours:
            form = load(path).unfold()
            wanted: list[tuple[str, Sequence[object], Callable[[Form], Sequence[object]]]]
            wanted = [(f"section {name}", steps, intervals) for name, steps in openings(form)]
            wanted.append(("changes", changes(form)[: 2 * LONGEST], changes))
            for what, steps, read in wanted:
                length, name = max((longest_shared(steps, read(other)), name) for name, other in forms)
                flag = "SHARED" if length >= LONGEST else "ok"
                shared += length >= LONGEST
                print(f"{flag:6} {path.name}: {what}: {length} steps in a row as in {name}")
    except CompanionError as error:
        print(error, file=sys.stderr)
        return 2
    return 1 if shared else 0


if __name__ == "__main__":
    raise SystemExit(main())
