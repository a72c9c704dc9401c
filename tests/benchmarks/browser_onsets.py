"""Whether the notes of a demo reach the browser in time.

    python tests/benchmarks/browser_onsets.py [SECONDS]

The page is opened in Chromium and the first tune is played by the built-in pianist. A note that is handed to Web Audio
ahead of its moment starts to the sample; one that comes too late starts at once. So what counts is how far ahead notes
come, and how many come late.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile

import numpy as np
from playwright.sync_api import sync_playwright

STARTS = """() => {
  window.starts = [];
  const Real = AudioBufferSourceNode;
  window.AudioBufferSourceNode = class extends Real {
    start(when) {
      super.start(when);
      window.starts.push(when - this.context.currentTime);
    }
  };
}"""
"""Keeps how far ahead of its moment each note is handed to Web Audio, in seconds; 0: it was late."""


def main() -> None:
    """Print the distribution."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    with tempfile.TemporaryDirectory() as data:
        words = [sys.executable, "-m", "companion", "stand", "--page-port", "0", "--no-open"]
        stand = subprocess.Popen(words, env={**os.environ, "COMPANION_DATA": data}, stdout=subprocess.PIPE, text=True)
        try:
            assert stand.stdout is not None
            found = re.search(r"http://[^\s;]+", stand.stdout.readline())
            assert found is not None
            leads = np.array(_leads(found[0], seconds))
        finally:
            stand.send_signal(signal.SIGINT)
            stand.wait(60)
    low, median = np.percentile(leads, [1, 50])
    print(f"{len(leads)} notes; handed to Web Audio ahead of their moment by {1000 * median:.0f} ms (median), "
          f"{1000 * low:.0f} ms (1st percentile)")  # fmt: skip
    print(f"late: {np.count_nonzero(leads <= 0)} ({100 * np.mean(leads <= 0):.1f} %)")


def _leads(url: str, seconds: float) -> list[float]:
    with sync_playwright() as running:
        program = shutil.which("chromium")
        flags = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--mute-audio"]
        browser = running.chromium.launch(executable_path=program, args=flags)
        page = browser.new_page()
        page.goto(url)
        page.wait_for_selector("button.large:not([disabled])", timeout=120_000)
        page.evaluate(STARTS)
        page.click("button.large")
        page.wait_for_selector("main.live", timeout=120_000)
        page.wait_for_timeout(1000 * seconds)
        leads: list[float] = page.evaluate("window.starts")
        browser.close()
    return leads


if __name__ == "__main__":
    main()
