"""The page for a person: at every size, with keys alone, for a screen reader, by heart, and in a dark room."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.messages import Round
from companion.page.serving import LOOPBACK, own_address
from companion.stage.clock import now
from companion.stage.settings import Settings
from tests.browser.conftest import Beside

pytestmark = pytest.mark.real_time

SIZES = ((360, 640), (390, 844), (844, 390), (768, 1024), (1280, 800), (3840, 2160))
SEEN = """
() => {
  const inside = (box) => box && box.width > 0 && box.left >= -1 && box.top >= -1 &&
    box.right <= innerWidth + 1 && box.bottom <= innerHeight + 1;
  const of = (selector) => document.querySelector(selector)?.getBoundingClientRect();
  const name = document.querySelector("#chord-now");
  const [a, b] = [name, document.querySelector(".music")].map((one) => one.getBoundingClientRect());
  return {
    wide: document.documentElement.scrollWidth <= innerWidth,
    chord: inside(of("#chord-now .root")),
    whole: name.scrollWidth <= name.clientWidth && (b.left >= a.right || b.top >= a.bottom),
    large: parseFloat(getComputedStyle(name).fontSize) >= 40,
    next: inside(of("#chord-next .root")),
    mark: inside(of(".mark .wash")),
    system: inside(of(".slot.in-hand > svg")),
    line: inside(of(".form-line")),
    stop: inside(of("[data-wish=stop]")) && of("[data-wish=stop]").height >= 44,
  };
}
"""
SERIOUS = ("serious", "critical")


def test_at_every_size_the_place_the_chord_and_what_to_press_are_seen(beside: Any, tab: Callable[..., Any]) -> None:
    """Even ``E♭maj7♯11/B♭``: 40 px are 16 minutes of arc at a metre (ISO 9241-303, from memory)."""
    page = tab(beside.url)
    beside.beat(44.0)
    for width, height in SIZES:
        page.page.set_viewport_size({"width": width, "height": height})
        page.page.wait_for_timeout(100)
        page.until("document.querySelector('.mark')?.dataset.bar == 12")
        page.until(f"Object.values(({SEEN})()).every(Boolean)")
    assert page.wrong == []


def test_an_automated_check_of_accessibility_finds_nothing_serious(
    stand_page: str, beside: Any, tab: Callable[..., Any]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed").Axe()
    beside.beat(6.0)
    for url, there, looks in (
        (stand_page, "details.drilling", ("light", "dark")),
        (beside.url, ".mark", ("dark",)),  # its many notes take long, and the colours are the same
    ):
        page = tab(url)
        page.shows(there)
        if url == stand_page:
            page.page.click("label:has(input[value=piano])")
            page.page.click("details.drilling summary")
        else:
            page.page.click("text=Treatments")
        for look in looks:
            page.page.emulate_media(color_scheme=look)
            found = axe.run(page.page).response["violations"]
            assert [(v["id"], v["nodes"][0]["html"]) for v in found if v["impact"] in SERIOUS] == []


def test_in_a_round_by_heart_nothing_of_the_tune_is_seen(drilled: Any, tab: Callable[..., Any]) -> None:
    page = tab(drilled.url)
    drilled.beat(6.0)
    page.shows(".mark")

    def go(hidden: bool, number: int) -> None:
        drilled.report(Round(now() - drilled._origin, number, 1, 4, ("melody",), "F major", 120.0, 0.0, hidden=hidden))

    go(True, 1)
    drilled.beat(7.0)
    page.until("document.documentElement.dataset.beat == 7")
    page.until("getComputedStyle(document.querySelector('.cover')).display != 'none'")
    assert not page.page.is_visible(".systems")
    assert page.page.inner_text("#chord-now").strip() == ""
    assert not page.page.is_visible("#chord-next")
    go(False, 2)
    drilled.beat(8.0)
    page.until("document.querySelector('.mark')?.dataset.bar == 3")
    assert page.page.is_visible(".systems")
    assert page.page.inner_text("#chord-now").strip()
    assert page.page.inner_text("#note").startswith("bars 1–4 · round 2")


def test_a_dark_room_is_chosen_by_a_key_and_kept(stand_page: str, tab: Callable[..., Any]) -> None:
    page = tab(stand_page)
    page.shows(".contents label")
    paper = "getComputedStyle(document.body).backgroundColor"
    light = page.page.evaluate(paper)
    page.page.click("text=Dark room")
    dark = page.page.evaluate(paper)
    assert dark != light
    page.page.reload()
    page.shows("h1")
    assert page.page.evaluate(paper) == dark


def test_from_a_tablet_the_page_is_there_once_the_code_is_given(tune: Chart, tab: Callable[..., Any]) -> None:
    if own_address() == LOOPBACK:
        pytest.skip("this machine is in no network")
    shared = Beside(tune, Settings(), share=True)
    try:
        url, code = shared.said[1].split()[3], shared.said[1].split()[-1]
        shared.beat(4.0)
        page = tab(url)
        page.page.fill("#code", "000000" if code != "000000" else "111111")
        page.page.keyboard.press("Enter")
        page.until("document.querySelector('#fault').textContent.includes('not the code')")
        page.page.fill("#code", code)
        page.page.keyboard.press("Enter")
        page.until("document.querySelector('.mark')?.dataset.bar == 2")
    finally:
        shared.link.close()
