"""Begun on the page, played at the piano: it follows, it keeps the take, it drills, and without a piano it says so."""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
import pytest

from companion.page.how import DrillAsked, How, PianoWords
from companion.page.outgoing import Incoming, to_line
from companion.practice.records import Records
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.beside import start_beside

if TYPE_CHECKING:
    from tests.conftest import Instrument

FERRY = str(chart_path("ferry-without-lights"))
PATIENCE = 40.0
"""Seconds after which it is ended whatever it does."""
pytestmark = pytest.mark.real_time


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    return tmp_path


class Started:
    """A player process, and what it tells."""

    def __init__(self, words: PianoWords):
        self.process = start_beside("companion.page.piano_player", msgspec.json.encode(words).decode())
        self.told: list[dict[str, Any]] = []

    def until(self, kind: str) -> dict[str, Any]:
        """Read up to a message of a kind; what is on the stand counts as 'begun'."""
        assert self.process.stdout is not None
        while line := self.process.stdout.readline():
            message = msgspec.json.decode(line)
            message = message if "kind" in message else {**message["begun"], "kind": "begun"}
            self.told.append(message)
            if message["kind"] == kind:
                return message
        raise AssertionError(f"never said: {kind}; said: {self.told}")

    def wish(self, name: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(to_line(Incoming(name)))  # type: ignore[arg-type]
        self.process.stdin.flush()


@contextmanager
def started(words: PianoWords) -> Iterator[Started]:
    player = Started(words)
    timer = threading.Timer(PATIENCE, player.process.kill)
    timer.start()
    try:
        yield player
        player.process.wait(20)
    finally:
        timer.cancel()
        player.process.kill()
        player.process.communicate()


def test_without_a_piano_the_page_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_MIDI", "jack")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nobody-here")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    with started(PianoWords(FERRY, 1, ("melody",))) as player:
        assert "MIDI service" in player.until("over")["why"]
    assert player.process.returncode == 0


@pytest.mark.jack
def test_what_is_played_is_followed_kept_and_remembered(data: Path, instrument: Callable[[str], Instrument]) -> None:
    piano = instrument("upright")
    with started(PianoWords(FERRY, 7, ("melody",), How(treatments={"B": "open"}))) as player:
        begun = player.until("begun")
        assert begun["number"] == 7 and "stop" in begun["wishes"]
        assert player.until("state")["name"] == "waiting", "the ports are open"
        for key in (62, 65, 67, 70, 72):
            piano.play(0x90, key, 80)
            time.sleep(0.2)
            piano.play(0x80, key, 0)
        player.wish("stop")
        over = player.until("over")
    assert over["why"] == ""
    with Records() as records:
        assert [take.chart for take in records.takes()] == ["ferry-without-lights"]
    assert [take.name for take in (data / "takes").iterdir()] == [over["take"]]


@pytest.mark.jack
def test_a_drill_is_begun_with_its_bars_and_ends_with_the_page(instrument: Callable[[str], Instrument]) -> None:
    instrument("upright")
    words = PianoWords(FERRY, 1, ("bass",), How(bars=(17, 18)), DrillAsked(kind="notes", start=60, goal=80))
    with started(words) as player:
        assert player.until("begun")["title"] == "Ferry Without Lights"
        round_ = player.until("round")
        assert (round_["first"], round_["last"], round_["tempo"]) == (17, 18, 60)
        assert player.process.stdin is not None
        player.process.stdin.close()  # the page has died
        player.process.stdin = None
        player.process.wait(20)
    assert isinstance(player.process, subprocess.Popen) and player.process.returncode == 0
