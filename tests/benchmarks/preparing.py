"""Whom arranging ahead keeps waiting: ``python tests/benchmarks/preparing.py [SECONDS] [ROUNDS]``.

A loop as in the player process wakes every few milliseconds, with real-time priority where it is granted, as choruses
are arranged in a thread beside it; another program without that priority, such as a sound server, wakes every 1.33 ms.
By how much are they late, with nothing arranged, with a chorus arranged in one piece at the loop's priority or at an
ordinary one, and in bites at either? On a free machine and with every core kept busy. Milliseconds; of several rounds,
taken by turns, the median of each figure.
"""

from __future__ import annotations

import json
import os
import random
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from queue import Empty, SimpleQueue
from threading import Event, Thread

from companion.load import load
from companion.resources import shipped_folder
from companion.stage.ahead import in_slices
from companion.stage.clock import now
from companion.stage.loop import PRIORITY
from companion.stage.priority import ask_for_priority, give_priority_back
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

CHART = "twelve-front-doors"
APART = 0.1
"""Seconds between two choruses: much more often than anybody plays one."""
BUSY = "while True: sum(range(1000))"
OUTSIDER = """
import json, sys, time
late, moment, end = [], time.perf_counter(), time.perf_counter() + float(sys.argv[1])
while moment < end:
    moment = max(moment + 64 / 48000, time.perf_counter())
    time.sleep(max(0.0, moment - time.perf_counter()))
    late.append(time.perf_counter() - moment)
print(json.dumps(late))
"""
WAYS = {
    "nothing": None,
    "one piece, real-time": (True, False),
    "one piece, ordinary": (False, False),
    "bites, real-time": (True, True),
    "bites, ordinary": (False, True),
}
"""Real-time priority, and bites."""


def main(seconds: float = 5.0, rounds: int = 3) -> None:
    if ask_for_priority(PRIORITY) is None:
        print("real-time priority is refused here: all are ordinary")
    give_priority_back((os.SCHED_OTHER, 0))
    sys.setswitchinterval(0.0005)
    print(f"{'':32}{'the loop: p99':>14}{'worst':>8}{'the other: p99':>16}{'worst':>8}{'choruses':>10}   (ms late)")
    for busy in (0, os.cpu_count() or 1):
        found: dict[str, list[tuple[float, ...]]] = {way: [] for way in WAYS}
        for _ in range(rounds):
            for way in WAYS:
                with working(busy):
                    found[way].append(measure(way, seconds))
        for way, figures in found.items():
            middle = [statistics.median(column) for column in zip(*figures, strict=True)]
            name = f"{'cores busy' if busy else 'free'}: {way}"
            print(f"{name:32}{middle[0]:14.2f}{middle[1]:8.1f}{middle[2]:16.2f}{middle[3]:8.1f}{middle[4]:10.0f}")


def measure(way: str, seconds: float) -> tuple[float, ...]:
    rehearsal = Rehearsal(load(shipped_folder() / "charts" / f"{CHART}.toml"), Settings(tempo=120.0, start=2.0))
    over, done = Event(), [0]
    beside = Thread(target=arrange, args=(rehearsal, WAYS[way], over, done))
    beside.start()
    outsider = subprocess.Popen([sys.executable, "-c", OUTSIDER, str(seconds)], stdout=subprocess.PIPE, text=True)
    late = loop(seconds)
    over.set()
    outside = json.loads(outsider.communicate()[0])
    beside.join()
    return (*_p99_and_worst(late), *_p99_and_worst(outside), done[0])


def loop(seconds: float) -> list[float]:
    """Wake at moments between 2 and 12 ms apart and work for half a millisecond; by how much each was late."""
    dice, inbox, late = random.Random(1), SimpleQueue[None](), []
    before, end = ask_for_priority(PRIORITY), now() + seconds
    while now() < end:
        moment = now() + dice.uniform(0.002, 0.012)
        try:
            inbox.get(timeout=moment - now())
        except Empty:
            late.append(now() - moment)
        until = now() + 0.0005
        while now() < until:
            sorted(range(20))
    give_priority_back(before)
    return late


def arrange(rehearsal: Rehearsal, way: tuple[bool, bool] | None, over: Event, done: list[int]) -> None:
    if way is None:
        return
    realtime, bites = way
    if realtime:
        ask_for_priority(PRIORITY)
    chorus = 1
    while not over.wait(APART):
        if bites:
            in_slices(rehearsal.prepare(chorus))
        else:
            rehearsal.prepare(chorus)()
        chorus += 1
        done[0] += 1


def _p99_and_worst(late: list[float]) -> tuple[float, float]:
    ordered = sorted(late)
    return 1000 * ordered[int((len(ordered) - 1) * 0.99)], 1000 * ordered[-1]


@contextmanager
def working(programs: int) -> Iterator[None]:
    """So many other programs that never rest."""
    others = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(programs)]
    time.sleep(0.2)
    try:
        yield
    finally:
        for other in others:
            other.kill()
            other.wait()


if __name__ == "__main__":
    main(*(kind(word) for kind, word in zip((float, int), sys.argv[1:], strict=False)))
