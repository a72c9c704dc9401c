"""A tune's history as a picture: what is in it, whatever there is to draw."""

from __future__ import annotations

from datetime import UTC
from xml.etree.ElementTree import fromstring

import pytest

from companion.chart.model import Chart
from companion.practice.history_picture import history_picture, reached_over_time
from tests.practice.days import a_round, a_take, evening
from tests.practice.test_history import bar, day, history

pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")


def test_the_same_history_is_the_same_picture(ferry: Chart) -> None:
    take = a_take(evening(day(1)), folder="take")
    rounds = [a_round(evening(day(n)), (1, 8), 80 + 5 * n, n != 2) for n in range(4)]
    found = history(ferry, rounds, [take], [bar(take, 0), bar(take, 3, 2)])
    svg = history_picture(found, UTC)
    fromstring(svg)
    assert svg == history_picture(found, UTC)
    assert history_picture(found, UTC, ".png").startswith(b"\x89PNG")


@pytest.mark.parametrize("what", ["rounds", "takes", "neither judged"])
def test_there_is_a_picture_of_whatever_there_is(ferry: Chart, what: str) -> None:
    take = a_take(evening(day(1)), folder="take")
    found = {
        "rounds": history(ferry, [a_round(evening(day(0)), (1, 4), 90, False)]),
        "takes": history(ferry, takes=[take], bars=[bar(take, 1)]),
        "neither judged": history(None, takes=[take]),
    }[what]
    fromstring(history_picture(found, UTC))


def test_what_a_section_has_reached_only_climbs_and_begins_when_every_bar_has_been_good(ferry: Chart) -> None:
    played = [((1, 4), 100, True), ((5, 8), 80, True), ((1, 8), 70, True), ((5, 8), 120, False), ((5, 8), 110, True)]
    rounds = [a_round(evening(day(n)), bars, tempo, good) for n, (bars, tempo, good) in enumerate(played)]
    found = history(ferry, rounds)
    steps = reached_over_time(found, found.sections[0])
    assert [(at.day, tempo) for at, tempo in steps] == [(3, 80), (6, 100)]
    assert steps[-1][1] == found.sections[0].reached
