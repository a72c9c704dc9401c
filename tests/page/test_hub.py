"""Every page gets the newest of each kind, and a slow one holds up nobody."""

from __future__ import annotations

import asyncio
import json
import re
from typing import Any

import pytest

from companion.page.app import STATIC
from companion.page.hub import HERE, MISSED, QUEUE, SIGN_OF_LIFE, Hub
from companion.page.outgoing import Begun, LineSaid, Notes, Over
from tests.page.conftest import finished

BEGUN = Begun(number=1, title="Ferry", you=("melody",), parts=("bass",))


async def told(hub: Hub, count: int) -> list[dict[str, Any]]:
    """The first messages that a page gets."""
    found: list[dict[str, Any]] = []
    stream = hub.stream()
    async for event in stream:
        if event.startswith(b"data: "):
            found.append(json.loads(event[6:]))
        if len(found) == count:
            break
    await stream.aclose()  # type: ignore[attr-defined]
    return found


def test_a_page_that_comes_late_gets_the_newest_of_each_kind_in_order_but_no_old_notes() -> None:
    async def go() -> None:
        hub = Hub()
        hub.open()
        for message in (LineSaid("before"), BEGUN, LineSaid("one"), Notes(((0.0, 0x90, 60, 80),)), LineSaid("two")):
            hub.tell(message)
        await asyncio.sleep(0)
        assert [(m["kind"], m.get("text")) for m in await told(hub, 2)] == [("begun", None), ("remark", "two")]
        hub.tell(Over())
        await asyncio.sleep(0)
        assert [m["kind"] for m in await told(hub, 1)] == ["over"]

    finished(go())


def test_a_page_that_takes_nothing_for_long_then_gets_what_is_newest() -> None:
    async def go() -> None:
        hub = Hub()
        hub.open()
        stream = hub.stream()
        assert (await anext(stream)).startswith(b"retry")
        for n in range(3 * QUEUE):
            hub.tell(LineSaid(str(n)))
        await asyncio.sleep(0)
        assert await anext(stream) == MISSED, "the end of a note may be among what was left out"
        texts = []
        for _ in range(QUEUE):
            event = await asyncio.wait_for(anext(stream), 1)
            texts.append(json.loads(event[6:])["text"])
            if texts[-1] == str(3 * QUEUE - 1):
                break
        assert texts[-1] == str(3 * QUEUE - 1)
        await stream.aclose()  # type: ignore[attr-defined]

    finished(go())


def test_when_the_server_ends_so_does_every_stream_and_nothing_more_is_told() -> None:
    async def go() -> None:
        hub = Hub()
        hub.open()
        stream = hub.stream()
        await anext(stream)
        hub.close()
        assert [event async for event in stream] == []
        assert hub.pages == 0
        hub.tell(BEGUN)

    finished(go())


def test_a_page_may_lag_behind_by_as_many_messages_as_it_can_hold() -> None:
    async def go(count: int) -> bytes:
        hub = Hub()
        hub.open()
        stream = hub.stream()
        assert await anext(stream) == b"retry: 500\n\n"
        for n in range(count):
            hub.tell(LineSaid(str(n)))
        await asyncio.sleep(0)
        first = await anext(stream)
        assert hub.pages == 1
        await stream.aclose()  # type: ignore[attr-defined]
        assert hub.pages == 0
        return first

    assert json.loads(finished(go(256))[6:])["text"] == "0"
    assert finished(go(257)) == MISSED


def test_a_quiet_line_shows_that_it_is_there_long_before_a_page_gives_it_up(monkeypatch: pytest.MonkeyPatch) -> None:
    script = (STATIC / "stream.js").read_text(encoding="utf-8")
    found = re.search(r"SILENCE = (\d+); // milliseconds", script)
    assert found and int(found[1]) == 3 * 1000 * SIGN_OF_LIFE

    async def go() -> bytes:
        hub = Hub()
        hub.open()
        stream = hub.stream()
        await anext(stream)
        return await anext(stream)

    monkeypatch.setattr("companion.page.hub.SIGN_OF_LIFE", 0.01)
    assert finished(go()) == HERE
