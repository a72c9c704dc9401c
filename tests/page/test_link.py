"""A page beside a player: it is told what is reported, it asks what is wished, and no note changes whatever it does."""

from __future__ import annotations

import os
import signal
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
import pytest

from companion.messages import Beat, Wish
from companion.page.link import WAITING, PageLink
from companion.page.outgoing import Begun
from companion.stage.settings import Settings
from tests.stage.running import METRONOMIC

if TYPE_CHECKING:
    from tests.conftest import Stand

pytestmark = pytest.mark.real_time
BEGUN = Begun(number=1, title="Ten to Ten", you=("melody",), parts=("bass",), wishes=("stop", "again"))

PLAYER = f'''
"""Plays a bass note every fifth of a second, and shows it on a page."""
import sys
from pathlib import Path
from queue import SimpleQueue
from companion.load import load
from companion.page.link import PageLink
from companion.page.outgoing import Begun
from companion.stage.live import play
from companion.stage.settings import Settings

{METRONOMIC}
chart, wishes, settings = load(Path(sys.argv[1])), SimpleQueue(), Settings()
begun = Begun(number=1, title=chart.title, you=("melody",), parts=("bass",))
page = PageLink(begun, chart, settings, wish=wishes.put, say=lambda text: None, port=0, opens=False)
print(page.pid, flush=True)
try:
    play(chart, settings, rehearsal=Metronomic(times=200), wishes=wishes, watch=[page.report], begins=page.begins)
except KeyboardInterrupt:
    pass
finally:
    page.close()
'''
"""Its reports are many, so that the pipe of a page that stands still is soon full."""


def wait_for(condition: Callable[[], Any], seconds: float = 15.0) -> Any:
    end = time.monotonic() + seconds
    while not (found := condition()) and time.monotonic() < end:
        time.sleep(0.01)
    return found


class Opened:
    """A page beside this test, which plays."""

    def __init__(self, stand: Stand):
        self.wishes: list[Wish] = []
        self.said: list[str] = []
        self.link = PageLink(
            BEGUN, stand.tune(), Settings(), wish=self.wishes.append, say=self.said.append, port=0, opens=False
        )
        assert wait_for(lambda: self.said)
        self.url = self.said[0].split()[-1]


@pytest.fixture
def opened(stand: Stand) -> Any:
    one = Opened(stand)
    yield one
    one.link.close()


def test_a_report_comes_to_the_page_and_a_wish_to_the_player(opened: Any) -> None:
    opened.link.begins(100.0)
    opened.link.report(Beat(8.0, 2.5, 0.9))
    with httpx.stream("GET", f"{opened.url}events", timeout=10) as stream:
        told = []
        for line in stream.iter_lines():
            told.append(line)
            if '"beat"' in line:
                break
    assert '"begun"' in "".join(told) and '"at":102.5' in told[-1] and '"place":8.0' in told[-1]
    own = {"origin": opened.url.rstrip("/")}
    assert httpx.post(f"{opened.url}wish", json={"wish": "again"}, headers=own).status_code == 204
    assert wait_for(lambda: opened.wishes) and opened.wishes[0].name == "again"
    demo = httpx.post(f"{opened.url}demo", json={"chart": "ferry-without-lights"}, headers=own)
    assert demo.status_code == 400 and "at the piano" in demo.json()["fault"]


def test_reports_to_a_page_that_stands_still_are_taken_at_once_and_the_oldest_dropped(opened: Any) -> None:
    os.kill(opened.link.pid, signal.SIGSTOP)
    try:
        took = []
        for n in range(6000):  # far more than the pipe holds
            begun = time.perf_counter()
            opened.link.report(Beat(float(n), 0.1 * n, 0.9))
            took.append(time.perf_counter() - begun)
        assert statistics.median(took) < 0.001
        assert len(opened.link._waiting) <= WAITING
        assert wait_for(lambda: opened.link._waiting and opened.link._waiting[-1].chart_beat == 5999.0)
    finally:
        os.kill(opened.link.pid, signal.SIGCONT)
    assert wait_for(lambda: not opened.link._waiting)


def test_a_page_ends_when_its_player_is_gone_however_that_went(stand: Stand) -> None:
    one = Opened(stand)
    assert one.link._process.stdin is not None
    one.link._process.stdin.close()
    assert one.link._process.wait(10) is not None
    one.link.close()


@pytest.mark.jack
def test_a_page_that_stalls_and_is_killed_while_it_is_played_changes_no_note(
    instrument: Callable[..., Any], tmp_path: Path, stand: Stand
) -> None:
    from companion.chart.toml.write import write_toml

    keyboard = instrument("upright")
    chart, script = tmp_path / "tune.toml", tmp_path / "player.py"
    chart.write_text(write_toml(stand.tune()), encoding="utf-8")
    script.write_text(PLAYER, encoding="utf-8")
    env = {**os.environ, "COMPANION_DATA": str(tmp_path)}
    player = subprocess.Popen([sys.executable, str(script), str(chart)], env=env, stdout=subprocess.PIPE, text=True)
    try:
        assert player.stdout is not None
        page = int(player.stdout.readline())
        for done, number in ((5, signal.SIGSTOP), (15, signal.SIGKILL), (22, None)):
            assert wait_for(lambda done=done: len(keyboard.notes_on()) >= done)
            if number is not None:
                os.kill(page, number)
    finally:
        player.send_signal(signal.SIGINT)
        assert player.wait(15) == 0
        player.stdout.close()
    moments = [at for at, m in keyboard.received if m[0] & 0xF0 == 0x90 and m[2] > 0]
    gaps = [b - a for a, b in pairwise(moments)]
    assert all(a != b for a, b in pairwise(keyboard.notes_on()))  # the two pitches in turn
    assert statistics.median(abs(gap - 0.2) for gap in gaps) < 0.01
    assert max(gaps) < 0.4  # no note is missing
    assert not keyboard.sounding()
