"""The process that draws: it answers what is asked, says what is wrong, and is there again when it died."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest

from companion.errors import UseError
from companion.page.draughtsman import Draughtsman, View
from companion.page.outgoing import OnTheStand

pytest.importorskip("verovio", reason="the engraver is not installed")


@pytest.fixture
def draughtsman() -> Iterator[Draughtsman]:
    one = Draughtsman()
    yield one
    one.end()


def test_it_draws_says_what_is_wrong_and_is_there_again_when_it_died(
    draughtsman: Draughtsman, ferry_on_the_stand: OnTheStand
) -> None:
    form = json.loads(draughtsman.draw("form", ferry_on_the_stand, View(1)))
    assert form["title"] == "Ferry Without Lights"
    with pytest.raises(UseError, match="not a key"):
        draughtsman.draw("form", ferry_on_the_stand, View(1, key="H"))
    draughtsman._process.end()
    systems = json.loads(draughtsman.draw("systems", ferry_on_the_stand, View(1, width=120.0, event="head")))
    assert systems[0]["bars"][0]["number"] == -3
