"""What an event costs, how fast a recording is replayed, and what a start costs, for charts of 32, 128 and 512 bars.

    python tests/benchmarks/event_cost.py [CHART] [--you LIST] [--seconds 90] [--strict]

The built-in player plays the first seconds of the chart, whose form is repeated until it has that many bars (so that
many places are alike, which is the dearest case). A row a length, in milliseconds of processor time but for the last:

========  ============================================================================================================
follow    what a note costs the follower alone: median and 99th percentile
note      what it costs the whole rehearsal, which gives its orders too: median, 99th percentile, most
due       what falls due by itself between two notes (beats, cues, endings): 99th percentile
start     a rehearsal made from a chart, until the first event may come
arrange   one chorus of each part that the companion plays, once the rehearsal has started
ratio     the median of ``note`` against that of the shortest chart
x real    how many times faster than real time the whole was replayed, by the clock
========  ============================================================================================================

A note should cost 1 ms at most at 128 bars and 2 ms at 512 (99th percentile; the aim is 0.6 and 1 ms): an order is
given 10 ms ahead, and the sender shares the machine. ``--strict`` ends with status 1 where that isn't so.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from following import machine

from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Chart
from companion.follow.follower import Follower
from companion.load import load
from companion.messages import Heard
from companion.pianist.player import SimulatedPerformance, simulate
from companion.resources import chart_path
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

LENGTHS = (32, 128, 512)
"""Bars."""
AT_MOST = {128: 1.0, 512: 2.0}
"""Milliseconds, 99th percentile of a note's cost to the rehearsal, by bars."""


@dataclass(frozen=True)
class Costs:
    """Milliseconds of processor time by event, and of the start; how many times faster than real time."""

    follow: list[float]
    note: list[float]
    due: list[float]
    start: float
    arrange: float
    speed: float


def of_length(chart: Chart, bars: int) -> Chart:
    """The chart with its form repeated until it has so many bars."""
    return replace(chart, form=chart.form * -(-bars // len(chart.unfold().bars)))


def timed(work: Callable[[], object]) -> float:
    """Milliseconds of this thread's processor time."""
    before = time.thread_time()
    work()
    return 1000 * (time.thread_time() - before)


def alone(chart: Chart, played: SimulatedPerformance, you: frozenset[str], heard: Sequence[Heard]) -> list[float]:
    """What each note costs the follower."""
    follower = Follower(chart.unfold(), you, tempo=played.tempo, start=played.start)
    return [timed(lambda e=event: follower.hear(e.seconds, e.data1, e.data2)) for event in heard if event.is_note_on]


def measured(chart: Chart, you: frozenset[str], seconds: float) -> Costs:
    """Play the chart, and take the time of everything."""
    played = simulate(chart.unfold(), you, manner="human", seed=1)
    heard = [event for event in played.heard if event.seconds < seconds]
    parts = tuple(part for part in ("melody", "chords", "bass") if part not in you)
    settings = Settings(you=you, parts=parts, tempo=played.tempo, start=played.start)
    made: list[Rehearsal] = []
    start = timed(lambda: made.append(Rehearsal(chart, settings)))
    rehearsal, note, due = made[0], [], []
    form = rehearsal.form
    arranging = sum(timed(lambda p=part: arrange(form, p, Request(chorus=1, seed=7, player=you))) for part in parts)
    began = time.perf_counter()
    for event in heard:
        due.append(timed(lambda e=event: rehearsal.advance(e.seconds, [])))
        cost = timed(lambda e=event: rehearsal.advance(e.seconds, [e]))
        if event.is_note_on:
            note.append(cost)
    speed = heard[-1].seconds / (time.perf_counter() - began)
    return Costs(alone(chart, played, you, heard), note, due, start, arranging, speed)


def percentile(values: Sequence[float], share: float) -> float:
    """The value below which that share of them lies."""
    return sorted(values)[min(int(share * len(values)), len(values) - 1)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("chart", nargs="?", default="ferry-without-lights", metavar="CHART")
    parser.add_argument("--you", default="melody", metavar="LIST", help="the player's parts (default: melody)")
    parser.add_argument("--seconds", type=float, default=90.0, help="how much is played (default 90)")
    parser.add_argument("--strict", action="store_true", help="exit status 1 when a note costs too much")
    options = parser.parse_args()
    you, chart = frozenset(options.you.split(",")), load(chart_path(options.chart))
    heads = ["bars", "notes", "follow", "p99", "note", "p99", "most", "due p99", "start", "arrange", "ratio", "x real"]
    print(*(f"{head:>8}" for head in heads))
    shortest, dear = None, False
    for bars in LENGTHS:
        c = measured(of_length(chart, bars), you, options.seconds)
        middle, p99 = statistics.median(c.note), percentile(c.note, 0.99)
        shortest = shortest or middle
        dear |= p99 > AT_MOST.get(bars, p99)
        numbers = [statistics.median(c.follow), percentile(c.follow, 0.99), middle, p99, max(c.note)]
        numbers += [percentile(c.due, 0.99), c.start, c.arrange, middle / shortest]
        print(f"{bars:8} {len(c.note):8}", *(f"{x:8.2f}" for x in numbers), f"{c.speed:8.0f}", flush=True)
    print(f"{time.strftime('%Y-%m-%d')}, {machine()}")
    return 1 if dear and options.strict else 0


if __name__ == "__main__":
    try:
        raise SystemExit(main())
    except KeyboardInterrupt:
        raise SystemExit(130) from None
