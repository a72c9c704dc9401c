"""How many planted faults the review finds, of the right kind in the right bar, and how many it invents.

usage: reviewing.py [DATA] [--half tuned|aside] [--parts LIST] [--takes N] [--ways usual|drawn] [--counted] [--show]

Good players (a touch of 8 ms, a beat that wanders by itself or as a recording of DATA/pulse does) go through our own
charts, and with DATA through its lead sheets of 24 to 80 bars, with six faults each (``planted_faults`` of the tests).
With ``--ways drawn`` each take has its own reading of what each fault is, and its own comping (``fault_ways``). A fault
is found where a finding of its kind names one of its bars. A finding in bars in which nothing was planted is invented.
Goals: 95 % found; fewer than one invented in 20 bars.

A bare performance says nothing but its keys. With ``--counted`` the take has what one played with the companion has:
when the first downbeat was due and the tempo that was counted in.

Every other chart, with seeds of its own, is kept aside: never tune on ``--half aside``. DATA as for ``following.py``.
"""

from __future__ import annotations

import argparse
import csv
import math
import random
import statistics
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass, field, replace
from itertools import pairwise
from pathlib import Path

from companion.chart.model import Chart
from companion.load import load
from companion.practice.alignment import align
from companion.practice.review import Finding, review
from companion.resources import shipped_folder
from companion.stage.settings import Settings
from tests.practice.fault_ways import USUAL, Ways, drawn_ways
from tests.practice.planted_faults import KINDS, Fault, FaultyTake, faulty

BARS = range(24, 81)
TEMPI = (84, 184)
"""Quarters a minute, drawn from between these."""
GRID = 0.005
"""Seconds: recordings' beats lie on a grid of 10 ms, which is smoothed away up to this."""

JUMP, LONG = 0.09, 120
"""From one beat to the next nobody changes the tempo by so much (natural logarithm): the tracker did; fewest beats."""


@dataclass
class Score:
    """What was found and what was invented."""

    planted: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    invented: Counter[str] = field(default_factory=Counter)
    bars: int = 0


def charts(data: Path | None, half: str) -> list[Path]:
    """Our charts and DATA's lead sheets of one half."""
    ours = sorted((shipped_folder() / "charts").glob("*.toml"))
    sheets = []
    if data is not None:
        with (data / "leadsheets" / "index.csv").open(newline="") as stream:
            fit = [row["id"] for row in csv.DictReader(stream) if int(row["bars_unfolded"]) in BARS]
        found = [sorted(p for p in (data / "leadsheets").glob(f"{number}.*") if p.suffix != ".json") for number in fit]
        sheets = [paths[0] for paths in found]
    first = 0 if half == "tuned" else 1
    return [*ours[first::2], *sheets[first::2]]


def recorded_periods(data: Path | None, half: str, seed: int) -> Sequence[float] | None:
    """A recording's beats for every other take: their lengths as shares of the tempo around them and of the whole.

    Recordings with gaps, or whose beats were marked by a tracker that slipped, are passed over.
    """
    if data is None or seed % 2:
        return None
    names = sorted((data / "pulse").glob("*.csv"))[0 if half == "tuned" else 1 :: 2]
    for name in names[seed % len(names) :] + names:
        with name.open(newline="") as stream:
            beats = [float(row["seconds"]) for row in csv.DictReader(stream) if row["kind"] == "beat"]
        dice = random.Random(seed)
        beats = [beat + dice.uniform(-GRID, GRID) for beat in beats]
        smooth = [statistics.fmean(beats[max(0, n - 1) : n + 2]) for n in range(1, len(beats) - 1)]
        usual = statistics.median(b - a for a, b in pairwise(smooth))
        periods = [(b - a) / usual for a, b in pairwise(smooth)]
        if max(abs(math.log(b / a)) for a, b in pairwise(periods)) < JUMP and len(periods) > LONG:
            return [*periods, *reversed(periods)]
    return None


def takes(
    data: Path | None, half: str, parts: str, many: int, *, drawn: bool = False
) -> Iterator[tuple[str, Chart, FaultyTake, Ways]]:
    """Takes of every chart of a half by players of some parts."""
    for path in charts(data, half):
        chart = load(path)
        form = chart.unfold()
        if not form.melody or len(form.bars) not in BARS:
            continue
        for take in range(many):
            seed = zlib.crc32(f"{path.stem} {parts} {half} {take}".encode())
            tempo = random.Random(seed).uniform(*TEMPI)
            periods = recorded_periods(data, half, seed)
            ways = drawn_ways(random.Random(seed + 1)) if drawn else USUAL
            made = faulty(
                form, parts.split(","), kinds=KINDS[parts], tempo=tempo, seed=seed, periods=periods, ways=ways
            )
            name = f"{path.stem}-{take} {tempo:.0f}{'' if periods is None else ' recorded'}"
            yield f"{name} {astuple(ways)[:-1]}" if drawn else name, chart, made, ways


def hits(fault: Fault, findings: Sequence[Finding]) -> list[Finding]:
    """The findings that tell a fault."""
    return [one for one in findings if one.what == fault.what and fault.first <= one.bar <= fault.last]


def scored(
    score: Score, take: FaultyTake, findings: Sequence[Finding], bars: int, ways: Ways | None = None
) -> list[str]:
    """Count a take; lines about what was missed and what was invented."""
    said = []
    near: set[int] = set()
    for fault in take.faults:
        kind = f"{fault.what} {ways.of(fault.what)}" if ways else fault.what
        score.planted[kind] += 1
        back = ways is not None and ways.of(fault.what) == "made good"
        near |= set(range(fault.first, fault.last + 1 + back))
        if hits(fault, findings):
            score.found[kind] += 1
        else:
            others = [f"{one.what}@{one.bar}" for one in findings if fault.first - 1 <= one.bar <= fault.last + 1]
            said.append(f"  missed {fault.what} in {fault.first} at {fault.at:g}; there: {' '.join(others)}")
    for one in findings:
        if one.bar not in near:
            score.invented[one.what] += 1
            said.append(f"  invented {one.what} in {one.bar} ({one.figure}): {one.text}")
    score.bars += bars
    return said


def main() -> None:
    """Measure and print a table."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("data", type=Path, nargs="?")
    words.add_argument("--half", choices=("tuned", "aside"), default="tuned")
    words.add_argument("--parts", choices=tuple(KINDS))
    words.add_argument("--takes", type=int, default=1)
    words.add_argument("--every", type=int, default=1, help="only every so many charts")
    words.add_argument("--ways", choices=("usual", "drawn"), default="usual", help="what each fault is taken to be")
    words.add_argument("--counted", action="store_true", help="the players were counted in")
    words.add_argument("--show", action="store_true", help="say what was missed and what was invented")
    asked = words.parse_args()
    for parts in [asked.parts] if asked.parts else KINDS:
        score = Score()
        drawn = asked.ways == "drawn"
        for n, (name, chart, take, ways) in enumerate(takes(asked.data, asked.half, parts, asked.takes, drawn=drawn)):
            if n % asked.every:
                continue
            settings = Settings(you=frozenset(parts.split(",")))
            if asked.counted:
                start = next(seconds for beat, seconds in take.beats if beat == 0)
                settings = replace(settings, tempo=take.tempo, start=start, count_in=1)
            form = chart.unfold()
            found = review(form, align(chart, settings, take.heard), settings.you, take.heard)
            said = scored(score, take, found.findings, len(form.bars), ways if drawn else None)
            if asked.show and said:
                print(name, *said, sep="\n", flush=True)
        print(f"\n{parts} ({asked.half})")
        for kind in sorted(score.planted):
            good, planted = score.found[kind], score.planted[kind]
            print(f"  {kind:25} {good:4}/{planted:4}  {good / planted:.3f}")
        every, found_all = sum(score.planted.values()), sum(score.found.values())
        wrong = sum(score.invented.values())
        print(f"  {'all':25} {found_all:4}/{every:4}  {found_all / max(every, 1):.3f}")
        print(f"  invented {wrong} in {score.bars} bars: {20 * wrong / max(score.bars, 1):.2f} in 20;",
              ", ".join(f"{kind} {count}" for kind, count in score.invented.most_common()), flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
