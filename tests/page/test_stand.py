"""What is on the stand: charts by name, demos that begin and end, and no two at once."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from companion.chart.toml.write import write_toml
from companion.errors import UseError
from companion.page.hub import Hub
from companion.page.outgoing import AnyOutgoing, BeatTold, Begun, Notes, OnTheStand, Over
from companion.page.stand import MusicStand

if TYPE_CHECKING:
    from tests.conftest import Stand


class Ear(Hub):
    """A hub that keeps what is told."""

    def __init__(self) -> None:
        super().__init__()
        self.heard: list[AnyOutgoing] = []
        self.some = threading.Event()

    def tell(self, message: AnyOutgoing) -> None:
        self.heard.append(message)
        self.some.set()

    def wait_for(self, condition: Callable[[], Any], seconds: float = 20.0) -> Any:
        end = time.monotonic() + seconds
        while not (found := condition()) and time.monotonic() < end:
            self.some.wait(0.05)
            self.some.clear()
        return found

    def of(self, kind: type) -> list[Any]:
        return [message for message in list(self.heard) if isinstance(message, kind)]


@pytest.fixture
def given(tmp_path: Path, stand: Stand) -> Path:
    path = tmp_path / "given.toml"
    path.write_text(write_toml(stand.tune(tempo=200)), encoding="utf-8")
    return path


def test_the_chart_that_was_named_stands_first_and_is_told_without_its_folder(given: Path) -> None:
    choices = MusicStand(Hub(), given).choices()
    assert (choices[0]["name"], choices[0]["title"], choices[0]["bars"]) == ("given.toml", "Ten to Ten", 16)
    assert str(given.parent) not in str(choices)


def test_a_chart_is_read_again_when_it_has_changed_and_a_broken_one_says_what_is_wrong(given: Path) -> None:
    stand = MusicStand(Hub(), given)
    stand.choices()
    given.write_text("format = 1\ntitle = 3\n", encoding="utf-8")
    assert stand.choices()[0]["fault"]


def test_beside_a_player_wishes_go_to_it_and_no_demo_begins(ferry_on_the_stand: OnTheStand) -> None:
    wished: list[tuple[str, tuple[str, str] | None]] = []
    stand = MusicStand(Hub(), wish=lambda name, value=None: wished.append((name, value)))
    stand.put(ferry_on_the_stand)
    stand.wish("stop")
    stand.wish("treatment", ("B", "sparse"))
    assert wished == [("stop", None), ("treatment", ("B", "sparse"))] and not stand.chooses
    with pytest.raises(UseError):
        stand.demo("ferry-without-lights", ("melody",))


@pytest.mark.real_time
def test_a_demo_is_heard_begins_again_gives_way_to_another_and_ends(given: Path) -> None:
    ear = Ear()
    stand = MusicStand(ear, given)
    stand.demo("given.toml", ("melody",))
    assert ear.wait_for(lambda: ear.of(BeatTold))
    begun, *_ = ear.of(Begun)
    assert (begun.title, begun.demo, begun.parts) == ("Ten to Ten", True, ("chords", "bass"))
    assert {status & 0x0F for message in ear.of(Notes) for _, status, _, _ in message.notes} >= {9}  # the count-in
    count = len(ear.of(BeatTold))
    stand.wish("again")
    assert ear.wait_for(lambda: [b for b in ear.of(BeatTold)[count:] if b.place <= 0])
    stand.demo("given.toml", ("bass",))
    assert ear.wait_for(lambda: len(ear.of(Begun)) == 2)
    assert ear.of(Begun)[-1].number > begun.number
    stand.wish("stop")
    assert ear.wait_for(lambda: isinstance(ear.heard[-1], Over))
    on: set[tuple[int, int]] = set()
    for message in ear.heard:
        if isinstance(message, Begun):
            on.clear()  # so does a browser with what sounds there
        for _, status, key, value in message.notes if isinstance(message, Notes) else ():
            if status & 0xF0 == 0x90 and value:
                on.add((status & 0x0F, key))
            elif status & 0xE0 == 0x80:
                on.discard((status & 0x0F, key))
    assert {channel for channel, _ in on} <= {9}  # a click ends by itself
    stand.stop()
    assert stand._player is None
