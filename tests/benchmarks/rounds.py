"""How surely a drill tells a good round from a bad one: seeded players over all charts, tempi and ways to keep time.

    python tests/benchmarks/rounds.py --rounds 400

Each player is told when a round begins and how fast, and plays it cleanly (a touch of 8 ms, and of 15), with one wrong
note, without one bar, with a hesitation of 0.9 s, or with one note a beat's third late. Printed is how many of each
were called good, and examples of what was said of the others.
"""

from __future__ import annotations

import argparse
import random
from collections import defaultdict

from companion.load import load
from companion.practice.drill import Drill
from companion.practice.request import Said, drill_request
from companion.resources import chart_names, chart_path
from tests.practice.conftest import RoundPlayer, Slips, go_through

FAULTS = ("clean", "clean-15", "wrong", "bar missing", "hesitation", "late note")


def slips_for(fault: str, rng: random.Random, drill: Drill) -> Slips:
    """What goes wrong in a round."""
    form, way_in = drill.round.passage.chart.unfold(), drill.round.passage.way_in
    inside = [note for note in form.melody if note.beat >= way_in]
    one = rng.randrange(len(inside))
    match fault:
        case "wrong":
            return Slips(wrong=frozenset({one}))
        case "bar missing":
            bar = form.bar_at(inside[one].beat)
            return Slips(missing=frozenset(n for n, note in enumerate(inside) if form.bar_at(note.beat) == bar))
        case "hesitation":
            return Slips(hesitates={one: 0.9})
        case "late note":
            off = max(0.15, 60 / drill.round.tempo / 3)
            return Slips(hesitates={one: off, one + 1: -off})
    return Slips()


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    rng = random.Random(asked.seed)
    counts: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    said: dict[tuple[str, str], list[str]] = defaultdict(list)
    for number in range(asked.rounds):
        chart = load(chart_path(rng.choice(chart_names())))
        form = chart.unfold()
        if not form.melody:
            continue
        first = rng.randint(1, max(1, len(form.bars) - 4))
        bars = (first, min(first + rng.choice((1, 3, 7)), len(form.bars)))
        time = rng.choice(("follow", "steady", "patient"))
        tempo = rng.choice((40, 60, 80, 100, 120, 160, 200))
        for fault in FAULTS:
            drill = Drill(
                chart,
                drill_request(
                    chart, bars, Said(you=frozenset({"melody"}), start=tempo, goal=tempo, time=time, click="all")
                ),
            )
            if not [n for n in drill.round.passage.chart.unfold().melody if n.beat >= drill.round.passage.way_in]:
                break
            player = RoundPlayer(seed=number, touch=0.015 if fault == "clean-15" else 0.008)
            go_through(drill, player.plays(drill.round, slips_for(fault, rng, drill)))
            verdict = drill.rounds[0].verdict
            good = verdict is not None and verdict.good
            counts[time, fault][0] += good
            counts[time, fault][1] += 1
            if good != fault.startswith("clean"):
                why = verdict.why if verdict else "?"
                said[time, fault].append(f"{chart.title} {bars} at {tempo}, seed {number}: {why}")
    for (time, fault), (good, many) in sorted(counts.items()):
        print(f"{time:8} {fault:12} {good:4} of {many} good")
    for (time, fault), lines in sorted(said.items()):
        for line in lines[:6]:
            print(f"  {time} {fault}: {line}")


if __name__ == "__main__":
    main()
