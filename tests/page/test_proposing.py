"""The day's proposal on the page: every thing that can be begun is begun as the command would."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.page.proposing import begun_by, today
from companion.page.takes import Nothing
from companion.practice.records import Records
from companion.resources import DATA_VARIABLE, chart_names
from tests.practice.days import a_round, a_take


def test_somebody_new_is_given_a_tune_to_begin_with(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    told = today(Nothing())
    assert told["tunes"] == [] and told["trouble"] == ""
    assert told["minutes"] == sum(item["minutes"] for item in told["items"]) > 0
    begun = [item["begins"] for item in told["items"] if item["purpose"] != "pause"]
    assert begun and all(one["chart"] in chart_names() for one in begun)
    assert any(one["drill"] and one["kind"] == "notes" for one in begun)


def test_a_command_of_the_plan_is_begun_with_all_that_it_says() -> None:
    words = ("drill", "ferry-without-lights", "--bars", "5-8", "--you", "melody,chords", "--from", "60", "--to", "80")
    assert begun_by((*words, "--minutes", "6")) == {
        "drill": True,
        "chart": "ferry-without-lights",
        "you": ["melody", "chords"],
        "bars": [5, 8],
        "kind": "usual",
        "time": None,
        "tempo": None,
        "start": 60.0,
        "goal": 80.0,
        "minutes": 6.0,
    }


def test_a_pause_and_a_chart_that_lies_elsewhere_arent_begun() -> None:
    assert begun_by(()) is None
    assert begun_by(("play", "/somewhere/else.toml", "--tempo", "100")) is None


def test_a_command_that_says_little_is_begun_as_usual() -> None:
    assert begun_by(("play", "ferry-without-lights")) == {
        "drill": False,
        "chart": "ferry-without-lights",
        "you": ["melody"],
        "bars": None,
        "kind": "usual",
        "time": None,
        "tempo": None,
        "start": None,
        "goal": None,
        "minutes": None,
    }
    words = ("play", "ferry-without-lights", "--tempo", "96.5", "--time", "patient", "--kind", "notes", "--bars", "3")
    begun = begun_by(words)
    assert begun is not None and (begun["tempo"], begun["time"], begun["kind"]) == (96.5, "patient", "notes")
    assert begun_by(("play",)) is None


def test_each_tune_is_shown_with_what_was_reached_in_its_bars(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    now = datetime.now().astimezone()
    with Records(tmp_path) as records:
        for bars, tempo, good in (((1, 2), 60.0, True), ((3, 3), 180.0, True), ((4, 4), 90.0, False)):
            records.add_round(
                a_round(now - timedelta(days=1), bars, tempo, good, chart="ferry-without-lights", tune_tempo=120.0)
            )
        records.add_take(a_take(now - timedelta(days=2), chart="a-lost-tune"))
    told = today(Nothing())
    assert told["day"] == f"{now:%A}, {now.day} {now:%B}"
    ferry, lost = told["tunes"]
    assert (ferry["chart"], ferry["title"]) == ("ferry-without-lights", "Ferry Without Lights")
    assert [section["name"] for section in ferry["sections"]] == ["A1", "A2", "B", "A2"]
    assert ferry["sections"][0]["bars"] == [0.5, 0.5, 1.0, None, None, None, None, None], "shares of the tune's tempo"
    assert sum(len(section["bars"]) for section in ferry["sections"]) == 32
    assert [(one["first"], one["last"]) for one in ferry["passages"]] == [(1, 2), (3, 3), (4, 4)]
    assert "yesterday" in ferry["words"]
    assert (lost["chart"], lost["title"], lost["sections"], lost["passages"]) == ("", "A Lost Tune", [], [])
