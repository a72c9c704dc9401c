"""A browser, a page on the stand, and a page beside a player whose reports the test makes up.

They live as long as a file of tests: a page that is left open goes on drawing, and takes time from what plays after it.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.chart.toml.write import write_toml
from companion.messages import Beat, Report, Wish
from companion.stage.clock import now
from companion.stage.settings import Settings

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.real_time
BROWSERS = ("chromium", "chromium-browser")
FLAGS = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--mute-audio"]
TUNE = '''
format = 1
title = "Nine Steps to the Cellar"
key = "F major"
metre = "4/4"
tempo = 220
feel = "swing"
form = "A B"

[section.A]
treatment = "walking"
chords = """
| Fmaj7 | Gm7 C7 | Am7 D7 | Gm7 C7 | Fmaj7 | Bbmaj7 | Gm7 C7 | Fmaj7 |
"""
melody = """
| A2 c2 f2 e2 | d4 z4 | e2 d2 c4 | B4 z4 | A2 c2 f2 e2 | d4 f4 | g2 e2 c2 B2 | A8 |
"""

[section.B]
treatment = "walking"
chords = """
| Dm7 | G7 | Cmaj7 | Ebmaj7#11/Bb | Dm7 | G7 | Gm7 | C7 |
"""
melody = """
| f4 e4 | d8 | e4 d4 | c8 | f4 e4 | d4 B4 | d4 c4 | B8 |
"""
'''
"""Our own, for these tests: sixteen bars without an order of events."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Chromium, without a window."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    program = next(filter(None, map(shutil.which, BROWSERS)), None)
    if program is None:
        pytest.skip("Chromium is not installed (Debian: apt install chromium)")
    with playwright.sync_playwright() as running:
        opened = running.chromium.launch(executable_path=program, args=FLAGS)
        yield opened
        opened.close()


class Tab:
    """A page in the browser, and all that went wrong in it."""

    def __init__(self, browser: Browser, url: str, size: tuple[int, int] = (1280, 800), look: str = "light"):
        self.context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=look)  # type: ignore[arg-type]
        self.page: Page = self.context.new_page()
        self.wrong: list[str] = []
        self.asked: list[str] = []
        self.page.on(
            "console", lambda said: self.wrong.append(said.text) if said.type in ("error", "warning") else None
        )
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(url)

    def shows(self, selector: str, seconds: float = 30.0) -> Any:
        """Wait until something is there."""
        return self.page.wait_for_selector(selector, state="attached", timeout=1000 * seconds)

    def until(self, condition: str, seconds: float = 30.0) -> None:
        """Wait until an expression in JavaScript is true, asked from here: the page's policy lets it evaluate none."""
        end = time.monotonic() + seconds
        while not self._is(condition):
            assert time.monotonic() < end, f"never: {condition}"
            self.page.wait_for_timeout(20)

    def _is(self, condition: str) -> bool:
        from playwright.sync_api import Error

        try:
            return bool(self.page.evaluate(f"Boolean({condition})"))
        except Error as error:
            if "Execution context was destroyed" not in error.message:  # by going to another page
                raise
            return False

    def bar(self) -> int:
        """Number of the bar that is marked."""
        return int(self.page.get_attribute(".mark", "data-bar") or 0)


@pytest.fixture
def tab(browser: Browser) -> Iterator[Callable[..., Tab]]:
    """Opens pages; they are closed after the test."""
    opened: list[Tab] = []

    def open_tab(url: str, **how: Any) -> Tab:
        opened.append(Tab(browser, url, **how))
        return opened[-1]

    yield open_tab
    for one in opened:
        one.context.close()


@pytest.fixture(scope="session")
def tune() -> Chart:
    return parse_toml(TUNE)


@dataclass(frozen=True)
class Standing:
    """``companion stand``, as a process."""

    url: str
    process: subprocess.Popen[str]


@contextmanager
def standing(folder: Path, *words: str, port: int = 0, status: int = 130) -> Iterator[Standing]:
    """``companion stand`` for a player with this folder, until Ctrl-C or whatever else ends it with this status."""
    said = [sys.executable, "-m", "companion", "stand", *words, "--page-port", str(port), "--no-open"]
    env = {**os.environ, "COMPANION_DATA": str(folder)}
    process = subprocess.Popen(said, env=env, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2])
    try:
        assert process.stdout is not None
        found = re.search(r"http://[^\s;]+", process.stdout.readline())
        assert found is not None
        yield Standing(found[0], process)
    finally:
        process.send_signal(signal.SIGINT)
        assert process.wait(60) == status
        process.stdout.close()


@pytest.fixture(scope="module")
def stand_page(tmp_path_factory: pytest.TempPathFactory, tune: Chart) -> Iterator[str]:
    """``companion stand`` with the tune, and where its page is."""
    folder = tmp_path_factory.mktemp("stand")
    chart = folder / "nine-steps.toml"
    chart.write_text(write_toml(tune), encoding="utf-8")
    with standing(folder, str(chart)) as stand:
        yield stand.url


class Beside:
    """A page beside a player: the test is the player, and says what is reported."""

    def __init__(self, chart: Chart, settings: Settings, **how: Any):
        from companion.page.link import PageLink
        from companion.page.outgoing import Begun

        self.wishes: list[Wish] = []
        self.said: list[str] = []
        begun = Begun(
            number=1, title=chart.title, you=("melody",), parts=settings.parts, wishes=("stop", "again", "treatment")
        )
        self.link = PageLink(
            begun, chart, settings, wish=self.wishes.append, say=self.said.append, port=0, opens=False, **how
        )
        lines = 2 if how.get("share") else 1
        self.link.begins(now())
        self._origin = now()
        end = time.monotonic() + 20
        while len(self.said) < lines and time.monotonic() < end:
            time.sleep(0.02)
        self.url = self.said[0].split()[-1]

    def report(self, report: Report) -> None:
        self.link.report(report)

    def beat(self, place: float, sure: float = 0.95, chorus: int = 1) -> None:
        """A beat that sounds now."""
        self.report(Beat(place, now() - self._origin, sure, chorus))


@pytest.fixture
def drilled(tune: Chart) -> Iterator[Beside]:
    """A page of its own for a drill."""
    page = Beside(tune, Settings())
    yield page
    page.link.close()


@pytest.fixture(scope="module")
def beside(tune: Chart) -> Iterator[Beside]:
    """One page for the tests that make up reports; each begins where the one before left it."""
    page = Beside(tune, Settings())
    yield page
    page.link.close()
