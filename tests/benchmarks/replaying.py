"""What a heard note costs, and how fast a recording is replayed, for charts of 32, 128 and 512 bars.

    python tests/benchmarks/replaying.py [CHART] [--you LIST]

The built-in player plays a minute and a half of the chart, whose form is repeated until it has that many bars. Printed
are the milliseconds of processor time that the rehearsal takes for a note (median, 99th percentile, most), and how many
times faster than real time the whole recording is replayed, by the clock. The ratio to the shortest chart shows what a
longer one costs, whatever else the machine does.
"""

from __future__ import annotations

import argparse
import statistics
import time
from dataclasses import replace

from companion.chart.load import load
from companion.chart.model import Chart
from companion.messages import Heard
from companion.ports.demo import Played, simulate
from companion.resources import chart_path
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

BARS = (32, 128, 512)
SECONDS = 90.0
"""How much of a performance is played."""


def of_length(chart: Chart, bars: int) -> Chart:
    """The chart with its form repeated until it has so many bars."""
    return replace(chart, form=chart.form * -(-bars // len(chart.unfold().bars)))


def run(chart: Chart, played: Played, you: frozenset[str]) -> tuple[list[float], float]:
    """Milliseconds for each note, and how many times faster than real time the whole was."""
    settings = Settings(you=you, tempo=played.tempo, start=played.start)
    rehearsal = Rehearsal(chart, settings)
    heard: list[Heard] = [event for event in played.heard if event.seconds < SECONDS]
    costs = []
    began = time.perf_counter()
    for event in heard:
        rehearsal.advance(event.seconds, [])  # what is due before it is not the note's cost
        before = time.thread_time()
        rehearsal.advance(event.seconds, [event])
        if event.is_note_on:
            costs.append(1000 * (time.thread_time() - before))
    return costs, heard[-1].seconds / (time.perf_counter() - began)


def main() -> None:
    """Run each length and print a row."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("chart", nargs="?", default="ferry-without-lights")
    parser.add_argument("--you", default="melody")
    args = parser.parse_args()
    you = frozenset(args.you.split(","))
    chart = load(chart_path(args.chart))
    print(f"{'bars':>6}{'notes':>8}{'median ms':>12}{'p99 ms':>10}{'most ms':>10}{'ratio':>8}{'x real time':>14}")
    first = None
    for bars in BARS:
        longer = of_length(chart, bars)
        costs, speed = run(longer, simulate(longer.unfold(), you, manner="human", seed=1), you)
        median = statistics.median(costs)
        first = first or median
        p99 = sorted(costs)[int(0.99 * len(costs))]
        print(f"{bars:6}{len(costs):8}{median:12.2f}{p99:10.2f}{max(costs):10.2f}{median / first:8.1f}{speed:14.0f}")


if __name__ == "__main__":
    main()
