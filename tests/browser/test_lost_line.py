"""The line between page and companion is lost: nothing rings on, the place is found again, the page says so."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.chart.toml.write import write_toml
from tests.browser.conftest import standing

pytestmark = pytest.mark.real_time
RINGING = """() => {
window.ringing = new Set();
const Real = AudioBufferSourceNode;
window.AudioBufferSourceNode = class extends Real {
  start(when) {
    super.start(when);
    window.ringing.add(this);
    this.addEventListener("ended", () => window.ringing.delete(this));
  }
};
}"""
"""Keeps every note that is to sound or sounds; the place of Web Audio's own node is taken by one that tells."""


def test_what_falls_silent_rings_no_more_and_what_comes_back_is_followed_from_where_it_is(
    tmp_path: Path, tune: Chart, tab: Callable[..., Any]
) -> None:
    chart = tmp_path / "nine-steps.toml"
    chart.write_text(write_toml(tune), encoding="utf-8")
    with standing(tmp_path, str(chart), status=-signal.SIGKILL) as stand:
        page = tab(stand.url)
        page.until("document.querySelector('button.large')?.disabled === false")
        page.page.evaluate(RINGING)
        page.page.click("button.large")
        page.until("window.ringing.size >= 2 && document.documentElement.dataset.beat >= 3")

        os.kill(stand.process.pid, signal.SIGSTOP)  # as when a tablet is out of reach: no error, and nothing comes
        page.until("document.querySelector('#line').textContent.includes('line to the companion is down')")
        before = float(page.page.evaluate("document.documentElement.dataset.beat"))
        page.until("window.ringing.size == 0")
        os.kill(stand.process.pid, signal.SIGCONT)
        page.until("document.querySelector('#line').hidden")
        page.until(f"document.documentElement.dataset.beat > {before} + 12")
        page.until("window.ringing.size >= 2")
        where = "[Number(document.documentElement.dataset.beat), Number(document.querySelector('.mark')?.dataset.bar)]"
        page.until(f"(([beat, bar]) => bar == Math.floor(beat / 4) + 1)({where})")
        assert page.page.evaluate("window.ringing.size") < 16, "what was missed isn't made up for all at once"

        os.kill(stand.process.pid, signal.SIGKILL)
        page.until("document.querySelector('#line').textContent.includes('line to the companion is down')")
        page.until("window.ringing.size == 0")
        page.until("document.querySelector('#line').textContent.includes('start it again')", 60)
    port = int(stand.url.rstrip("/").rpartition(":")[2])
    with standing(tmp_path, str(chart), port=port):
        page.shows("main.choose .contents label", 60)
        page.until("document.querySelector('#line').hidden")
