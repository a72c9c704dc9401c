"""What is kept in the records once one has played, and what is asked of them before."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.load import load
from companion.practice.practised import played_before, take_kept
from companion.practice.records import Records
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform, played_by
from companion.stage.settings import Settings


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
