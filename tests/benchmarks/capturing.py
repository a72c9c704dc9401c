"""How many notes of a played melody come back from capture on the right beat with the right written length.

    python tests/benchmarks/capturing.py FOLDER [--seeds N] [--kind KIND] [--each]

FOLDER holds lead sheets or charts (.mxl, .musicxml, .toml), which the built-in player (:mod:`companion.pianist.player`)
plays with human timing, or lead sheets of the companion's own when none is given. A note counts when it was struck, and
is found on its written beat; its length counts when it is the written one, too. What was struck beside the written
notes (grace notes, octaves) must stay out: each such note that comes back counts against the share of right ones.
Kinds:

| kind | who plays, and what capture is told |
|---|---|
| click | in time with a click, without slips; the click |
| slips | the same with 3 % wrong notes, 3 % left out, 3 % graced, some octaves; the click |
| beats | with the drift of a trio, without slips; where the beats fell |
| free | with the drift of a trio, without slips; the tempo and the first downbeat alone |

Prints a line a kind: share on the right beat, share on the right beat with the right length, the median and the worst
sheet, and how long it took.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from companion.chart.model import Form
from companion.errors import CompanionError
from companion.load import load
from companion.music.played import BeatMap
from companion.pianist.player import SimulatedPerformance, manners, simulate
from companion.pianist.route import FIRST_CLICK
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.resources import CHART_SUFFIXES, shipped_folder
from companion.transcribe.lengths import notes_with_lengths
from companion.transcribe.playing import keys_of, top_line
from companion.transcribe.quantise import quantise

KINDS: dict[str, dict[str, Any]] = {
    "click": {"drift": 0.0},
    "slips": {"drift": 0.0, "wrong": 0.03, "left_out": 0.03, "ornaments": 0.03, "octaves": 0.08},
    "beats": {},
    "free": {},
}


def told(kind: str, form: Form, played: SimulatedPerformance) -> BeatMap:
    """What capture knows of the beat."""
    if kind == "beats":
        rows = [(row.chart_beat, row.seconds) for row in played.truth]
        return BeatMap(tuple(rows))
    if kind in ("click", "slips"):
        counted = -played.truth[0].chart_beat
        return BeatMap.steady(form.tempo, FIRST_CLICK + counted * 60 / form.tempo)
    return BeatMap.steady(played.tempo, played.start)


def score(form: Form, kind: str, seed: int) -> tuple[int, int, int, int]:
    """Notes struck as written, those found on their beat, those with their length too, and notes found beside them."""
    timing = preferences(CapturePreferences).timing
    played = simulate(form, "melody", manner=replace(manners()["clean"], **KINDS[kind]), seed=seed)
    line = top_line(keys_of(played.heard), again=timing.again_ms / 1000, spread=timing.spread_ms / 1000)
    reading = quantise(line, told(kind, form, played), form.metre)
    found = {note.beat: note.length for note in notes_with_lengths(reading, form.metre)}
    lengths = {note.beat: note.length for note in form.melody}
    struck = [Fraction(n.chart_beat).limit_denominator(48) for n in played.notes if n.kind in ("right", "wrong")]
    on_beat = [beat for beat in struck if beat in found]
    right = [beat for beat in on_beat if found[beat] == lengths.get(beat)]
    return len(struck), len(on_beat), len(right), len(set(found) - set(struck))


def main() -> int:
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("folder", nargs="?", type=Path, default=shipped_folder() / "charts")
    words.add_argument("--seeds", type=int, default=1)
    words.add_argument("--kind", action="append", choices=tuple(KINDS))
    words.add_argument("--each", action="store_true", help="a line a sheet, too")
    words.add_argument("--every", type=int, default=1, metavar="N", help="only every N-th sheet")
    args = words.parse_args()
    forms = {}
    for path in sorted(p for p in args.folder.iterdir() if p.suffix in CHART_SUFFIXES)[:: args.every]:
        try:
            forms[path.stem] = load(path).unfold()
        except CompanionError as error:
            print(error, file=sys.stderr)
    print(
        f"{'kind':<8}{'notes':>7}{'on beat':>9}{'and length':>12}{'beside':>8}{'median':>8}{'worst':>8}{'seconds':>9}"
    )
    for kind in args.kind or KINDS:
        began, rows = time.perf_counter(), []
        for name, form in forms.items():
            for seed in range(args.seeds):
                rows.append((*score(form, kind, seed), name))
                if args.each:
                    print("  ", kind, name, *rows[-1][:4], flush=True)
        struck, on_beat, right, beside = (sum(row[k] for row in rows) for k in range(4))
        shares = sorted(row[2] / row[0] for row in rows if row[0])
        print(
            f"{kind:<8}{struck:>7}{on_beat / struck:>9.2%}{right / struck:>12.2%}{beside / struck:>8.2%}"
            f"{statistics.median(shares):>8.1%}{shares[0]:>8.1%}{time.perf_counter() - began:>9.0f}",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
