"""A companion that runs in a process of its own, and what it says; a tune for it, and something plain to play."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

CHART = '''
format = 1
title = "Back Stairs"
key = "C minor"
metre = "4/4"
tempo = 200
feel = "swing"
form = "A"

[section.A]
treatment = "walking"
chords = """
| Cm7 | Fm7    | Dm7b5    | G7  |
| Cm7 | Abmaj7 | Dm7b5 G7 | Cm6 |
"""
melody = """
| G2 e2 d2 c2 | B2 A2 G4 | F2 A2 c2 d2 | B8 |
| G2 e2 d2 c2 | e2 c2 A4 | F2 A2 G2 B2 | c8 |
"""
'''
MELODY = [67, 75, 74, 72, 71, 68, 67, 0, 65, 68, 72, 74, 71, 0, 0, 0]
MELODY += [67, 75, 74, 72, 75, 72, 68, 0, 65, 68, 67, 71, 72, 0, 0, 0]
"""The chart's melody, a MIDI number a beat; 0 where a note is held."""
BEAT = 60 / 200

METRONOMIC = """
from companion.messages import Beat, Order, State, Step

class Metronomic:
    def __init__(self, times=1):
        self.next, self.on, self.times = 0.3, None, times
    def advance(self, now, events):
        orders, reports = [], []
        while self.next - 0.02 <= now:
            orders += [Order(self.next, "bass", 0x80, self.on, 64)] if self.on else []
            self.on = 41 if self.on == 40 else 40
            orders.append(Order(self.next, "bass", 0x90, self.on, 90))
            reports += [Beat(round(5 * self.next) % 32, self.next, 0.9)] * self.times
            self.next += 0.2
        return Step(tuple(orders), tuple(reports), self.next - 0.02)
    def prepare(self, chorus):
        pass
    def finish(self, now):
        return Step((Order(now + 0.02, "bass", 0x80, self.on or 40, 64),), (State(now, "ended"),), None)
"""
"""Plays a bass note every fifth of a second from the start, whatever it hears, and reports each beat so many times."""

STAND_IN = f"""
import sys
from pathlib import Path
from companion.load import load
from companion.errors import CompanionError
from companion.stage.live import play
from companion.stage.settings import Settings
{METRONOMIC}
try:
    play(load(Path(sys.argv[1])), Settings(), rehearsal=Metronomic())
except KeyboardInterrupt:
    sys.exit(130)
except CompanionError as error:
    print(f"companion: {{error}}", file=sys.stderr)
    sys.exit(error.exit_status)
"""
"""A program that plays it to the end, or until Ctrl-C."""


def wait_for(condition, seconds=15.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


class Running:
    """A companion that plays, and what it says."""

    def __init__(self, words: list[str], data: Path):
        self.data = data
        self.process = subprocess.Popen(
            [sys.executable, *words],
            env={**os.environ, "COMPANION_DATA": str(data), "TMPDIR": str(data.parent)},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.said = ""
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def _listen(self):
        for line in self.process.stderr:
            self.said += line

    def hears(self, *texts: str) -> bool:
        return wait_for(lambda: all(text in self.said for text in texts))

    def signal(self, number: int) -> None:
        self.process.send_signal(number)

    def sender(self) -> int:
        """Process number of its sender."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        return int(children[0])

    def ends(self) -> int:
        """Wait for its end: the exit status."""
        status = self.process.wait(20)
        self._listener.join(5)
        self.account = self.process.stdout.read()
        assert "Traceback" not in self.said + self.account
        return status

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self._listener.join(5)
        self.process.stdout.close()
        self.process.stderr.close()


def in_thread(function, *arguments):
    thread = threading.Thread(target=function, args=arguments, daemon=True)
    thread.start()
    return thread
