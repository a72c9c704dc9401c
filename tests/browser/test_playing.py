"""While it is played, as a browser shows it: in time, right after a leap, and with no harm when a line breaks."""

from __future__ import annotations

import json
import statistics
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import httpx
import pytest

from companion.messages import Treated
from companion.stage.clock import now

pytestmark = pytest.mark.real_time

DELAY = 0.180
"""Seconds by which a demo is heard and drawn after it is played (static/sound.js)."""
WITHIN = 0.050
"""Seconds between sound and picture that nobody is to notice."""
RECORD = """
window.drawn = [];
new MutationObserver(() => {
  const mark = document.querySelector(".mark");
  const place = Number(document.documentElement.dataset.beat);
  window.drawn.push([place, performance.timeOrigin + performance.now(), mark?.dataset.bar ?? null]);
}).observe(document.documentElement, { attributeFilter: ["data-beat"] });
"""
SHIFTS = """
window.shifts = [];
new PerformanceObserver((list) => window.shifts.push(...list.getEntries().map((one) => one.value)))
  .observe({ type: "layout-shift" });
"""


@contextmanager
def told(url: str) -> Iterator[list[dict[str, Any]]]:
    """What the companion tells meanwhile."""
    found: list[dict[str, Any]] = []
    client = httpx.Client(timeout=30)

    def listen_on() -> None:
        try:
            with client.stream("GET", f"{url}events") as stream:
                for line in stream.iter_lines():
                    if line.startswith("data: "):
                        found.append(json.loads(line[6:]))
                    if over.is_set():
                        return
        except httpx.HTTPError:
            return

    over = threading.Event()
    thread = threading.Thread(target=listen_on, daemon=True)
    thread.start()
    yield found
    over.set()
    thread.join(7)
    client.close()


def test_with_keys_alone_a_tune_is_chosen_and_played_and_the_place_moves_with_the_sound(
    stand_page: str, tab: Callable[..., Any]
) -> None:
    opened = tab(stand_page)
    opened.shows(".contents label")
    opened.until("document.querySelector('button.large')?.disabled === false")
    opened.page.evaluate(RECORD)
    press = opened.page.keyboard.press
    for _ in range(12):
        press("Tab")
        if opened.page.evaluate("document.activeElement.name == 'chart'"):
            break
    press("ArrowDown")
    press("ArrowUp")
    assert opened.page.evaluate("document.activeElement.checked && document.activeElement.value") == "nine-steps.toml"
    with told(stand_page) as messages:
        press("Enter")
        opened.until("document.documentElement.dataset.beat >= 15", 30)
        wall_less_clock = time.time() - time.perf_counter()
        drawn = opened.page.evaluate("window.drawn")
        press("Escape")
        opened.shows("main.choose .contents label")
    sounded = {m["place"]: m["at"] + wall_less_clock for m in messages if m["kind"] == "beat"}
    late = [at / 1000 - (sounded[place] + DELAY) for place, at, _ in drawn]
    assert len(late) >= 10
    assert statistics.median(map(abs, late)) < WITHIN
    bars = [(place, int(bar)) for place, _, bar in drawn if bar is not None]  # none before it is engraved
    assert len(bars) >= 3
    assert bars == [(place, int(place // 4) + 1) for place, _ in bars]
    assert any(m["kind"] == "notes" for m in messages)
    assert opened.wrong == []
    assert all(url.startswith(stand_page) for url in opened.asked)


def test_after_a_leap_the_right_bar_is_marked_and_the_system_after_it_is_there(
    beside: Any, tab: Callable[..., Any]
) -> None:
    page = tab(beside.url)
    beside.beat(0.0)
    page.shows(".mark")
    assert page.bar() == 1
    for place, bar in ((5.0, 2), (37.0, 10), (62.0, 16), (0.0, 1), (17.0, 5)):
        beside.beat(place)
        page.until(f"document.documentElement.dataset.beat == {place}")
        assert page.bar() == bar
        assert page.page.locator(".slot.in-hand svg.definition-scale").count() == 1
        page.until("document.querySelectorAll('.slot svg.definition-scale').length >= 2")
    assert page.page.inner_text("#chord-now").replace("\n", "") == "Fmaj7"
    assert page.page.inner_text("#chord-next").replace("\n", "") == "B♭maj7"
    assert page.page.inner_text("#where").startswith("A, bar 5")


def test_what_is_being_read_stays_where_it_is_when_the_next_system_begins(beside: Any, tab: Callable[..., Any]) -> None:
    page = tab(beside.url)
    beside.beat(15.0)
    page.until("document.querySelector('.mark')?.dataset.bar == 4")
    coming = page.page.locator(".slot:not(.in-hand) svg").first
    before = coming.bounding_box()
    first = coming.locator(".measure").first.get_attribute("id")
    page.page.evaluate(SHIFTS)
    beside.beat(16.0)
    page.until("document.querySelector('.mark')?.dataset.bar == 5")
    now_read = page.page.locator(".slot.in-hand > svg")
    assert now_read.bounding_box() == before
    assert now_read.locator(".measure").first.get_attribute("id") == first
    assert sum(page.page.evaluate("window.shifts")) < 0.001, "nothing else moves but the letters of a chord's name"


def test_doubt_is_shown_only_when_there_is_some(beside: Any, tab: Callable[..., Any]) -> None:
    page = tab(beside.url)
    beside.beat(8.0)
    page.until("document.documentElement.dataset.beat == 8")
    assert page.page.inner_text("#note") == ""
    beside.beat(9.0, sure=0.2)
    page.until("document.querySelector('#note').textContent.includes('looking for you')")
    assert page.page.locator(".in-doubt").count() == 1
    beside.beat(10.0)
    page.until("document.querySelector('#note').textContent == ''")
    assert page.page.locator(".in-doubt").count() == 0


def test_a_page_that_lost_its_line_says_so_and_finds_the_place_again(beside: Any, tab: Callable[..., Any]) -> None:
    page = tab(beside.url)
    second = tab(beside.url)
    beside.beat(1.0)
    page.until("document.querySelector('.mark')?.dataset.bar == 1")
    page.context.set_offline(True)
    page.page.evaluate("fetch('/clock').catch(() => null)")
    beside.beat(41.0)
    second.until("document.querySelector('.mark')?.dataset.bar == 11")
    page.context.set_offline(False)
    page.page.reload()
    page.until("document.querySelector('.mark')?.dataset.bar == 11")


def test_a_wish_goes_to_whoever_plays_and_a_treatment_is_drawn_when_it_is_on(
    beside: Any, tab: Callable[..., Any]
) -> None:
    page = tab(beside.url)
    page.shows("[data-wish=again]")
    beside.wishes.clear()
    page.page.keyboard.press("Home")
    page.page.click("[data-wish=stop]")
    beside.beat(40.0)
    page.until("document.querySelector('.mark')?.dataset.bar == 11")
    before = page.page.inner_html(".slot.in-hand")
    page.page.click("text=Treatments")
    pedal = page.page.locator(".ways button", has_text="pedal")
    pedal.click()
    page.until("document.querySelector('#note').textContent == 'B: pedal from the next bar on'")
    end = time.monotonic() + 20
    while len(beside.wishes) < 3 and time.monotonic() < end:
        time.sleep(0.02)
    assert [wish.name for wish in beside.wishes] == ["again", "stop", "treatment"]
    assert beside.wishes[-1].value == ("B", "pedal") and pedal.get_attribute("aria-pressed") == "false"
    beside.report(Treated(now() - beside._origin, (("B", "pedal"),)))
    page.until("document.querySelector('.ways button[aria-pressed=true]').textContent == 'pedal'")
    page.until(f"document.querySelector('.slot.in-hand').innerHTML.length != {len(before)}")
    late = tab(beside.url)
    late.until("document.querySelector('.ways button[aria-pressed=true]')?.textContent == 'pedal'")
    held: list[Any] = []
    late.page.route("**/draw/form*", lambda route: held.append(route))
    late.page.reload()
    while not held:
        late.page.wait_for_timeout(20)
    tune = held[0].fetch()
    beside.report(Treated(now() - beside._origin, (("B", "walking"),)))  # while the tune is on its way
    late.page.wait_for_timeout(300)
    held[0].fulfill(response=tune)
    late.until("document.querySelector('.ways button[aria-pressed=true]')?.textContent == 'walking'")
    assert page.wrong == late.wrong == []
