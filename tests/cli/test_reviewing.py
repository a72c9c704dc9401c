"""``companion review``: of a take and of a recording, in words and as JSON; and what it says of wrong words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from companion.load import load
from companion.pianist.player import simulate
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform as perform_demo
from companion.stage.performance import recording_bytes
from companion.stage.settings import Settings
from tests.practice.planted import Leg, PlantedTake, perform

NAME = "ferry-without-lights"


def once(**more: float) -> PlantedTake:
    return perform(load(chart_path(NAME)).unfold(), [Leg(-1, 128)], **more)  # type: ignore[arg-type]


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """The tune with one note left out, the tenth."""
    path = tmp_path / "played.mid"
    path.write_bytes(recording_bytes(once().changed(9, None).heard, []))
    return path


def test_a_recording_is_reviewed_in_words_and_as_a_table(run, recording, tmp_path):
    table = tmp_path / "review.json"
    status, out, err = run("review", NAME, str(recording), "--you", "melody", "--json", str(table))
    assert (status, err) == (0, "")
    assert "82 of 83 notes right" in out and "missed" in out
    found = json.loads(table.read_text(encoding="utf-8"))
    assert [note["kind"] for note in found["notes"]].count("missing") == 1
    assert [finding["what"] for finding in found["findings"]] == ["missed-note"]


def test_the_last_take_is_reviewed_where_nothing_is_said(run, tmp_path, monkeypatch):
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    chart = load(chart_path("two-spoons-short"))
    player = simulate(chart.unfold(), frozenset({"melody"}), choruses=2, seed=5, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=2)
    perform_demo(chart, settings, player, fast=True, data=tmp_path)
    status, out, _ = run("review")
    assert status == 0
    assert out.startswith("Two Spoons Short\n") and "2 times through" in out
    assert "to mend it:\n  companion drill two-spoons-short --bars" in out


def test_without_a_take_it_says_how_to_get_one(run):
    status, _, err = run("review")
    assert status == 2 and "companion play CHART" in err


def test_a_chart_alone_is_told_from_a_take(run):
    status, _, err = run("review", NAME)
    assert status == 2 and err.count("\n") == 1 and "also what was played" in err


def test_an_output_that_is_the_recording_itself_is_refused(run, recording):
    before = recording.read_bytes()
    status, _, err = run("review", NAME, str(recording), "--json", str(recording))
    assert status == 2 and "named twice" in err
    assert recording.read_bytes() == before
