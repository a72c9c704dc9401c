"""A tune's history as one reads it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.chart.model import Chart
from companion.practice.history import WeakBar
from companion.practice.history_words import WIDE, history_lines, overview_lines, table, weakest
from companion.practice.recurring import RecurringSlip
from tests.practice.days import MELODY, a_bar, a_round, a_take, evening
from tests.practice.test_history import RULES, day, history

NOW = evening(day(9))


def test_a_tune_is_told_by_section_and_week(ferry: Chart) -> None:
    take = a_take(evening(day(8)), folder="take")
    rounds = [a_round(evening(day(n)), (1, 8), 90 + n, n != 1) for n in range(4)]
    text = "\n".join(history_lines(history(ferry, rounds, [take], [a_bar(take, 3), a_bar(take, 7, 2)]), RULES))
    assert "1 take and 4 rounds on 5 days, 2 November 2026 to 10 November 2026" in text
    assert "A1, bars 1-8" in text and "3 of 4" in text
    assert "learnt, with good rounds on 3 days: bars 1-8 (melody) at 90" in text
    assert "through without a stop at 120" in text
    assert "good rounds by tempo: 80-99: 3 of 4" in text
    assert [line.split() for line in text.splitlines()[-2:]] == [
        ["2", "Nov", "3", "of", "4", "-", "-"],
        ["9", "Nov", "-", "120", "1", "of", "2", "7", "(2)"],
    ]  # fmt: skip


def test_what_is_not_learnt_yet_says_what_that_takes(ferry: Chart) -> None:
    text = "\n".join(history_lines(history(ferry, [a_round(evening(day(0)), (1, 4), 90, True)]), RULES))
    assert "no passage is learnt yet: that takes good rounds at a tempo on 3 days" in text
    assert "4 of 8 bars" in text, "where not every bar of a section was ever good, it says how many were"


def test_no_line_is_too_wide_for_a_terminal_however_much_is_learnt(ferry: Chart) -> None:
    passages = [(first, first + 1) for first in range(1, 30, 2)]
    rounds = [a_round(evening(day(n)), bars, 100, True) for n in range(3) for bars in passages]
    lines = history_lines(history(ferry, rounds), RULES)
    assert max(map(len, lines)) <= WIDE == 100
    assert sum("bars 29-30 (melody) at 100" in line for line in lines) == 1, "no passage is broken in two"


def test_all_tunes_have_a_line_each(ferry: Chart) -> None:
    take = a_take(evening(day(8)), folder="take")
    lines = overview_lines(
        [history(ferry, [a_round(evening(day(0)), (1, 8), 90, True)], [take], [a_bar(take, 3)])], day(9)
    )
    assert len(lines) == 2
    assert lines[1].split("  ")[0] == "A Tune" and "yesterday" in lines[1]
    assert "90 of 120" in lines[1] and lines[1].endswith("1 of 1")


def test_slips_that_recur_stand_at_their_bars_with_how_often_and_whether_they_get_rarer(ferry: Chart) -> None:
    often = RecurringSlip(
        ("hesitated", 5.0, -1), "hesitated", 5, 5, "hesitated for 0.9 s", (True,) * 3, True, MELODY, NOW
    )
    rarer = RecurringSlip(
        ("note", 25.0, 4), "missed-note", 7, 7, "A missed", (True, True, True, False, False, False), True, MELODY, NOW
    )
    found = history(ferry, [], [a_take(evening(day(8)))])
    lines = history_lines(replace(found, slips=(often, rarer)), RULES)
    begin = next(n for n, line in enumerate(lines) if line.startswith("slips that recur"))
    assert lines[begin:] == [
        "slips that recur               takes  ● made, ○ not; the latest last",
        "melody:",
        "  bar 5: hesitated for 0.9 s  3 of 3  ●●●",
        "  bar 7: A missed             3 of 6  ●●●○○○  getting rarer",
    ]


def test_the_last_twelve_weeks_are_told(ferry: Chart) -> None:
    rounds = [a_round(evening(day(7 * n)), (1, 8), 90, True) for n in range(14)]
    lines = history_lines(history(ferry, rounds), RULES)
    begin = next(n for n, line in enumerate(lines) if line.startswith("week of"))
    assert [line.split("  ")[0].strip() for line in lines[begin + 1 :]][::11] == ["16 Nov", "1 Feb"]
    assert len(lines[begin + 1 :]) == 12


@pytest.mark.parametrize(
    ("bars", "words"),
    [([], ""), ([(3, 1.0)], "3 (1)"), ([(0, 0.25), (1, 2.06)], "the pickup (0.2), 1 (2.1)"),
     ([(n, 1.0) for n in range(1, 6)], "1 (1), 2 (1), 3 (1), 4 (1)")],
)  # fmt: skip
def test_the_four_weakest_bars_are_named(bars: list[tuple[int, float]], words: str) -> None:
    assert weakest([WeakBar(bar, faults, 3) for bar, faults in bars]) == words


def test_columns_are_as_wide_as_they_need_the_first_ones_to_the_left() -> None:
    rows = [["a", "bb", "c"], ["aaa", "b", "ccc"]]
    assert table(rows) == ["a    bb    c", "aaa  b   ccc"]
    assert table(rows, left=1) == ["a    bb    c", "aaa   b  ccc"]


def test_each_hand_is_named_once_over_its_sections(ferry: Chart) -> None:
    rounds = [a_round(evening(day(0)), (1, 16), 90, True), a_round(evening(day(1)), (1, 8), 80, True, you=("bass",))]
    lines = history_lines(history(ferry, rounds), RULES)
    begin = next(n for n, line in enumerate(lines) if "tempo reached" in line)
    assert [" ".join(line.split()[:4]) for line in lines[begin + 1 : begin + 4]] == [
        "melody A1, bars 1-8", "A2, bars 9-16 90", "bass A1, bars 1-8"
    ]  # fmt: skip


def test_slips_are_headed_by_the_hand_that_made_them(ferry: Chart) -> None:
    slips = [
        RecurringSlip(("hesitated", 5.0, -1), "hesitated", 5, 5, "hesitated", (True,) * 3, True, you, NOW)
        for you in (MELODY, MELODY, ("bass",))
    ]
    found = replace(history(ferry, [], [a_take(evening(day(8)))]), slips=tuple(slips))
    lines = history_lines(found, RULES)
    begin = next(n for n, line in enumerate(lines) if line.startswith("slips that recur"))
    assert [line.split()[0] for line in lines[begin + 1 :]] == ["melody:", "bar", "bar", "bass:", "bar"]
    assert history_lines(replace(found, slips=()), RULES)[-1] == lines[begin - 2]


def test_an_overview_has_a_dash_for_what_there_is_not_yet(ferry: Chart) -> None:
    through = history(ferry, takes=[a_take(evening(day(8)))])
    bad = history(ferry, [a_round(evening(day(3)), (1, 4), 90, False)])
    learnt = history(ferry, [a_round(evening(day(n)), (1, 4), 90 + n, True) for n in range(3)])
    rows = [" ".join(line.split()) for line in overview_lines([through, bad, learnt], day(9))[1:]]
    assert rows == [
        "A Tune yesterday 1 0 120 of 120 - -", "A Tune 6 days ago 0 1 - - -", "A Tune 7 days ago 0 3 92 of 120 4 bars -"
    ]  # fmt: skip
