"""A tune's history as a picture: what is in it, whatever there is to draw."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC
from xml.etree.ElementTree import fromstring

import pytest

from companion.chart.model import Chart
from companion.practice.history import TuneHistory
from companion.practice.history_picture import history_figure, history_picture, reached_over_time
from tests.practice.days import a_bar, a_round, a_take, evening
from tests.practice.drawn_figures import drawn
from tests.practice.test_history import day, history
from tests.wrapping import lines

pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")


def test_the_same_history_is_the_same_picture(ferry: Chart) -> None:
    take = a_take(evening(day(1)), folder="take")
    rounds = [a_round(evening(day(n)), (1, 8), 80 + 5 * n, n != 2) for n in range(4)]
    found = history(ferry, rounds, [take], [a_bar(take, 0), a_bar(take, 3, 2)])
    svg = history_picture(found, UTC)
    fromstring(svg)
    assert svg == history_picture(found, UTC)
    assert history_picture(found, UTC, ".png").startswith(b"\x89PNG")


@pytest.mark.parametrize("what", ["rounds", "takes", "neither judged"])
def test_there_is_a_picture_of_whatever_there_is(ferry: Chart, what: str) -> None:
    take = a_take(evening(day(1)), folder="take")
    found = {
        "rounds": history(ferry, [a_round(evening(day(0)), (1, 4), 90, False)]),
        "takes": history(ferry, takes=[take], bars=[a_bar(take, 1)]),
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


def test_a_section_reaches_the_tempo_of_a_clean_time_through_and_never_less(ferry: Chart) -> None:
    """Its last bar counts as well as its first; what lies beside it doesn't."""
    takes = [a_take(evening(day(n)), folder=f"take-{n}") for n in (3, 5)]
    bars = [replace(a_bar(take, n), tempo=tempo) for take, tempo in zip(takes, (95.0, 85.0), strict=True)
            for n in range(1, 9)]  # fmt: skip
    rounds = [
        a_round(evening(day(n)), span, tempo, True)
        for n, span, tempo in (
            (0, (1, 7), 110),
            (1, (9, 12), 120),
            (2, (8, 8), 90),
            (4, (8, 16), 100),
            (6, (8, 8), 105),
        )
    ]
    found = history(ferry, rounds, takes, bars)
    steps = reached_over_time(found, found.sections[0])
    assert [(at.day, tempo) for at, tempo in steps] == [(4, 90), (5, 95), (6, 100), (8, 105)]


FIGURE = """
8 by 6.2 inches: A Tune
13 from 0.012
A1, bars 1-8: melody: 20758.5 20770.5 by 78 122, height 1.1
  marks #ffffff/#8c8a94, size 11, line 0.6, 26 corners, layer 2: (20761.75 120)
  marks #ffffff/#8c8a94, size 13, line 0.6, 5 corners, layer 2: (20769.75 100)
  marks #8c8a94/#8c8a94, size 11, line 0.6, 26 corners, layer 2: (20759.75 100) (20760.75 80) (20768.75 110)
  marks #8c8a94/#8c8a94, size 13, line 0.6, 5 corners, layer 2: (20762.75 100)
  line #8c8a94, 0.8, -- default, layer 1: (0 120) (1 120)
  line #2b2a33, 1.6, - steps-post, layer 3: (20760.75 80) (20762.75 100) (20769.75 100)
  '100' 10 black at 1 100 4 0
  "♩ a minute; circle: a round, diamond: a take; filled: good; line: reached; dashed: the tune's" 8 #8c8a94 at 1 0 6 0
A2, bars 9-16: melody: 20758.5 20770.5 by 78 122, height 1.1
  marks #8c8a94/#8c8a94, size 11, line 0.6, 26 corners, layer 2: (20768.75 110)
  line #8c8a94, 0.8, -- default, layer 1: (0 120) (1 120)
Clean bars in each take: 20758.5 20770.5 by 0 100, height 0.9
  y marked at 0 50 100: 0 50 100
  line #2b2a33, 1, - default, o 4, layer 2: (20762.75 100) (20769.75 77.78)
  '% of the bars played' 8 #8c8a94 at 1 0 6 0
Bars, week by week: 20758.5 20770.5 by 9 -0.5, height 2.6
  marks #8c8a94/#8c8a94, size 2, line 1, 26 corners, layer 2: (20762.5 0) (20762.5 1) (20762.5 2) (20762.5 3) (20762.5 4) (20762.5 5) (20762.5 6) (20762.5 7) (20762.5 8)
  marks #8c8a94/#8c8a94, size 2, line 1, 26 corners, layer 2: (20769.5 0) (20769.5 1) (20769.5 2) (20769.5 4) (20769.5 5) (20769.5 6) (20769.5 7)
  marks #a8443a/#a8443a, size 60 20, line 1, 5 corners, layer 3: (20769.5 3) (20769.5 8)
  line #d9d7dd, 0.7, - default, layer 0: (0 0.5) (1 0.5)
  line #d9d7dd, 0.7, - default, layer 0: (0 8.5) (1 8.5)
  'A1' 8 #8c8a94 at 1 0.6 4 0
  'A2' 8 #8c8a94 at 1 8.6 4 0
  'a square: something went wrong, the larger the more; a dot: clean' 8 #8c8a94 at 1 0 6 0
"""  # noqa: E501


def two_weeks(chart: Chart | None) -> TuneHistory:
    """Rounds over two sections; a take with its pickup that was clean, and one a week later that wasn't."""
    played = [(0, (1, 4), 100, True), (1, (5, 8), 80, True), (2, (5, 8), 120, False), (9, (5, 10), 110, True)]
    rounds = [a_round(evening(day(n)), bars, tempo, good) for n, bars, tempo, good in played]
    takes = [a_take(evening(day(n)), folder=f"take-{n}", tempo=100.0 + n) for n in (3, 10)]
    faults = {3: 4, 8: 1}
    bars = [a_bar(take, n, faults.get(n, 0) if take is takes[1] else 0) for take in takes for n in range(9)]
    return history(chart, rounds, takes, bars)


def test_rounds_and_takes_of_two_weeks_are_drawn_at_their_days_and_tempi(ferry: Chart) -> None:
    """What stands here is what is drawn today; days are counted from 1970, so that 2 November 2026 is 20759."""
    assert drawn(history_figure(two_weeks(ferry), UTC)) == lines(FIGURE)


def test_without_its_chart_and_without_judged_bars_the_days_are_drawn() -> None:
    take = a_take(evening(day(3)))
    assert drawn(history_figure(history(None, takes=[take]), UTC)) == [
        "8 by 1.4 inches: A Tune",
        "13 from 0.012",
        "Days on which it was played: 20761.5 20763.5 by -0.06 0.06, height 0.9",
        "  y marked at",
        "  marks #2b2a33/#2b2a33, size 16, line 1, 26 corners, layer 1: (20762.5 0)",
    ]


def test_bars_begin_with_the_first_where_there_is_no_pickup_and_weeks_without_takes_stay_empty(ferry: Chart) -> None:
    take, rounds = a_take(evening(day(40))), [a_round(evening(day(n)), (1, 4), 90, True) for n in (0, 7)]
    figure = history_figure(history(ferry, rounds, [take], [a_bar(take, 1, 9), a_bar(take, 12)]), UTC)
    found = drawn(figure)
    begin = next(n for n, line in enumerate(found) if line.startswith("Bars, week by week"))
    assert found[begin] == "Bars, week by week: 20757.9 20801.1 by 13 0.5, height 2.6"
    marks = [line for line in found[begin:] if line.startswith("  marks")]
    assert [line.rpartition(": ")[2] for line in marks] == ["(20797.5 12)", "(20797.5 1)"]
    assert "size 60," in marks[1], "no square is larger than that of three faults"
