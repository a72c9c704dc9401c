"""Between takes, as somebody does it who has never seen a terminal: hear, loop, review, bring a chart, mend one."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.chart.toml.write import write_toml

pytestmark = pytest.mark.real_time

CHECKOUT = Path(__file__).parents[2]
PHONE, DESK = (360, 740), (1280, 800)
SHEET = 'X:1\nT:Kettle at Six\nM:4/4\nL:1/8\nK:C\n"Dm7"d4 !mf!f4|"G7"g4 z4|"Cmaj7"e8-|e8|]\n'
"""Our own."""
SMALL = """
() => [...document.querySelectorAll("button, select, summary, nav a, input[type=number], label:has([type=radio])")]
  .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 43.5)
  .map((one) => one.outerHTML.slice(0, 80))
"""


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory, tune: Chart) -> Path:
    """A player's folder: a chart of their own, and a take of it with a slip in it."""
    folder = tmp_path_factory.mktemp("player")
    (folder / "charts").mkdir()
    (folder / "charts" / "nine-steps.toml").write_text(write_toml(tune), encoding="utf-8")
    env = {**os.environ, "COMPANION_DATA": str(folder), "PYTHONPATH": str(CHECKOUT)}
    words = ["demo", "nine-steps", "--fast", "--choruses", "1", "--order", "form", "--player", "evening"]
    subprocess.run([sys.executable, "-m", "companion", *words], env=env, check=True, capture_output=True)
    shutil.move(folder / "demo" / "takes", folder / "takes")
    return folder


@pytest.fixture(scope="module")
def url(data: Path) -> Iterator[str]:
    """``companion stand`` for that player."""
    words = [sys.executable, "-m", "companion", "stand", "--page-port", "0", "--no-open"]
    env = {**os.environ, "COMPANION_DATA": str(data), "COMPANION_MIDI": "jack", "JACK_DEFAULT_SERVER": "nobody-here"}
    process = subprocess.Popen(words, env=env, stdout=subprocess.PIPE, text=True, cwd=CHECKOUT)
    try:
        assert process.stdout is not None
        found = re.search(r"http://[^\s;]+", process.stdout.readline())
        assert found is not None
        yield found[0]
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(15)
        process.stdout.close()


def choose(page: Any, name: str, title: str) -> None:
    page.shows(f".contents input[value={name}]")
    page.page.check(f".contents input[value={name}]", force=True)
    page.page.wait_for_selector(f".tune h2:has-text('{title}')")


def test_another_treatment_is_heard_at_once_and_its_reasons_are_told(url: str, tab: Callable[..., Any]) -> None:
    page = tab(url, size=DESK)
    choose(page, "nine-steps", "Nine Steps")
    page.page.click("[data-bar='9']")
    page.shows(".explained dl")
    walking = page.page.inner_text(".explained")
    with page.page.expect_response("**/tune/hear") as heard:
        page.page.select_option("select[aria-label='Treatment of B']", "pedal")
    assert len(heard.value.json()["notes"]) > 20
    page.shows("button.sample[aria-label='Hear B'][aria-pressed=true]")
    page.until("document.querySelector('.explained dl') && document.querySelector('.explained').innerText.length > 0")
    page.page.wait_for_function("before => document.querySelector('.explained').innerText !== before", arg=walking) if (
        False
    ) else page.until(f"document.querySelector('.explained').innerText !== {walking!r}")
    page.page.click("button.sample[aria-label='Hear B']")
    assert page.page.get_attribute("button.sample[aria-label='Hear B']", "aria-pressed") == "false"
    assert page.wrong == []
