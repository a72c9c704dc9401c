"""A take in the light of the takes before it: what recurs is said, in words and as a table, and so is what is gone."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from companion.practice.account import account, sentences
from companion.practice.records import Records
from companion.practice.records_file import FILE, MIGRATIONS, OURS
from companion.practice.review import Review, take_review
from companion.practice.review_table import review_table
from companion.practice.slips_before import in_the_light_of_earlier, recurring_in
from companion.practice.taken_in import take_in
from companion.preferences import preferences
from companion.preferences.review import ReviewPreferences
from companion.stage.take import read_take
from companion.stage.take_files import takes_folder
from tests.practice.takes_of_days import LINE, WITHOUT, Line, played_on
from tests.practice.test_partner import TUNE

OTHER: Line = [*LINE[:2], 80, *LINE[3:]]
"""Bar 1 with a wrong note."""


def last_of(data: Path, *lines: Line) -> Review:
    """The review of the last of some takes, a take a day."""
    takes = [played_on(data, day, line) for day, line in enumerate(lines)]
    return in_the_light_of_earlier(take_review(takes[-1]), takes[-1], frozenset({"melody"}), data)


def test_a_note_left_out_for_the_third_time_is_said_to_be(tmp_path: Path) -> None:
    found = last_of(tmp_path, WITHOUT, LINE, WITHOUT, WITHOUT)
    assert sentences(found)[0] == "A note is missing in bar 2: F missed, the third time in four takes."
    assert "bar 2: F missed (the third time in four takes)" in account("", found, TUNE.unfold(), {"melody"}, "tune")
    (row,) = review_table(found)["findings"]
    assert row["text"] == "bar 2: F missed", "what others read stays as it was"
    assert row["recurs"] == {"times": 3, "takes": 4, "text": "the third time in four takes"}


def test_what_recurs_is_said_before_what_happened_once(tmp_path: Path) -> None:
    both: Line = [*OTHER[:6], None, *OTHER[7:]]
    assert "missing in bar 2" in sentences(last_of(tmp_path, WITHOUT, WITHOUT, both))[0]
    assert "wrong in bar 1" in sentences(last_of(tmp_path / "others", OTHER, OTHER, both))[0]


def test_a_slip_of_the_takes_before_that_is_gone_is_said_to_be(tmp_path: Path) -> None:
    found = last_of(tmp_path, WITHOUT, WITHOUT, WITHOUT, LINE)
    assert not found.findings
    assert sentences(found)[0] == "Bar 2: F missed in three of four takes, not this time."
    (gone,) = review_table(found)["gone"]
    assert (gone["bar"], gone["times"], gone["takes"]) == (2, 3, 4)


def test_the_first_takes_of_a_tune_say_nothing_of_others(tmp_path: Path) -> None:
    assert [one.recurs for one in last_of(tmp_path, WITHOUT, WITHOUT).findings] == [None]


def test_a_take_is_held_against_those_before_it_and_not_against_later_ones(tmp_path: Path) -> None:
    first, *_ = [played_on(tmp_path, day, WITHOUT) for day in range(4)]
    found = in_the_light_of_earlier(take_review(first), first, frozenset({"melody"}), tmp_path)
    assert [one.recurs for one in found.findings] == [None]


def test_records_that_cant_be_opened_leave_the_review_as_it_was(tmp_path: Path) -> None:
    take = played_on(tmp_path, 0, WITHOUT)
    (tmp_path / FILE).write_bytes(b"")
    (tmp_path / FILE).unlink()
    (tmp_path / FILE).mkdir()
    found = take_review(take)
    assert in_the_light_of_earlier(found, take, frozenset({"melody"}), tmp_path).findings == found.findings


def test_takes_that_an_older_companion_judged_are_looked_at_for_their_slips(tmp_path: Path) -> None:
    """Their bars stay as they were recorded; a take that has gone loses nothing."""
    for day in range(3):
        played_on(tmp_path, day, WITHOUT)
    with Records(tmp_path) as records:
        take_in(records, tmp_path)
        columns = list(records.takes())
    (tmp_path / FILE).unlink()
    with closing(sqlite3.connect(tmp_path / FILE)) as old:
        for statements in MIGRATIONS[:2]:
            for statement in statements:
                old.execute(statement)
        for one in columns:
            old.execute(
                "INSERT INTO takes VALUES (?, ?, ?, ?, 'melody', 'C', 120, 120, 'follow', 9, 'ended', 4, 1, 0, 1)",
                (one.folder, one.started.isoformat(), one.chart, one.title),
            )
            old.execute(
                "INSERT INTO bars VALUES (NULL, ?, 2, 1, 1, 0, 1, 0, 99, NULL, NULL)",
                (one.folder,),
            )
        old.execute(f"PRAGMA application_id = {OURS}")
        old.execute("PRAGMA user_version = 2")
        old.commit()
    takes = [read_take(folder) for folder in sorted(takes_folder(tmp_path).iterdir())]
    found = in_the_light_of_earlier(take_review(takes[-1]), takes[-1], frozenset({"melody"}), tmp_path)
    assert found.findings[0].recurs is not None and found.findings[0].recurs.times == 3
    with Records(tmp_path) as records:
        assert {bar.tempo for bar in records.bars()} == {99.0}
        (slip,) = recurring_in(records, takes[0].title, preferences(ReviewPreferences).recurring)
        assert slip.made == (True, True, True)


def test_a_take_reviewed_by_other_parts_than_its_own_is_held_against_none(tmp_path: Path) -> None:
    takes = [played_on(tmp_path, day, WITHOUT) for day in range(4)]
    found = take_review(takes[-1])
    assert in_the_light_of_earlier(found, takes[-1], frozenset({"bass"}), tmp_path) is found


def test_in_a_chart_of_which_no_take_was_judged_nothing_recurs(tmp_path: Path) -> None:
    with Records(tmp_path) as records:
        assert recurring_in(records, "Never Played", preferences(ReviewPreferences).recurring) == []
