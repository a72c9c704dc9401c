"""A tune on the stand, as a player process puts it there."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any, TypeVar

import pytest

from companion.chart.toml.write import write_toml
from companion.page.outgoing import Begun, OnTheStand

if TYPE_CHECKING:
    from companion.chart.model import Chart


T = TypeVar("T")


def finished(work: Coroutine[Any, Any, T]) -> T:
    """What comes of it, in a loop and a thread of its own: the tests' browser has a loop in the main one."""
    with ThreadPoolExecutor(1) as other:
        return other.submit(asyncio.run, work).result()


def on_the_stand(chart: Chart, *, ordered: bool = False) -> OnTheStand:
    begun = Begun(number=1, title=chart.title, you=("melody",), parts=("chords", "bass"), ordered=ordered)
    return OnTheStand(begun, write_toml(chart))


@pytest.fixture
def ferry_on_the_stand(ferry: Chart) -> OnTheStand:
    """The tune in its order of events."""
    return on_the_stand(ferry, ordered=True)
