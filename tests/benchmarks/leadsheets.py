"""Read every lead sheet in a folder and compare it with the chart beside it, as it is played once through.

    python tests/benchmarks/leadsheets.py DATA

DATA holds ``NNN.mxl``, ``NNN.musicxml`` or ``NNN.abc`` and beside each (or in ``--truth``) ``NNN.json`` with
``pickup``, ``quarters``, ``bar_order``, ``sections``, ``melody`` rows [beat, length, MIDI pitch] and ``chords`` rows
[start, end, Harte notation]; an ``index.csv`` may mark sheets with leaps back (``has_jumps``), whose order the JSON
doesn't give, and chord names that stand as words (``text_chords``), which the JSON leaves out. Each sheet is also
imported into a chart of ours and read back from its text. Prints a line a sheet that differs, then a summary. Exit
status 1 when one does.
"""

from __future__ import annotations

import argparse
import csv
import json
import sys
import time
from fractions import Fraction
from pathlib import Path
from typing import Any

from companion.chart.imported import write_imported
from companion.chart.model import Form
from companion.chart.musicxml.read import read_written
from companion.chart.repeats import playing_order
from companion.chart.toml.read import parse_toml
from companion.errors import CompanionError
from companion.load import import_file, load

HARTE = {
    "maj": {0, 4, 7}, "min": {0, 3, 7}, "dim": {0, 3, 6}, "aug": {0, 4, 8}, "maj7": {0, 4, 7, 11},
    "min7": {0, 3, 7, 10}, "7": {0, 4, 7, 10}, "dim7": {0, 3, 6, 9}, "hdim7": {0, 3, 6, 10}, "minmaj7": {0, 3, 7, 11},
    "maj6": {0, 4, 7, 9}, "min6": {0, 3, 7, 9}, "9": {0, 2, 4, 7, 10}, "maj9": {0, 2, 4, 7, 11},
    "min9": {0, 2, 3, 7, 10}, "11": {0, 2, 4, 5, 7, 10}, "min11": {0, 2, 3, 5, 7, 10}, "13": {0, 2, 4, 5, 7, 9, 10},
    "sus4": {0, 5, 7}, "sus2": {0, 2, 7}, "maj13": {0, 2, 4, 5, 7, 9, 11}, "min13": {0, 2, 3, 5, 7, 9, 10},
    "5": {0, 7}, "": {0, 4, 7}, "1": {0},
}  # fmt: skip
"""Shorthands of Harte notation (Harte, Sandler, Abdallah & Gomez, ISMIR 2005), as semitones above the root."""
DEGREES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11, 9: 14, 11: 17, 13: 21}


SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def note_pc(text: str) -> int:
    return (SEMITONES[text[0]] + text.count("#") - text.count("b")) % 12


def interval(text: str) -> int:
    number = text.strip("#b*")
    return DEGREES[int(number)] + text.count("#") - text.count("b")


def harte(text: str) -> tuple[frozenset[int], int | None]:
    """Pitch classes and bass of a chord in Harte notation."""
    if text == "N":
        return frozenset(), None
    body, _, bass = text.partition("/")
    root, _, quality = body.partition(":")
    shorthand, _, extra = quality.partition("(")
    tones = set(HARTE[shorthand])
    for degree in filter(None, extra.rstrip(")").split(",")):
        if degree.startswith("*"):
            tones.discard(interval(degree[1:]) % 12)
        else:
            tones.add(interval(degree) % 12)
    if "5" in extra and tones & {6, 8}:
        tones.discard(7)  # an altered fifth is listed like an added one
    pc = note_pc(root)
    return frozenset((pc + t) % 12 for t in tones), (pc + interval(bass)) % 12 if bass else pc


def near(a: float, b: Fraction) -> bool:
    return abs(a - float(b)) < 2e-3


def differences(path: Path, expected: dict[str, Any], words: bool, jumps: bool) -> list[str]:
    form = load(path).unfold()
    found = []
    back = parse_toml(write_imported(import_file(path))).unfold()
    if (back.melody, back.chords, back.sections) != (form.melody, form.chords, form.sections):
        found.append("its chart reads otherwise")
    if jumps:
        return found
    if path.suffix != ".abc":
        order = [i + 1 for i in playing_order([bar.marks for bar in read_written(path).bars])]
        if order != expected["bar_order"]:
            found.append(f"bar order {order} for {expected['bar_order']}")
    if not near(expected["quarters"], form.length):
        found.append(f"length {form.length} for {expected['quarters']}")
    if form.metre.beats != expected["beats_per_bar"] or form.metre.beat_type != expected["beat_type"]:
        found.append(f"metre {form.metre}")
    if expected["fifths"] is not None and form.fifths != expected["fifths"]:
        found.append(f"fifths {form.fifths}")
    ours = [(n.beat, n.length, n.pitch.midi) for n in form.melody]
    theirs = expected["melody"]
    if len(ours) != len(theirs):
        found.append(f"{len(ours)} notes for {len(theirs)}")
    for a, b in zip(ours, theirs, strict=False):
        if not (near(b[0], a[0]) and near(b[1], a[1]) and b[2] == a[2]):
            found.append(f"note {tuple(map(float, a))} for {b}")
            break
    if not words:
        found += chord_differences(form, expected["chords"])
    return found


def chord_differences(form: Form, expected: list[list[Any]]) -> list[str]:
    """Compare the chords in force at every change of either side."""
    changes = sorted({float(c.start) for c in form.chords} | {r[0] for r in expected} | {r[1] for r in expected})
    for beat in changes:
        if not 0 <= beat < float(form.length) - 1e-6:
            continue
        ours = form.chord_at(beat + 1e-2).chord
        row = next((r for r in expected if r[0] <= beat + 1e-2 < r[1]), None)
        tones, bass = harte(row[2]) if row else (frozenset[int](), None)
        if frozenset(ours.pitch_classes) != tones or (ours.bass_name.pc if ours.bass_name else None) != bass:
            return [f"chord {ours.symbol} for {row} at {beat}"]
    return []


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("data", type=Path, metavar="DATA")
    parser.add_argument("--truth", type=Path, metavar="FOLDER", help="where the JSON and index.csv are (default: DATA)")
    parser.add_argument("--show", action="store_true", help="print each sheet's sections too")
    options = parser.parse_args()
    if not options.data.is_dir():
        print(f"{options.data}: no such folder; nothing measured", file=sys.stderr)
        return 2
    flags = {}
    truth = options.truth or options.data
    if (truth / "index.csv").exists():
        with (truth / "index.csv").open(newline="") as stream:
            flags = {row["id"]: row for row in csv.DictReader(stream)}
    sheets = (p for p in options.data.iterdir() if p.suffix in (".mxl", ".musicxml", ".abc"))
    paths = sorted(p for p in sheets if (truth / f"{p.stem}.json").exists())
    wrong, seconds = 0, 0.0
    for path in paths:
        row = flags.get(path.stem, {})
        began = time.perf_counter()
        try:
            found = differences(
                path,
                json.loads((truth / f"{path.stem}.json").read_text()),
                words=row.get("text_chords") == "1",
                jumps=row.get("has_jumps") == "1",
            )
        except CompanionError as error:
            found = [str(error)]
        seconds += time.perf_counter() - began
        if options.show:
            chart = load(path)
            sizes = {s.name: len(s.bars) for s in chart.sections}
            print(path.name, " ".join(chart.form), sizes)
        for line in found:
            print(f"{path.name}: {line}")
        wrong += bool(found)
    print(f"{len(paths) - wrong} of {len(paths)} sheets agree; {1000 * seconds / max(1, len(paths)):.0f} ms a sheet")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
