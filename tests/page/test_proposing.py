"""The day's proposal on the page: every thing that can be begun is begun as the command would."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.page.proposing import begun_by, today
from companion.page.takes import Nothing
from companion.resources import DATA_VARIABLE, chart_names


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
