"""The keyboard is plugged in, struck and taught from the page alone, by somebody who has never seen a terminal."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.conftest import standing

if TYPE_CHECKING:
    from tests.conftest import Instrument

pytestmark = [pytest.mark.real_time, pytest.mark.jack]
PHONE = (360, 740)


def test_a_keyboard_lights_up_shows_its_ends_and_teaches_a_pedal_and_is_free_for_playing(
    instrument: Callable[[str], Instrument], tmp_path: Path, tab: Callable[..., Any]
) -> None:
    with standing(tmp_path) as stand:
        page = tab(f"{stand.url}#piano", size=PHONE)
        page.shows("text=no MIDI instrument is connected")
        other, piano = instrument("module"), instrument("upright")
        page.shows(".ports input[value='upright:keys']")

        def lit(port: str, *message: int) -> None:
            """What is played before JACK has joined the ports is lost."""
            for _ in range(100):
                (piano if port == "upright:keys" else other).play(*message)
                page.page.wait_for_timeout(100)
                if page.page.locator(f"label:has(input[value='{port}']) .light.on").count():
                    return
            raise AssertionError(page.page.inner_text(".heard"))

        lit("module:keys", 0x90, 60, 70)
        assert page.page.locator(".light.on").count() == 1
        lit("upright:keys", 0x90, 61, 70)
        assert page.page.inner_text(".heard") == "upright:keys: C♯4"
        page.page.check("input[value='upright:keys']", force=True)
        page.shows("#input-2:checked, #input-1:checked")
        page.shows("text=written:")

        page.page.focus("#range")
        page.page.keyboard.press("Enter")
        for key, said in ((28, "E1 so far"), (103, "76 keys, E1 to G7")):
            piano.play(0x90, key, 70)
            page.shows(f".learning >> text={said}")
        other.play(0x90, 127, 70)  # of another keyboard than the one that is meant
        page.page.keyboard.press("Enter")
        page.shows(".learning >> text=Its keys: 76 keys, E1 to G7")
        page.shows("#range >> text=Show its two ends")
        assert page.page.evaluate("document.activeElement.id") == "range"

        page.page.click("#tell-again")
        piano.play(0xB0, 64, 127)
        page.shows("text=The damper pedal is for playing")
        page.page.wait_for_timeout(400)  # the next press is one of its own (stage/teaching.py)
        piano.play(0xB0, 67, 127)
        page.shows(".learning:has(#tell-again) >> text=soft pedal")
        page.page.click("#tell-stop")
        page.page.wait_for_timeout(400)
        piano.play(0xB0, 67, 0)
        piano.play(0xB0, 67, 127)
        page.shows("text=soft pedal tells 'again' already")

        configs = tmp_path / "configs"
        assert tomllib.loads((configs / "signals.toml").read_text())["taught"] == {"again": {"controller": 67}}
        told = tomllib.loads((configs / "instruments.toml").read_text())
        assert (told["in"], told["lowest-key"], told["highest-key"]) == ("upright:keys", 28, 103)
        assert page.wrong == ["Failed to load resource: the server responded with a status of 400 (Bad Request)"]

        page.page.click("nav >> text=Tunes")
        page.page.check("input[value=piano][name=who]", force=True)
        page.page.click("button.large >> nth=0")
        page.shows("main.live", 60)
        assert "went away" not in page.page.inner_text("#note")
