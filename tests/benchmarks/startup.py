"""How long the commands take that should answer at once, as a distribution beside that of an empty Python.

    python tests/benchmarks/startup.py [RUNS]

Each round starts an empty Python, then each command, so that whatever else the machine does falls on all alike. Printed
are median and 99th percentile in milliseconds, and the median's ratio to the empty Python's.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

COMMANDS = {
    "python -c pass": ["-c", "pass"],
    "companion --version": ["-m", "companion", "--version"],
    "companion --help": ["-m", "companion", "--help"],
    "companion replay --help": ["-m", "companion", "replay", "--help"],
}


def milliseconds(words: list[str]) -> float:
    """Time one start, to its exit."""
    began = time.perf_counter()
    subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=True)
    return 1000 * (time.perf_counter() - began)


def main(runs: int) -> None:
    """Run all commands in turn, and print a row each."""
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(runs):
        for name, words in COMMANDS.items():
            times[name].append(milliseconds(words))
    empty = statistics.median(times["python -c pass"])
    print(f"{'':24}{'median ms':>10}{'p99 ms':>10}{'ratio':>8}   ({runs} runs)")
    for name, values in times.items():
        p99 = sorted(values)[min(len(values) - 1, int(0.99 * len(values)))]
        median = statistics.median(values)
        print(f"{name:24}{median:10.0f}{p99:10.0f}{median / empty:8.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
