"""The process that draws: it answers what is asked, says what is wrong, and is there again when it died."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from companion.errors import UseError
from companion.page.draughtsman import Draughtsman, View
from tests.page.conftest import on_the_stand

if TYPE_CHECKING:
    from tests.conftest import Stand

pytest.importorskip("verovio", reason="the engraver is not installed")


@pytest.fixture
def draughtsman() -> Iterator[Draughtsman]:
    one = Draughtsman()
    yield one
    one.end()


def test_it_draws_says_what_is_wrong_and_is_there_again_when_it_died(draughtsman: Draughtsman, stand: Stand) -> None:
    what = on_the_stand(stand.chart(("| Dm7 | G7 |", "| f8 | d8 |")))
    form = json.loads(draughtsman.draw("form", what, View(1)))
    assert form["title"] == "Ten to Ten"
    assert json.loads(draughtsman.draw("form", what, View(1, key="F")))["key"] == "F major"
    with pytest.raises(UseError, match="not a key"):
        draughtsman.draw("form", what, View(1, key="H"))
    draughtsman._process.end()
    systems = json.loads(draughtsman.draw("systems", what, View(1, width=120.0)))
    assert [bar["number"] for system in systems for bar in system["bars"]][:2] == [1, 2]
    voicings = json.loads(draughtsman.draw("voicings", what, View(1)))
    assert [one["start"] for one in voicings] == [0.0, 4.0]


def test_a_window_is_a_hundred_spaces_wide_and_shows_the_first_time_through_unless_it_is_said() -> None:
    assert View(7) == View(7, width=100.0, key="", chorus=1, event=None)


def test_what_was_drawn_is_kept_for_the_last_few_windows(draughtsman: Draughtsman, stand: Stand) -> None:
    what = on_the_stand(stand.chart(("| Dm7 | G7 |", "| f8 | d8 |")))
    first = draughtsman.draw("form", what, View(1))
    for width in range(31):
        draughtsman.draw("form", what, View(1, width=float(width)))
    assert draughtsman.draw("form", what, View(1)) is first, "the last 32 are"
    for width in range(200, 232):
        draughtsman.draw("form", what, View(1, width=float(width)))
    again = draughtsman.draw("form", what, View(1))
    assert again is not first and again == first
