"""Who listens to the ports: one page at a time, and nobody while something is played."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

import pytest

from companion.page.port_stream import PortStream
from tests.page.conftest import finished

pytestmark = pytest.mark.real_time


@pytest.fixture(autouse=True)
def nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_MIDI", "jack")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nobody-here")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")


async def told(stream: AsyncIterator[bytes]) -> dict[str, Any]:
    """The next that a page is told."""
    while True:
        event = await anext(stream)
        if event.startswith(b"data: "):
            return json.loads(event[6:])


def test_a_second_page_takes_the_ports_over_and_whoever_plays_has_them_to_itself() -> None:
    async def whole() -> None:
        ports = PortStream(lambda: True)
        first, second = ports.stream(), ports.stream()
        assert "not running" in (await told(first))["fault"]
        one = ports._listener
        assert (await told(second))["kind"] == "ports"
        assert await told(first) == {"kind": "ended", "why": "elsewhere"}
        two = ports._listener
        assert one is not None and two is not None and one.process.poll() == 0
        await asyncio.to_thread(ports.release)
        assert two.process.poll() == 0, "the ports are free before anybody goes on"
        assert await told(second) == {"kind": "ended", "why": "playing"}
        await first.aclose()  # type: ignore[attr-defined]
        await second.aclose()  # type: ignore[attr-defined]

    finished(whole())


def test_while_something_is_played_nobody_listens() -> None:
    async def whole() -> None:
        stream = PortStream(lambda: False).stream()
        assert await told(stream) == {"kind": "ended", "why": "playing"}
        await stream.aclose()  # type: ignore[attr-defined]

    finished(whole())
