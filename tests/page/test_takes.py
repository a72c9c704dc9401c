"""Takes on the page: by their names alone, reviewed bar by bar, heard as they were played, deleted as a whole."""

from __future__ import annotations

import shutil
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from companion.errors import TakeError
from companion.load import load
from companion.messages import Beat, Heard, Round
from companion.page.demo_player import DEMO_MARK, demo_takes
from companion.page.takes import (
    Nothing,
    TakeAsked,
    _in_the_tune,
    chosen_by,
    deleted,
    pictured,
    reviewed,
    sounding,
    takes_listed,
)
from companion.practice.account import NOTHING
from companion.practice.findings import Finding
from companion.practice.passage import passage
from companion.practice.review import Review
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform, played_by
from companion.stage.settings import Settings
from companion.stage.take import Take, read_take
from companion.stage.take_writer import TakeWriter
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import TUNE, take_of
from tests.practice.test_proposal import LINE


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


# Of takes that are made by hand


@pytest.fixture
def row(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Take:
    """Four bars played twice, the second time with bar 2 gone wrong; the player's only take."""
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    return take_of(tmp_path, [LINE, BAD], you="melody")


def test_all_that_the_list_says_of_a_take(row: Take) -> None:
    started = row.started
    assert takes_listed(Nothing()) == {
        "takes": [
            {
                "take": row.folder.name,
                "demo": False,
                "day": f"{started:%A}, {started.day} {started:%B %Y}",
                "hour": f"{started:%H:%M}",
                "title": "Four Steps",
                "seconds": 16,
                "you": ["melody"],
                "how": "ended",
                "drill": False,
                "kept": False,
            }
        ],
        "more": 0,
        "demos": [],
    }


@pytest.mark.parametrize(("takes", "listed", "more"), [(200, 200, 0), (203, 200, 3)])
def test_two_hundred_takes_are_listed(row: Take, tmp_path: Path, takes: int, listed: int, more: int) -> None:
    for number in range(takes - 1):
        torn = tmp_path / "takes" / f"2020-01-01-{number:06}-torn"
        torn.mkdir()
        (torn / "take.json").write_text("{", encoding="utf-8")
    told = takes_listed(Nothing())
    assert (len(told["takes"]), told["more"]) == (listed, more)
    assert "torn" in {one["title"] for one in told["takes"]}


def test_a_review_says_what_was_played_bar_by_bar(row: Take) -> None:
    told = reviewed(TakeAsked(row.folder.name))
    assert (told["take"], told["title"], told["chart"], told["rounds"]) == (row.folder.name, "Four Steps", "", [])
    assert told["said"][-1] == "You went through 8 bars without a stop."
    counted = [(bar["bar"], bar["pass"], bar["right"], bar["wrong"], bar["missing"]) for bar in told["bars"]]
    assert counted == [
        (1, 1, 2, 0, 0), (2, 1, 2, 0, 0), (3, 1, 1, 0, 0), (4, 1, 1, 0, 0),
        (1, 2, 2, 0, 0), (2, 2, 0, 1, 1), (3, 2, 1, 0, 0), (4, 2, 1, 0, 0),
    ]  # fmt: skip
    assert [one["text"] for one in told["findings"]] == ["bar 2: A♭, not G", "bar 2: F missed"]
    (section,) = told["rows"]
    assert [(bar["bar"], bar["chords"]) for bar in section["bars"]] == [
        (1, ["Dm7"]), (2, ["G7"]), (3, ["Cmaj7"]), (4, ["C6"]),
    ]  # fmt: skip


def test_the_players_own_takes_are_seen_in_the_light_of_earlier_ones_and_demos_arent(
    row: Take, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []

    def in_the_light(found: Any, take: Take, you: Any) -> Any:
        seen.append(take.folder.name)
        return found

    monkeypatch.setattr("companion.page.takes.in_the_light_of_earlier", in_the_light)
    reviewed(TakeAsked(row.folder.name))
    shutil.copytree(row.folder, demo_takes() / "takes" / row.folder.name)
    demo = reviewed(TakeAsked(f"{DEMO_MARK}{row.folder.name}"))
    assert seen == [row.folder.name]
    assert demo["demo"] and demo["said"][-1] == "The pianist went through 8 bars without a stop."
    (listed,) = takes_listed(Nothing())["demos"]
    assert (listed["take"], listed["demo"]) == (f"{DEMO_MARK}{row.folder.name}", True)


def test_a_demo_of_some_bars_is_reviewed_in_the_bars_of_the_tune(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bars 2 and 3, gone over twice: the second time with a wrong note."""
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    cut = passage(TUNE, 2, 3, way_in=0).chart
    writer = TakeWriter(cut, Settings(you=frozenset({"melody"}), parts=("click",), tempo=120.0), demo_takes())
    for number, keys in ((1, {0: 79, 2: 77, 4: 76}), (2, {0: 79, 2: 77, 4: 75})):
        start = 4.0 * number
        writer.add(Round(start, number, 2, 3, ("melody",), "C major", 120.0, start))
        for beat in range(8):
            writer.add(Beat(float(beat), start + beat / 2, 1.0, number))
            if beat in keys:
                writer.add(Heard(start + beat / 2, 0x90, keys[beat], 80))
                writer.add(Heard(start + beat / 2 + 1, 0x80, keys[beat], 0))
    folder = writer.close("ended")
    assert folder is not None
    told = reviewed(TakeAsked(f"{DEMO_MARK}{folder.name}"))
    assert {bar["bar"] for bar in told["bars"]} == {2, 3} == {bar["bar"] for bar in told["rows"][0]["bars"]}
    assert [(one["bar"], one["text"]) for one in told["findings"]] == [(3, "bar 3: E♭, not E")]


@pytest.mark.parametrize(
    ("text", "in_the_tune"),
    [
        ("bar 2: left out; you went on at bar 4", "bar 10: left out; you went on at bar 12"),
        ("bar 3: went back to bar 1", "bar 11: went back to bar 9"),
        ("bars 2 to 4: swung 2.1 to 1, elsewhere 1.6 to 1", "bars 10 to 12: swung 2.1 to 1, elsewhere 1.6 to 1"),
        ("the pickup: hesitated for 1.2 s", "bar 8: hesitated for 1.2 s"),
    ],
)
def test_every_bar_that_a_finding_names_has_its_number_in_the_tune(text: str, in_the_tune: str) -> None:
    found = Review((), (), (), (Finding(2, 1, "skipped", 1.0, text, last=4),))
    (one,) = _in_the_tune(found, 8).findings
    assert (one.text, one.bar, one.last) == (in_the_tune, 10, 12)


def test_it_is_heard_again_from_shortly_before_its_first_note(row: Take) -> None:
    told = sounding(TakeAsked(row.folder.name))
    # At one second the click (channel 10), the player's key a hundredth after it (their channel is left out).
    assert told["notes"][:3] == [
        (pytest.approx(0.3), 0x99, 76, 60),
        (pytest.approx(0.31, abs=2e-4), 0x90, 77, 80),
        (pytest.approx(0.75), 0x80, 77, 0),
    ]
    assert told["seconds"] == pytest.approx(row.seconds - 0.7)


@pytest.mark.parametrize(("first", "begins"), [(0.1, 0.1), (0.3, 0.3), (5.0, 0.3)])
def test_no_more_is_left_out_before_the_first_note_than_there_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first: float, begins: float
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    writer = TakeWriter(TUNE, Settings(you=frozenset({"melody"}), parts=()), tmp_path)
    writer.add(Heard(first, 0x90, 60, 80))
    writer.add(Heard(first + 1, 0x80, 60, 0))
    folder = writer.close("ended")
    assert folder is not None
    notes = sounding(TakeAsked(folder.name))["notes"]
    assert [note[1:] for note in notes] == [(0x90, 60, 80), (0x80, 60, 0)]
    assert notes[0][0] == pytest.approx(begins, abs=2e-3)


def test_of_a_drill_the_rounds_that_were_judged_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    writer = TakeWriter(TUNE, Settings(you=frozenset({"melody"}), parts=()), tmp_path)
    for number, good in ((1, True), (2, False), (3, None)):
        at = 10.0 * number
        writer.add(Heard(at, 0x90, 77, 80))
        writer.add(Heard(at + 1, 0x80, 77, 0))
        writer.add(Round(at, number, 1, 2, ("melody",), "C major", 59.6 + number, at, good=good, why="F missed"))
    folder = writer.close("ended")
    assert folder is not None
    told = reviewed(TakeAsked(folder.name))
    assert told["drill"] and told["rounds"] == [
        {"number": 1, "bars": [1, 2], "key": "C major", "tempo": 61, "good": True, "why": "F missed"},
        {"number": 2, "bars": [1, 2], "key": "C major", "tempo": 62, "good": False, "why": "F missed"},
    ]
    assert pictured(TakeAsked(folder.name)) == {"pictures": []}


def test_where_nothing_was_played_over_the_form_that_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    writer = TakeWriter(TUNE, Settings(you=frozenset({"melody"}), parts=()), tmp_path)
    writer.add(Heard(1.0, 0x90, 77, 80))
    writer.add(Heard(2.0, 0x80, 77, 0))
    folder = writer.close("stopped")
    assert folder is not None and reviewed(TakeAsked(folder.name))["said"] == [NOTHING]
