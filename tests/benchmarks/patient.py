"""How soon the companion goes on with a player for whom it waits, and whether a wrong note moves it on.

    python tests/benchmarks/patient.py --tunes 20

Seeded players at 40 to 60 quarters a minute hesitate before every third melody note on a beat, for 0.5 to 3 s. Some try
wrong keys meanwhile; some leave the note out on purpose and go on with the next. Printed: milliseconds from the right
note to the beat that waited for it; how often a wrong key moved it on; and, of notes left out, how long after the next
right note it went on.
"""

from __future__ import annotations

import argparse
import random
import statistics
from dataclasses import dataclass, field

from companion.chart.model import Chart
from companion.load import load
from companion.messages import Beat, Heard
from companion.resources import chart_names, chart_path
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

LATENCY = 0.010
COUNT_IN = 1


@dataclass
class Waits:
    """What was measured."""

    right: list[float] = field(default_factory=list)
    """Seconds from the right note to the beat that waited for it."""
    moved_by_wrong: int = 0
    wrong: int = 0
    skipped: list[float] = field(default_factory=list)
    """Seconds from the note after one left out to its beat."""


def play(chart: Chart, seed: int, waits: Waits) -> None:
    """One player, once through the form."""
    rng = random.Random(seed)
    form = chart.unfold()
    tempo = rng.choice((40.0, 50.0, 60.0))
    quarter = 60 / tempo
    start = 1.0 + COUNT_IN * float(form.metre.bar) * quarter
    settings = Settings(time="patient", tempo=tempo, start=start, count_in=COUNT_IN, choruses=1, latency=LATENCY)
    rehearsal = Rehearsal(chart, settings)
    beats: list[Beat] = []

    def go_on(until: float, *events: Heard) -> None:
        beats.extend(r for r in rehearsal.advance(until, list(events)).reports if isinstance(r, Beat))

    def strike(at: float, midi: int) -> None:
        go_on(at, Heard(at, 0x90, midi, 70))
        go_on(at + 0.08, Heard(at + 0.08, 0x80, midi, 0))

    now, last_beat = start, 0.0
    left_out = False
    for number, note in enumerate(form.melody):
        beat = float(note.beat)
        if beat < 0:
            continue
        now += (beat - last_beat) * quarter
        last_beat = beat
        on_beat = note.beat % form.metre.pulse == 0
        hesitates = on_beat and number % 3 == 2 and not left_out
        if hesitates:
            wait = rng.uniform(0.5, 3.0)
            if number % 2:
                tries = now + wait / 2
                go_on(tries - 0.001)
                before = len(beats)
                wrong = note.pitch.midi + rng.choice((-1, 1, 2, -2, 6))
                strike(tries, wrong)
                go_on(tries + min(0.3, wait / 3))
                waits.wrong += 1
                waits.moved_by_wrong += any(b.chart_beat >= beat - 1e-6 for b in beats[before:])
            if number % 5 == 0:
                left_out = True  # the next note comes in time
                continue
            now += wait
        strike(now, note.pitch.midi)
        go_on(now + 0.2 * quarter)
        mine = [b.seconds for b in beats if abs(b.chart_beat - beat) < 1e-6]
        if on_beat and left_out and mine:
            waits.skipped.append(mine[-1] - now)
        elif hesitates and mine:
            waits.right.append(mine[-1] - now)
        elif hesitates:
            waits.right.append(float("inf"))
        left_out = False


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tunes", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    waits = Waits()
    names = chart_names()
    for n in range(asked.tunes):
        chart = load(chart_path(names[n % len(names)]))
        if chart.unfold().melody:
            play(chart, asked.seed + n, waits)
    for what, found in (("right note", waits.right), ("after one left out", waits.skipped)):
        ms = sorted(1000 * seconds for seconds in found)
        p95 = ms[int(0.95 * (len(ms) - 1))]
        print(f"{what}: {len(ms)}, median {statistics.median(ms):.0f} ms, 95 % {p95:.0f} ms, worst {ms[-1]:.0f} ms, "
              f"first {ms[0]:.0f} ms")  # fmt: skip
    print(f"wrong keys: {waits.wrong}, of which {waits.moved_by_wrong} moved it on")


if __name__ == "__main__":
    main()
