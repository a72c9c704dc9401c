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
from companion.load import load
from companion.stage.demo import perform, played_by
from companion.stage.settings import Settings

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
    file = folder / "charts" / "nine-steps.toml"
    file.write_text(write_toml(tune), encoding="utf-8")
    player, settings = played_by("evening", tune, Settings(choruses=1))
    played = perform(load(file), settings, player, fast=True, data=folder)
    assert played.take is not None
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
    page.shows("button[aria-label='Hear B'][aria-pressed=true]")
    page.until(f"document.querySelector('.explained').innerText !== {walking!r}")
    page.page.click("button[aria-label='Hear B']")
    assert page.page.get_attribute("button[aria-label='Hear B']", "aria-pressed") == "false"
    assert page.wrong == []


def test_two_bars_are_touched_and_gone_over_again_and_again(url: str, tab: Callable[..., Any]) -> None:
    page = tab(url, size=PHONE)
    choose(page, "nine-steps", "Nine Steps")
    page.page.click("[data-bar='3']")
    page.page.click("[data-bar='4']")
    page.page.click("button.large >> text=Hear bars 3–4, over and over")
    page.shows("main.live h1", 20)
    assert page.page.inner_text("h1") == "Nine Steps to the Cellar, bars 3–4"
    page.until("document.documentElement.dataset.beat == 15", 20)
    # at one moment: it goes on. The bar bears its number in the tune
    page.until("document.documentElement.dataset.beat == 8 && document.querySelector('.mark')?.dataset.bar == 3", 20)
    page.page.keyboard.press("Escape")
    page.shows(".tune [data-bar='4'][aria-pressed=true]")
    page.page.click("text=Look through what the pianist played")
    page.shows(".verdict", 20)
    assert page.page.inner_text("h1") == "Nine Steps to the Cellar, bars 3–4"
    assert {one.get_attribute("aria-label").split(":")[0] for one in page.page.locator("button.column").all()} <= {
        "Bar 3",
        "Bar 4",
    }
    assert page.wrong == []


def test_the_review_of_a_take_is_opened_and_what_went_wrong_is_looped(url: str, tab: Callable[..., Any]) -> None:
    page = tab(f"{url}#takes", size=DESK)
    page.shows(".take a")
    page.page.click(".take a")
    page.shows(".verdict", 20)
    assert re.search(r"\bbars? \d+", page.page.inner_text(".verdict"))
    page.until("document.querySelector('.picture img')?.naturalWidth > 0", 30)
    assert "nine steps" in (page.page.get_attribute(".picture img", "alt") or "").lower()
    page.page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.until("document.querySelector('.picture img[src*=\"narrow=1\"]')?.naturalWidth > 0", 30)
    assert page.page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    here = page.page.locator(".said-here").first.bounding_box()
    assert here is not None and here["height"] >= 44 and here["width"] >= 44, "it is found by a finger"
    first = page.page.locator(".findings button").first
    bar = re.search(r"Loop bar (\d+)", first.get_attribute("aria-label") or "")
    assert bar is not None
    first.click()
    page.shows("main.live h1", 20)
    assert re.search(rf", bars? {max(1, int(bar[1]))}", page.page.inner_text("h1"))
    page.page.keyboard.press("Escape")
    page.shows(".verdict", 20)
    assert page.wrong == []


def test_a_take_is_deleted_only_after_asking(url: str, data: Path, tab: Callable[..., Any]) -> None:
    (take,) = (data / "takes").iterdir()
    shutil.copytree(take, data / "takes" / "2020-01-01-000000-nine-steps")
    page = tab(f"{url}#takes", size=PHONE)
    page.shows(".take + .take, .takes > li + li")
    remove = page.page.locator(".takes > li:not(.demos) button", has_text="Delete").last
    remove.click()
    page.page.click("text=Leave it")
    assert (data / "takes" / "2020-01-01-000000-nine-steps").exists()
    page.page.locator(".takes > li:not(.demos) button", has_text="Delete").last.click()
    page.page.click("text=Delete it for good")
    page.until("document.querySelector('.note').textContent.includes('deleted')")
    assert [one.name for one in (data / "takes").iterdir() if one.is_dir()] == [take.name]


def test_a_lead_sheet_is_brought_and_what_was_lost_is_said(url: str, data: Path, tab: Callable[..., Any]) -> None:
    page = tab(url, size=DESK)
    page.shows(".contents label")
    sheet = {"name": "kettle.abc", "mimeType": "text/plain", "buffer": SHEET.encode()}
    page.page.set_input_files("input[type=file]", sheet)
    page.page.wait_for_selector(".tune h2:has-text('Kettle at Six')")
    said = page.page.inner_text(".said")
    assert "Kettle at Six is among your tunes" in said and "dynamics: mf" in said
    assert (data / "charts" / "kettle-at-six.toml").exists()
    page.page.set_input_files("input[type=file]", {**sheet, "name": "kettle.exe"})
    page.until("document.querySelector('.said').textContent.includes('kettle.exe')")
    assert all("415" in text or "400" in text for text in page.wrong), page.wrong


def test_a_chart_is_changed_wrongly_and_then_rightly(url: str, data: Path, tab: Callable[..., Any]) -> None:
    page = tab(f"{url}#edit/nine-steps", size=DESK)
    page.shows(".faults .fine")
    text = page.page.input_value(".chart-text")
    page.page.fill(".chart-text", text.replace("Cmaj7", "Hmaj7", 1))
    page.shows(".faults button")
    assert "section B, bar 3: 'Hmaj7' is not a chord symbol" in page.page.inner_text(".faults")
    assert page.page.is_disabled("text=Keep it")
    line = int(page.page.inner_text(".gutter .fault"))
    assert "Hmaj7" in text.replace("Cmaj7", "Hmaj7", 1).split("\n")[line - 1]
    page.page.fill(".chart-text", text.replace("Cmaj7", "C6", 1))
    page.shows(".faults .fine")
    page.page.wait_for_selector("button:enabled >> text=Keep it")
    page.page.keyboard.press("Control+s")
    page.until("document.querySelector('.note').textContent.startsWith('Kept')")
    kept = (data / "charts" / "nine-steps.toml").read_text(encoding="utf-8")
    assert "C6" in kept and "Cmaj7" in (data / "charts" / "nine-steps.toml.former-1").read_text(encoding="utf-8")
    page.page.click("text=Undo what was kept last")
    assert page.page.input_value(".chart-text") == text
    assert page.wrong == []


def test_with_keys_alone_one_goes_through_the_views_and_begins_to_play(url: str, tab: Callable[..., Any]) -> None:
    page = tab(url, size=DESK)
    page.shows(".lines .bar")
    keys = page.page.keyboard

    def to(condition: str, most: int = 60) -> None:
        for _ in range(most):
            keys.press("Tab")
            if page.page.evaluate(f"(() => {{ const e = document.activeElement; return Boolean({condition}); }})()"):
                return
        raise AssertionError(f"no way there by keys: {condition}")

    to("e.dataset.bar == 2")
    keys.press("Enter")
    page.shows("[data-bar='2'][aria-pressed=true]")
    to("e.name == 'you'")
    keys.press("ArrowRight")
    assert page.page.evaluate("document.activeElement.value") == "chords"
    to("e.matches('button.large')")
    keys.press("Enter")
    page.shows("main.live h1", 20)
    keys.press("Escape")
    page.shows("main.choose nav")
    to("e.getAttribute('href') == '#today'")
    keys.press("Enter")
    page.shows(".plan button")
    assert page.page.evaluate("document.activeElement.matches('h1')"), "the new view is where one is"


@pytest.mark.parametrize("look", ["light", "dark"])
def test_no_view_has_a_serious_fault_of_accessibility_or_anything_small(
    look: str, url: str, tab: Callable[..., Any]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed").Axe()
    page = tab(url, size=PHONE if look == "dark" else DESK, look=look)
    views = {
        "tunes": ".lines .bar",
        "today": ".plan li",
        "takes": ".take a",
        "piano": ".verdict",
        "edit/nine-steps": ".faults li",
    }
    for view, there in views.items():
        page.page.evaluate(f"location.hash = '{view}'")
        page.shows(there)
        if view == "tunes":
            page.page.click("[data-bar='5']")
            page.shows(".explained dl")
        found = axe.run(page.page).response["violations"]
        serious = [(v["id"], v["nodes"][0]["html"]) for v in found if v["impact"] in ("serious", "critical")]
        assert serious == [], view
        assert page.page.evaluate(SMALL) == [], view
        assert page.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), view
    assert page.wrong == []
