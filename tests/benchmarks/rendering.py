"""How fast a performance becomes a WAV: ``python tests/benchmarks/rendering.py [ROUNDS]``.

The built-in player's melody, and a bass and chords of its own making, over two choruses; by the small synthesiser and,
where it is installed, by FluidSynth, in turn. Printed is how many times faster than real time, as a distribution.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

from companion.errors import DeviceError
from companion.load import load
from companion.messages import Order
from companion.pianist.player import simulate
from companion.ports.sound import find_program, find_soundfont
from companion.ports.wav import render
from companion.resources import chart_path


def main(rounds: int = 5) -> None:
    form = load(chart_path("ferry-without-lights")).unfold()
    heard = simulate(form, "melody", choruses=2).heard
    orders = [
        Order(h.seconds, part, h.status, h.data1, h.data2)
        for part in ("bass", "chords")
        for h in simulate(form, part, manner="clean", choruses=2).heard
    ]
    seconds = max(m.seconds for m in (*heard, *orders))
    names = ["small"]
    try:
        find_program()
        find_soundfont()
        names.append("fluidsynth")
    except DeviceError as error:
        print(f"without FluidSynth: {error}")
    speed: dict[str, list[float]] = {name: [] for name in names}
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(rounds):
            for name in names:
                began = time.perf_counter()
                render(Path(folder, "out.wav"), heard, orders, synthesiser=name)
                speed[name].append(seconds / (time.perf_counter() - began))
    print(f"{'times real time':16}{'median':>8}{'slowest':>9}   ({rounds} rounds of {seconds:.0f} s)")
    for name, values in speed.items():
        print(f"{name:16}{statistics.median(values):8.0f}{min(values):9.0f}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
