"""Practising over real ports: what is drilled is in the records, whatever becomes of the companion, and once only."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.practice.records import Records
from companion.practice.taken_in import take_in
from tests.practice.days import a_round

pytestmark = pytest.mark.jack

CHART = """format = 1
title = "Back Stairs"
key = "C major"
metre = "4/4"
tempo = 200
form = "A"
[section.A]
treatment = "walking"
chords = "| C6 | G7 | C6 | G7 |"
melody = "| c2 d2 e2 g2 | f2 d2 B2 d2 | c2 e2 g2 e2 | d2 f2 B2 d2 |"
"""
FIRST_TWO_BARS = (72, 74, 76, 79, 77, 74, 71, 74)
BEAT = 60 / 200
LET_GO = 1.0
"""Seconds until JACK has let go of a client that was killed, and of the sender that outlives it for a moment."""


class Drilling:
    """A drill under way over JACK, and somebody who plays each round when it has been clicked in."""

    def __init__(self, data: Path, chart: Path, piano, *words: str) -> None:
        self.piano = piano
        drill = ("drill", str(chart), "--bars", "1-2", "--line")
        command = [sys.executable, "-m", "companion", *(words if words[0] == "today" else (*drill, *words))]
        self.process = subprocess.Popen(
            command,
            env={**os.environ, "COMPANION_DATA": str(data)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.said = ""
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def _listen(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            self.said += line

    def plays_a_round(self, heard: int) -> None:
        """The two bars, four beats after the next thing that sounds once so many notes have."""
        self.waits(lambda: len(self.piano.notes_on()) > heard)
        begin = time.perf_counter() + 4 * BEAT
        for n, note in enumerate(FIRST_TWO_BARS):
            time.sleep(max(0.0, begin + n * BEAT - time.perf_counter()))
            self.piano.play(0x90, note, 80)
            time.sleep(0.5 * BEAT)
            self.piano.play(0x80, note, 0)

    def waits(self, condition: Callable[[], bool], seconds: float = 20.0) -> None:
        end = time.monotonic() + seconds
        while not condition() and self.process.poll() is None and time.monotonic() < end:
            time.sleep(0.01)
        assert condition(), self.said

    def ends(self) -> str:
        self.process.wait(30)
        self._listener.join(5)
        return self.said

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self._listener.join(5)
        assert self.process.stdout
        self.process.stdout.close()


@pytest.fixture
def drilling(tmp_path: Path, instrument) -> Iterator[Callable[..., Drilling]]:
    chart, running = tmp_path / "back-stairs.toml", list[Drilling]()
    chart.write_text(CHART)

    def begin(*words: str) -> Drilling:
        running.append(Drilling(tmp_path / "data", chart, instrument(), *words))
        return running[-1]

    yield begin
    for one in running:
        one.close()


@contextmanager
def minutes_of_five_seconds(folder: Path) -> Iterator[None]:
    """A minute is too long for a test: in processes started here the timers of Python run twelve times faster."""
    place = folder / "faster"
    place.mkdir()
    (place / "sitecustomize.py").write_text(
        "import threading\n"
        "class Faster(threading.Timer):\n"
        "    def __init__(self, seconds, *more, **named):\n"
        "        super().__init__(seconds / 12, *more, **named)\n"
        "threading.Timer = Faster\n"
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", os.pathsep.join(filter(None, [str(place), os.environ.get("PYTHONPATH", "")])))
        yield


def recorded(data: Path) -> int:
    with Records(data) as records:
        return len(records.rounds())


def test_a_round_is_kept_while_one_drills_and_a_kill_loses_none_and_doubles_none(drilling, tmp_path: Path) -> None:
    data = tmp_path / "data"
    drill = drilling("--from", "200", "--to", "200")
    drill.plays_a_round(0)
    drill.waits(lambda: (data / "records.db").exists() and recorded(data) == 1)
    drill.process.send_signal(signal.SIGKILL)
    drill.process.wait()
    time.sleep(LET_GO)
    with Records(data) as records:
        (before,) = records.rounds()
        take_in(records, data)
        (after,) = records.rounds()
        assert [take.folder for take in records.takes()] == [after.take]
    assert (before.kind, before.number, before.tempo, before.right) == ("usual", 1, 200.0, 8)
    assert before.spread_ms is not None and before.take is None


def test_after_its_minutes_the_round_that_is_on_is_the_last(drilling, tmp_path: Path) -> None:
    with minutes_of_five_seconds(tmp_path):
        drill = drilling("--from", "200", "--to", "200", "--minutes", "1")
    drill.plays_a_round(0)
    said = drill.ends()
    assert drill.process.returncode == 0
    assert "a round, 1 good" in said, said
    with Records(tmp_path / "data") as records:
        (one,) = records.rounds()
        (take,) = records.takes()
    assert one.take == take.folder, "the take is in the records when the command is over"


def test_a_folder_that_cant_be_written_is_said_in_one_line_and_playing_goes_on(drilling, tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    (data / "records.db").mkdir()  # whoever runs this, even as root
    drill = drilling("--from", "200", "--to", "200", "--rounds", "1")
    drill.plays_a_round(0)
    said = drill.ends()
    assert drill.process.returncode == 0
    assert said.count("nothing can be added to the records") == 1
    assert len(list((data / "takes").iterdir())) == 1


@pytest.mark.slow
def test_a_day_goes_from_one_thing_to_the_next_by_itself_and_ends(drilling, tmp_path: Path) -> None:
    """Somebody who plays the first round and then only listens: every thing ends when its minutes are over."""
    chart, ago = str(tmp_path / "back-stairs.toml"), datetime.now().astimezone() - timedelta(days=3)
    with Records(tmp_path / "data") as records:
        bad = a_round(ago, (1, 2), 200.0, False, chart=chart, tune_tempo=200.0)
        records.add_round(replace(bad, title="Back Stairs"))
    with minutes_of_five_seconds(tmp_path):
        day = drilling("today", "--go", "--minutes", "5")
    day.plays_a_round(0)
    day.process.wait(150)
    said = day.ends()
    assert day.process.returncode == 0, said
    steps = ("1 of 2, warm up: Back Stairs, bars 1-2", "2 of 2, mend: Back Stairs, bars 1-2", "that was it for today")
    places = [said.index(step) for step in steps]
    assert places == sorted(places)
    assert recorded(tmp_path / "data") == 2
