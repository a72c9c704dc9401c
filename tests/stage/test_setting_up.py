"""Setting up over real ports: the piano is another program, the time is real."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

import pytest

from companion.errors import DeviceError
from companion.ports.instruments import read_instruments
from companion.ports.setup.desk import Typed
from companion.preferences import preferences
from companion.preferences.reading import forget
from companion.preferences.voicings import VoicingPreferences
from companion.stage.setting_up import SetupItem, set_up

if TYPE_CHECKING:
    Piano = Any

pytestmark = pytest.mark.jack
ECHO = 0.012
"""Seconds after which the piano returns what it gets."""
REQUEST = [0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7]
REPLY = [0xF0, 0x7E, 0x00, 0x06, 0x02, 0x7D, 0x02, 0x01, 0x05, 0x00, 1, 0, 0, 2, 0xF7]
"""MIDI 1.0, Universal System Exclusive: who are you, and an answer (7D: no maker's number)."""


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    forget()
    yield tmp_path
    forget()


def wait_for(condition: Callable[[], object], seconds: float = 20.0) -> bool:
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.005)
    return bool(condition())


class Pianist:
    """Plays what the lines ask for, and answers when a note of the companion's is heard."""

    def __init__(self, piano: Piano, inbox: SimpleQueue[SetupItem]):
        self.lines: list[str] = []
        self._piano, self._inbox = piano, inbox
        self._heard, self._answered, self._over = 0, 0.0, threading.Event()
        self._ear = threading.Thread(target=self._listen, daemon=True)
        self._ear.start()

    def say(self, line: str) -> None:
        self.lines.append(line)
        asked: dict[str, Callable[[], None]] = {
            "Press any key": lambda: self._press(60),
            "lowest key": lambda: (self._press(21), time.sleep(0.3), self._press(108)),  # type: ignore[func-returns-value]
            "each pedal": self._pedal,
            "Low notes": lambda: self._inbox.put(Typed(0.0, "")),
            "Clicks": lambda: self._inbox.put(Typed(0.0, "")),
            "just wait": lambda: self._inbox.put(Typed(0.0, "")),
            "Left hand:": lambda: self._press(40, 47, 52),
            "Right hand:": lambda: self._press(60, 67, 74),
            "Keep this?": lambda: self._press(60),
        }
        for words, act in asked.items():
            if words in line:
                threading.Timer(0.4, act).start()

    def close(self) -> None:
        self._over.set()
        self._ear.join()

    def _press(self, *keys: int) -> None:
        for key in keys:
            self._piano.play(0x90, key, 70)
        time.sleep(0.3)
        for key in keys:
            self._piano.play(0x80, key, 64)

    def _pedal(self) -> None:
        for value in (10, 60, 127, 0):
            self._piano.play(0xB0, 64, value)
            time.sleep(0.03)

    def _listen(self) -> None:
        """Return what comes, and answer a note now and then."""
        while not self._over.wait(0.001):
            for moment, message in self._piano.received[self._heard :]:
                while time.perf_counter() < moment + ECHO:
                    time.sleep(0.0005)
                self._heard += 1
                self._piano.play(*(REPLY if message == REQUEST else message))
                if message[0] == 0x90 and message[2] and moment > self._answered + 5:
                    self._answered = moment
                    threading.Timer(0.5, self._press, (55,)).start()


def test_a_piano_is_set_up_over_real_ports_and_kept(instrument: Callable[[str], Piano], own_folder: Path) -> None:
    piano, inbox = instrument("upright"), SimpleQueue[SetupItem]()
    pianist = Pianist(piano, inbox)
    try:
        assert set_up(pianist.say, inbox, "jack")
    finally:
        pianist.close()
    instruments = read_instruments()
    assert (instruments.input, instruments.listen) == ("upright:keys", {1})
    assert (instruments.lowest_key, instruments.highest_key) == (21, 108)
    assert (instruments.pedals, instruments.half_pedal) == ((64,), True)
    text = "\n".join(pianist.lines)
    assert preferences(VoicingPreferences).hand.span == 12, text
    assert "sends back what it gets" in text
    measured = re.search(r"MIDI takes ([\d.]+) ms there and back", text)
    assert measured and float(measured[1]) >= 1000 * ECHO
    assert "manufacturer 7D, family 130, member 5, version 1.0.0.2" in text
    assert not piano.sounding()


def test_a_piano_that_is_unplugged_ends_it_in_one_line(instrument: Callable[[str], Piano], own_folder: Path) -> None:
    piano = instrument("upright")

    def say(line: str) -> None:
        if "Press any key" in line:
            piano.play(0x90, 60, 70)
        if "lowest key" in line:
            piano.close()

    with pytest.raises(DeviceError, match="went away; nothing is changed"):
        set_up(say, midi="jack")
    assert not list(own_folder.glob("configs/*"))


@pytest.mark.parametrize(
    ("end", "status"), [(signal.SIGINT, 130), pytest.param(signal.SIGKILL, -signal.SIGKILL, marks=pytest.mark.slow)]
)
def test_an_end_in_the_midst_of_a_note_leaves_nothing_sounding_and_nothing_written(
    instrument: Callable[[str], Piano], own_folder: Path, end: signal.Signals, status: int
) -> None:
    piano = instrument("upright")
    words = [sys.executable, "-m", "companion", "setup", "--midi", "jack"]
    environment = {**os.environ, "COMPANION_DATA": str(own_folder), "PYTHONUNBUFFERED": "1"}
    running = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment)
    assert running.stdout
    for line in running.stdout:
        if "Press any key" in line:
            piano.play(0x90, 60, 70)
            piano.play(0x80, 60, 64)
        if "lowest key" in line:
            for key in (21, 108):
                piano.play(0x90, key, 70)
                piano.play(0x80, key, 64)
        if "each pedal" in line:
            piano.play(0xB0, 64, 127)
            piano.play(0xB0, 64, 0)
        if "hear them" in line:
            break
    assert wait_for(piano.sounding)
    running.send_signal(end)
    _, complaint = running.communicate(timeout=20)
    assert (running.returncode, complaint.strip()) == (status, "")
    assert wait_for(lambda: not piano.sounding())
    assert not list(own_folder.glob("configs/*"))
