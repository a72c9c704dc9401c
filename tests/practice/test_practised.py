"""What is kept in the records once one has played, and what is asked of them before."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from companion.load import load
from companion.practice.practised import played_before, take_kept
from companion.practice.records import Records
from companion.practice.records_file import FILE
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform, played_by
from companion.stage.settings import Settings
from tests.practice.test_partner import WALK, take_of


def test_a_take_that_was_just_played_is_in_the_records_and_counts_towards_a_pause(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    assert played_before() == 0.0 and take_kept(None) == "" and take_kept(None, "said before") == "said before"
    chart = load(chart_path("two-spoons-short"))
    player, settings = played_by("evening", chart, Settings(choruses=1))
    played = perform(chart, settings, player, fast=True, data=tmp_path)
    assert take_kept(played.take) == "" and take_kept(played.take, "said before") == "said before"
    with Records() as records:
        assert [take.chart for take in records.takes()] == ["two-spoons-short"]
    assert played_before() > 0


def test_records_that_cant_be_opened_keep_nobody_from_playing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "file"))
    (tmp_path / "file").write_text("where the folder should be", encoding="utf-8")
    assert played_before() == 0.0


def test_records_of_a_newer_companion_are_told_and_tell_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    take = take_of(tmp_path, [WALK])
    Records().close()
    with closing(sqlite3.connect(tmp_path / FILE)) as file:
        file.execute("PRAGMA user_version = 99")
    assert played_before() == 0.0
    assert "newer companion" in take_kept(take.folder) and take_kept(take.folder, "said before") == "said before"


def test_what_was_amiss_with_the_records_is_told_once_unless_something_else_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    take = take_of(tmp_path, [WALK])
    for before, told in (("", "was damaged"), ("said before", "said before")):
        (tmp_path / FILE).write_bytes(b"noise" * 1000)
        assert told in take_kept(take.folder, before)
        with Records() as records:
            assert records.has_take(take.folder.name)
    assert take_kept(take.folder) == ""
