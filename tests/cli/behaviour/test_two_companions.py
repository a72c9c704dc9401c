"""Two companions on one instrument, over real ports: the second says so and asks."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from companion.load import load
from companion.pianist.player import simulate
from companion.resources import chart_path
from companion.stage.demo import perform
from companion.stage.settings import Settings
from tests.conftest import Instrument

pytestmark = pytest.mark.jack

PLAYING = ["play", "ferry-without-lights", "--you", "chords", "--tempo", "120", "--count-in", "1", "--time", "steady"]
AGAIN = ["take", "play", "last", "--port", "upright"]
"""Plays for more than a minute, and is there at once."""
SECOND = {
    "play": ["play", "two-spoons-short"],
    "take play": AGAIN,
    "chart ear": ["chart", "ear", "two-spoons-short"],
    "drill": ["drill", "two-spoons-short", "--bars", "1-4"],
    "chart capture": ["chart", "capture", "--title", "Back Stairs", "--tempo", "100"],
    "demo": ["demo", "two-spoons-short", "--port", "upright"],
}
Start = Callable[..., "Companion"]


def wait_for(condition: Callable[[], object], seconds: float = 20.0) -> bool:
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return bool(condition())


class Companion:
    """A running command, at a terminal of its own or where nobody is to ask."""

    def __init__(self, words: list[str], data: Path, *, at_terminal: bool):
        self.outside, inside = os.openpty()
        self.said = ""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "companion", *words],
            env={**os.environ, "COMPANION_DATA": str(data)},
            stdin=inside if at_terminal else subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=inside if at_terminal else subprocess.PIPE,
            cwd=data,
        )
        os.close(inside)
        self._stream = self.outside if at_terminal else self.process.stderr.fileno()

    def says(self, text: str) -> bool:
        return wait_for(lambda: text in self._listened())

    def types(self, text: str) -> None:
        os.write(self.outside, text.encode())

    def ends(self, number: int | None = None) -> int:
        if number is not None:
            self.process.send_signal(number)
        end = time.monotonic() + 30
        while self.process.poll() is None and time.monotonic() < end:
            self._listened()
        self._listened()
        return self.process.wait(0)

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        if self.process.stderr:
            self.process.stderr.close()
        os.close(self.outside)

    def _listened(self) -> str:
        while select.select([self._stream], [], [], 0.05)[0]:
            try:
                heard = os.read(self._stream, 4096)
            except OSError:  # Linux: nobody is left at the terminal
                break
            if not heard:
                break
            self.said += heard.decode(errors="replace")
        return self.said


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with a take in it."""
    data = tmp_path_factory.mktemp("evening")
    chart = load(chart_path("two-spoons-short"))
    player = simulate(chart.unfold(), frozenset({"melody"}), choruses=5, seed=5, manner="human", tempo=200)
    settings = Settings(tempo=player.tempo, start=player.start, count_in=1, choruses=5)
    perform(chart, settings, player, fast=True, data=data)
    return data


@pytest.fixture(scope="module")
def upright(jack_server: str) -> Iterator[Instrument]:
    """What they all play on."""
    instrument = Instrument("upright")
    yield instrument
    instrument.close()


@contextmanager
def starting(evening: Path) -> Iterator[Start]:
    running: list[Companion] = []

    def begin(words: list[str], *, at_terminal: bool = False) -> Companion:
        running.append(Companion(words, evening, at_terminal=at_terminal))
        return running[-1]

    try:
        yield begin
    finally:
        for companion in running:
            companion.close()


@pytest.fixture
def start(evening: Path, upright: Instrument) -> Iterator[Start]:
    """Starts commands."""
    with starting(evening) as begin:
        yield begin


def playing(start: Start, upright: Instrument, words: list[str] = AGAIN) -> Companion:
    """A companion that plays on the upright by now."""
    before, companion = len(upright.notes_on()), start(words)
    assert wait_for(lambda: len(upright.notes_on()) > before), companion._listened()
    return companion


def test_where_nobody_can_be_asked_each_command_is_one_line_and_the_first_plays_on(start: Start, upright: Instrument):
    first = playing(start, upright, PLAYING)
    for second in [start(words) for words in SECOND.values()]:
        assert second.ends() == 3, second.said
        said = second.said.splitlines()[-1]
        assert said.startswith("companion: another companion (started ") and "Ferry Without Lights) is playing" in said
        assert "upright-01:ears; end that one first, or name another port" in said
        assert not second.said.rpartition("companion: ")[2].strip().count("\n")
    assert first.process.poll() is None and first.ends(signal.SIGINT) == 130
    third = start(["play", "two-spoons-short"])
    assert third.says("listening to"), third.said
    assert third.ends(signal.SIGINT) == 130


def test_one_that_was_killed_is_not_asked_about(start: Start, upright: Instrument):
    playing(start, upright).ends(signal.SIGKILL)
    second = start([*SECOND["play"], "--line"], at_terminal=True)
    assert second.says("listening to"), second.said
    assert "another companion" not in second.said and second.ends(signal.SIGINT) == 130


@pytest.fixture(scope="module")
def first(evening: Path, upright: Instrument) -> Iterator[Companion]:
    """One that plays on, whatever the second is told."""
    with starting(evening) as begin:
        yield playing(begin, upright)


def test_at_a_terminal_it_asks_and_plays_when_the_answer_is_yes(first: Companion, start: Start):
    second = start([*SECOND["play"], "--line"], at_terminal=True)
    assert second.says("is playing on upright-01:ears; play all the same? [y/N]"), second.said
    second.types("y\n")
    assert second.says("listening to upright:keys"), second.said
    time.sleep(1)
    assert second.process.poll() is None, "the answer ended nothing"
    second.types("\n")  # Enter ends what is played, as ever
    assert second.ends() == 0, second.said
    assert first.process.poll() is None


@pytest.mark.parametrize("answer", ["n\n", "\n", "\x04"], ids=["no", "Enter", "Ctrl-D"])
def test_any_other_answer_leaves_the_instrument_to_the_first(answer: str, first: Companion, start: Start):
    second = start(SECOND["take play"], at_terminal=True)
    assert second.says("[y/N]"), second.said
    second.types(answer)
    assert second.ends() == 3
    assert "companion: upright-01:ears is left to the other companion; end that one first" in second.said
    assert first.process.poll() is None


def test_ctrl_c_at_the_question_ends_it(first: Companion, start: Start):
    second = start(SECOND["play"], at_terminal=True)
    assert second.says("[y/N]"), second.said
    assert second.ends(signal.SIGINT) == 130 and "Traceback" not in second.said
    assert first.process.poll() is None
