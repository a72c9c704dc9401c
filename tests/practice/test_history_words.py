"""A tune's history as one reads it."""

from __future__ import annotations

from dataclasses import replace

from companion.chart.model import Chart
from companion.practice.history_words import WIDE, history_lines, overview_lines
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
    assert max(map(len, lines)) <= WIDE
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
    assert [" ".join(line.split()) for line in lines[begin + 1 :]] == [
        "melody:",
        "bar 5: hesitated for 0.9 s 3 of 3 ●●●",
        "bar 7: A missed 3 of 6 ●●●○○○ getting rarer",
    ]
