"""Takes on the page: by their names alone, reviewed bar by bar, heard as they were played, deleted as a whole."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from companion.errors import TakeError
from companion.load import load
from companion.page.takes import Nothing, TakeAsked, chosen_by, deleted, pictured, reviewed, sounding, takes_listed
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform, played_by
from companion.stage.settings import Settings
from companion.stage.take import read_take


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Of a shipped tune, by the built-in pianist with slips."""
    chart = load(chart_path("two-spoons-short"))
    player, settings = played_by("evening", chart, Settings(choruses=1))
    played = perform(chart, settings, player, fast=True, data=tmp_path_factory.mktemp("player"))
    assert played.take is not None
    return played.take


@pytest.fixture(autouse=True)
def data(take: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(take.parents[1]))
    return take.parents[1]


def test_a_take_is_listed_with_its_day_and_its_parts(take: Path) -> None:
    (row,) = takes_listed(Nothing())["takes"]
    assert (row["take"], row["title"], row["you"]) == (take.name, "Two Spoons Short", ["melody"])
    assert (row["seconds"] > 10 and str(row["day"]).endswith("2026")) or row["day"]


def test_a_damaged_take_is_named_with_the_reason(data: Path) -> None:
    torn = data / "takes" / "2020-01-01-000000-torn"
    torn.mkdir()
    (torn / "take.json").write_text("{", encoding="utf-8")
    try:
        row = next(one for one in takes_listed(Nothing())["takes"] if one["take"] == torn.name)
        assert row["title"] == "torn" and "take.json" in row["fault"]
    finally:
        deleted(TakeAsked(torn.name))
    assert not torn.exists()


def test_every_bar_of_the_review_lies_in_the_form_and_counts_what_is_found(take: Path) -> None:
    told = reviewed(TakeAsked(take.name))
    assert told["chart"] == "two-spoons-short"
    bars = {bar["bar"] for row in told["rows"] for bar in row["bars"]}
    assert {finding["bar"] for finding in told["findings"]} <= bars | {0}
    assert {bar["bar"] for bar in told["bars"]} <= bars | {0}
    faults = Counter({kind: sum(bar[kind] for bar in told["bars"]) for kind in ("wrong", "missing", "extra")})
    said = Counter(finding["what"] for finding in told["findings"])
    assert said["wrong-note"] <= faults["wrong"] and said["missed-note"] <= faults["missing"]
    assert told["said"][0].startswith(("Notes are", "A note is"))


def test_the_review_has_a_picture_each_time_through_with_the_marks_of_what_was_found(take: Path) -> None:
    for extra in ("verovio", "matplotlib"):
        pytest.importorskip(extra, reason=f"{extra} isn't installed")
    asked = TakeAsked(take.name)
    (drawn,) = pictured(asked)["pictures"]
    assert drawn["svg"].startswith("<svg") and "<script" not in drawn["svg"]
    (finding, *_) = reviewed(asked)["findings"]
    assert finding["text"].split(": ", 1)[1].split(",")[0] in drawn["svg"]
    assert pictured(asked)["pictures"][0] is drawn, "it is drawn once"
    (narrow,) = pictured(TakeAsked(take.name, narrow=True))["pictures"]
    assert len(narrow["places"]) == len(drawn["places"]) > 0
    assert narrow["places"][0]["width"] > 1.5 * drawn["places"][0]["width"], "fewer bars stand in a line"


def test_all_that_sounded_is_heard_again_from_its_first_note_on(take: Path) -> None:
    told = sounding(TakeAsked(take.name))
    kept = read_take(take)
    assert len(told["notes"]) == len(kept.heard()) + len(kept.sounded())
    moments = [at for at, *_ in told["notes"]]
    assert moments == sorted(moments) and 0 <= moments[0] < 1 and moments[-1] <= told["seconds"] + 1
    assert {status & 0x0F for _, status, *_ in told["notes"]} <= {0, 1, 2, 3, 9}


@pytest.mark.parametrize("name", ["", ".", "..", "../takes", "/etc", "nothing", "a/b", "last", "1"])
def test_a_take_is_named_and_never_a_path(name: str, take: Path) -> None:
    for work in (reviewed, pictured, sounding, deleted):
        with pytest.raises(TakeError, match="no such take"):
            work(TakeAsked(name))
    assert take.exists()


def test_a_chart_without_a_name_of_its_own_cant_be_chosen() -> None:
    assert chosen_by("two-spoons-short") == "two-spoons-short"
    assert chosen_by("/somewhere/secret.toml") == ""
