"""What a take costs over a long evening: ``python tests/benchmarks/long_take.py [HOURS]`` (default 8).

A take of so many hours of dense playing is kept, in virtual time, as fast as it is written: ten messages a second of
the player's, ten of the companion's, three beats. Printed an hour: how much memory the process has, and how much more
than after the first ten minutes; then how long closing takes, and how long completing the same take after a crash.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from companion.load import load
from companion.messages import Beat, Heard, Order
from companion.resources import chart_path
from companion.stage.journal import JOURNAL, TakeEvent
from companion.stage.recovery import recover
from companion.stage.settings import Settings
from companion.stage.take_files import MIDI, takes_folder
from companion.stage.take_writer import TakeWriter


def main(hours: float = 8.0) -> None:
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        writer = TakeWriter(load(chart_path("ferry-without-lights")), Settings(), data)
        print(f"{'played':>10}{'resident':>12}{'more':>10}   (MB)")
        first, look, count = None, 600.0, 0
        for event in evening(hours * 3600):
            writer.add(event)
            count += 1
            if count % 500 == 0:
                written(writer)  # no more waits for the disk than at a piano
            if event.seconds >= look:
                written(writer)
                now = resident()
                first = first or now
                print(f"{event.seconds / 3600:8.2f} h{now:12.1f}{now - first:10.1f}")
                look = max(3600.0, look + 3600.0) if look > 600 else 3600.0
        written(writer)
        [journal] = data.rglob(JOURNAL)
        crashed = takes_folder(data / "crashed") / "crashed"
        crashed.mkdir(parents=True)
        shutil.copy(journal, crashed)
        began = time.perf_counter()
        folder_of_take = writer.close("ended")
        took = time.perf_counter() - began
        print(f"closing: {took:.2f} s for {count} events, {size(folder_of_take)} bytes of MIDI")
        began = time.perf_counter()
        recover(data / "crashed")
        print(f"completing it after a crash: {time.perf_counter() - began:.2f} s")


def evening(seconds: float) -> Iterator[TakeEvent]:
    """Events in order of time."""
    for tenth in range(10, int(10 * seconds)):
        at, key = tenth / 10, 40 + tenth // 2 % 40
        on = 0x90 if tenth % 2 == 0 else 0x80
        yield Heard(at, on, key + 12, 80)
        yield Order(at + 0.03, "bass", on, key, 80)
        if tenth % 10 in (0, 3, 6):
            yield Beat(tenth / 10 * 3 % 128, at + 0.05, 0.9)


def size(folder: Path | None) -> int:
    """Bytes of the take's recording; it is an error that there is none."""
    assert folder is not None
    return (folder / MIDI).stat().st_size


def written(writer: TakeWriter) -> None:
    """Wait until everything is on the disk."""
    while not writer._queue.empty():
        time.sleep(0.001)


def resident() -> float:
    """Megabytes that the process has in memory (Linux, /proc)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
