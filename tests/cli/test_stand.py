"""``companion stand``, and ``--stand`` with what is played at the piano: the page is there, shows it, ends with it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import httpx
import pytest

from companion.cli.commands import build_parser
from companion.errors import UseError

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


@pytest.mark.parametrize(("text", "taken"), [("0", 0), ("7341", 7341), ("65535", 65535)])
def test_a_page_is_at_any_port_that_there_is(text: str, taken: int) -> None:
    # RFC 9293, section 3.1: a port has sixteen bits.
    assert build_parser().parse_args(["stand", "--page-port", text]).page_port == taken


@pytest.mark.parametrize("text", ["65536", "-1", "²", "x", ""])
def test_what_is_no_port_is_refused(text: str) -> None:
    with pytest.raises(UseError, match=f"'{text}' is not a port; give a number from 0 to 65535"):
        build_parser().parse_args(["stand", f"--page-port={text}"])


class Shown:
    """A companion at the piano, and what its page is told."""

    def __init__(self, *words: str, data: Path):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "companion", *words, "--line", "--stand", "--page-port", "0", "--no-open"],
            env={**os.environ, "COMPANION_DATA": str(data)},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.said = ""
        self.told: list[dict[str, Any]] = []
        self._threads = [threading.Thread(target=self._listen, daemon=True)]
        self._threads[0].start()
        found = self.wait_for(lambda: re.search(r"the page is at (\S+)", self.said))
        assert found, self.said
        self.url = found[1]
        self._threads.append(threading.Thread(target=self._read_page, daemon=True))
        self._threads[1].start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout as lines:
            for line in lines:
                self.said += line

    def _read_page(self) -> None:
        try:
            with httpx.stream("GET", f"{self.url}events", timeout=20) as stream:
                for line in stream.iter_lines():
                    if line.startswith("data: "):
                        self.told.append(json.loads(line[6:]))
        except httpx.HTTPError:
            return

    def of(self, kind: str) -> list[dict[str, Any]]:
        return [message for message in list(self.told) if message["kind"] == kind]

    def wish(self, name: str) -> None:
        own = {"origin": self.url.rstrip("/")}
        assert httpx.post(f"{self.url}wish", json={"wish": name}, headers=own, timeout=10).status_code == 204

    def wait_for(self, condition: Callable[[], Any], seconds: float = 20.0) -> Any:
        end = time.monotonic() + seconds
        while not (found := condition()) and time.monotonic() < end:
            time.sleep(0.02)
        return found

    def ends(self) -> int:
        status = self.process.wait(20)
        for thread in self._threads:
            thread.join(10)
        return status


@contextmanager
def shown(*words: str, data: Path) -> Iterator[Shown]:
    one = Shown(*words, data=data)
    try:
        yield one
    finally:
        if one.process.poll() is None:
            one.process.send_signal(signal.SIGINT)
            one.ends()


@pytest.fixture
def chart(tmp_path: Path) -> Path:
    path = tmp_path / "back-stairs.toml"
    path.write_text(CHART, encoding="utf-8")
    return path


@pytest.mark.jack
def test_what_is_played_at_the_piano_is_shown_and_stopped_by_touching_the_page(
    instrument: Callable[..., Any], chart: Path, tmp_path: Path
) -> None:
    instrument("upright")
    with shown("play", str(chart), "--count-in", "1", "--time", "steady", data=tmp_path) as playing:
        assert playing.wait_for(lambda: len(playing.of("beat")) >= 3), playing.said
        begun, *_ = playing.of("begun")
        assert (begun["title"], begun["you"], begun["demo"]) == ("Back Stairs", ["melody"], False)
        assert {"stop", "again", "slower"} <= set(begun["wishes"])
        beats = playing.of("beat")
        assert all((b["place"] - a["place"]) % 16 == 1.0 for a, b in pairwise(beats))
        assert all(abs(beat["at"] - time.perf_counter()) < 20 for beat in beats)
        assert {state["words"] for state in playing.of("state")} <= {"counting in", "playing"}
        playing.wish("stop")
        assert playing.ends() == 0
        assert playing.told[-1]["kind"] == "over"


@pytest.mark.jack
def test_a_drill_shows_its_round_and_is_stopped_by_touching_the_page(
    instrument: Callable[..., Any], chart: Path, tmp_path: Path
) -> None:
    instrument("upright")
    words = ("drill", str(chart), "--bars", "1-2", "--from", "200")
    with shown(*words, data=tmp_path) as drilling:
        assert drilling.wait_for(lambda: drilling.of("round")), drilling.said
        told = drilling.of("round")[0]
        assert (told["first"], told["last"], told["number"]) == (1, 2, 1)
        assert told["words"].startswith("bars 1–2")
        drilling.wish("stop")
        assert drilling.ends() == 0


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        (("stand", "no-such-tune"), "there is no chart"),
        (("stand", "--page-port", "70000"), "'70000' is not a port"),
        (("play", "ferry-without-lights", "--share"), "say --stand, too"),
    ],
)
def test_what_cannot_be_shown_is_said_in_a_line(words: tuple[str, ...], wrong: str, run: Any, one_line: Any) -> None:
    status, _, err = run(*words)
    assert status == 2
    assert wrong in one_line(err)


def test_ctrl_c_ends_the_page_and_whoever_plays_on_it(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "companion", "stand", "--page-port", "0", "--no-open"]
    env = {**os.environ, "COMPANION_DATA": str(tmp_path)}
    process = subprocess.Popen(words, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None
    found = re.search(r"(http://\S+?);", process.stdout.readline())
    assert found is not None
    own = {"origin": found[1].rstrip("/")}
    assert (
        httpx.post(f"{found[1]}demo", json={"chart": "ferry-without-lights"}, headers=own, timeout=10).status_code
        == 204
    )
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=15)
    assert (process.returncode, out, err.strip()) == (130, "", "")
    assert not children.exists()
