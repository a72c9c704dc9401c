"""The player's own charts: free places, and where a change is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.own import free_place, is_own, own_folder, place_of_change
from companion.load import load
from companion.resources import DATA_VARIABLE, chart_path

FERRY = "ferry-without-lights"


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    return tmp_path


def test_a_new_chart_takes_the_place_of_no_other() -> None:
    chart = load(chart_path(FERRY))
    first = free_place(chart)
    assert first == own_folder() / f"{FERRY}-2.toml", "a shipped one has the name"
    first.write_text("a person's", encoding="utf-8")
    assert free_place(chart) == own_folder() / f"{FERRY}-3.toml"


def test_what_is_made_of_a_shipped_chart_becomes_a_copy_that_goes_before_it() -> None:
    shipped = chart_path(FERRY)
    place = place_of_change(shipped, load(shipped))
    assert place == own_folder() / shipped.name and not is_own(shipped)
    place.write_text(shipped.read_text(encoding="utf-8"), encoding="utf-8")
    assert chart_path(FERRY) == place and is_own(place)
    assert place_of_change(place, load(place)) == place
    assert place_of_change(shipped, load(shipped)) == own_folder() / f"{FERRY}-2.toml", "nothing is overwritten"


def test_a_chart_that_lies_elsewhere_is_left_as_it_is(tmp_path: Path) -> None:
    elsewhere = tmp_path / "desk" / "a strange name; really.toml"
    elsewhere.parent.mkdir()
    elsewhere.write_text(chart_path(FERRY).read_text(encoding="utf-8"), encoding="utf-8")
    place = place_of_change(elsewhere, load(elsewhere))
    assert place == own_folder() / f"{FERRY}-2.toml"
