"""The table of the records, as another program reads it."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

from companion.practice.history_table import COLUMNS, history_csv
from tests.practice.days import a_bar, a_round, a_take, evening
from tests.practice.test_history import day


def test_everything_is_there_in_order_of_time() -> None:
    take = a_take(evening(day(1)), folder="take")
    rounds = [
        a_round(evening(day(n)), (1, 4), 90, n > 0, why="" if n else 'bar 2: E, not F; "F" missed') for n in (0, 2)
    ]
    rows = list(csv.DictReader(io.StringIO(history_csv(rounds, [take], [a_bar(take, 3, 1)]))))
    assert [row["what"] for row in rows] == ["round", "take", "bar", "round"]
    assert list(rows[0]) == list(COLUMNS)
    assert rows[0]["why"] == 'bar 2: E, not F; "F" missed' and rows[0]["good"] == "no"
    assert rows[0]["at"] == "2026-11-02T18:00:00.000Z", "evening at seven, an hour east of Greenwich"
    bars = rows[2]
    assert (bars["first_bar"], bars["right"], bars["missing"], bars["take"]) == ("3", "3", "1", "take")
    assert (rows[1]["choruses"], rows[1]["good"]) == ("2", "")


def test_without_records_there_is_the_heading() -> None:
    assert history_csv([], [], []).splitlines() == [",".join(COLUMNS)]


def test_seconds_are_told_to_a_thousandth() -> None:
    round_ = replace(a_round(evening(day(0)), (1, 4), 90, True), seconds=12.34567)
    take = a_take(evening(day(1)), seconds=180.98765)
    rows = csv.DictReader(io.StringIO(history_csv([round_], [take], [])))
    assert [row["seconds"] for row in rows] == ["12.346", "180.988"]
