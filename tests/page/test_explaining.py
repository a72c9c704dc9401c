"""A bar explained, kept note for note, made anew, and free again; and nothing of the player's is lost by it."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.own import own_folder
from companion.errors import UseError
from companion.load import load
from companion.page.explaining import ExplainAsked, KeepAsked, explained, kept
from companion.page.how import AS_WRITTEN, How
from companion.resources import DATA_VARIABLE, chart_path

FERRY = chart_path("ferry-without-lights")


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))


def test_each_part_says_what_it_plays_and_why_in_signs_as_they_are_printed() -> None:
    told = explained(ExplainAsked(str(FERRY), AS_WRITTEN, 17, 18))
    assert [bar["bar"] for bar in told["bars"]] == [17, 18]
    first = told["bars"][0]
    assert first["treatment"] == "sparse" and first["scales"] == "F mixolydian"
    assert {line["part"] for line in first["lines"]} == {"bass", "chords"}
    assert any("B♭3 E♭4 (1 4 ♭7)" in line["text"] for line in first["lines"])


def test_another_treatment_has_other_reasons() -> None:
    told = explained(ExplainAsked(str(FERRY), How(treatments={"B": "walking"}), 17, 17))
    bass = [line["text"] for line in told["bars"][0]["lines"] if line["part"] == "bass"]
    assert told["bars"][0]["treatment"] == "walking" and bass[0].count(";") >= 3, "it walks"


def test_a_shipped_chart_is_kept_in_a_copy_note_for_note_as_it_was_explained() -> None:
    how = How(treatments={"B": "walking"}, seed=3)
    told = kept(KeepAsked(str(FERRY), how, (17, 20)))
    assert told["name"] == FERRY.stem and "bars 17–20" in told["said"] and "copy of your own" in told["said"]
    own = chart_path(FERRY.stem)
    assert own.parent == own_folder()
    chart = load(own)
    assert {part.part: sorted(part.bars) for part in chart.written if part.part != "melody"} == {
        "chords": [17, 18, 19, 20],
        "bass": [17, 18, 19, 20],
    }
    assert "Fourths falling in the melody" in own.read_text(encoding="utf-8"), "its comments are there"
    bars = explained(ExplainAsked(str(own), AS_WRITTEN, 17, 17))["bars"]
    assert "bass" in bars[0]["written"]


def test_bars_made_anew_and_made_free_keep_what_was_written_beside_them() -> None:
    kept(KeepAsked(str(FERRY), AS_WRITTEN, (1, 4)))
    own = chart_path(FERRY.stem)
    before = own.read_text(encoding="utf-8")
    anew = kept(KeepAsked(str(own), How(seed=9), (1, 2)))
    former = own.with_name(anew["said"].rpartition(" ")[2])
    assert former.read_text(encoding="utf-8") == before != own.read_text(encoding="utf-8")
    kept(KeepAsked(str(own), AS_WRITTEN, (1, 3), free=True))
    assert {sorted(part.bars)[0] for part in load(own).written} == {4}
    kept(KeepAsked(str(own), AS_WRITTEN, None, free=True))
    assert load(own).written == ()


@pytest.mark.parametrize("bars", [(0, 3), (5, 4), (30, 33)])
def test_bars_that_there_arent_are_said(bars: tuple[int, int]) -> None:
    with pytest.raises(UseError, match="there are no such bars; the form has bars 1 to 32"):
        kept(KeepAsked(str(FERRY), AS_WRITTEN, bars))


TUNE = 'format = 1\ntitle = "Stairs"\n[section.A]\nchords = "| {bars} |"\n'


def test_eight_bars_are_explained_at_a_time(tmp_path: Path) -> None:
    path = tmp_path / "stairs.toml"
    path.write_text(TUNE.format(bars=" | ".join(["C", "Bb7"] * 6)), encoding="utf-8")
    told = explained(ExplainAsked(str(path), AS_WRITTEN, 2, 12))
    assert [(bar["bar"], bar["chords"]) for bar in told["bars"]] == [
        (number, "C" if number % 2 else "B♭7") for number in range(2, 10)
    ]
    assert [bar["bar"] for bar in explained(ExplainAsked(str(path), AS_WRITTEN, 3, 5))["bars"]] == [3, 4, 5]
    assert all(bar["written"] == [] and bar["section"] == "A" for bar in told["bars"])


def test_what_was_kept_is_said_with_its_bars_and_with_what_was_there(tmp_path: Path) -> None:
    path = own_folder() / "stairs.toml"
    path.parent.mkdir(parents=True)
    path.write_text(TUNE.format(bars="C | F | G7 | C"), encoding="utf-8")
    said = [
        kept(KeepAsked(str(path), AS_WRITTEN, bars, free))["said"]
        for bars, free in (((4, 4), False), ((1, 2), False), ((4, 4), True), (None, True))
    ]
    former = [f"; what was there is kept as stairs.toml.former-{number}" for number in range(1, 5)]
    assert said == [
        f"bar 4: written note for note{former[0]}",
        f"bars 1–2: written note for note{former[1]}",
        f"bar 4: free again, new in every chorus{former[2]}",
        f"bars 1–4: free again, new in every chorus{former[3]}",
    ]
