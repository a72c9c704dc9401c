"""``companion history``: in words, as a picture and as a table; what is deleted, the player alone deletes."""

from __future__ import annotations

import csv
import io
import sys
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.practice.records import Records
from companion.stage.take_files import takes_folder
from tests.practice.days import a_round, a_take
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import take_of
from tests.practice.test_proposal import LINE

FERRY, LOST = "ferry-without-lights", "a-lost-tune"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Some weeks of practice; the chart of one tune has gone."""
    now = datetime.now().astimezone()
    with Records(tmp_path / "data") as records:
        for days in (20, 19, 17, 9):
            one = a_round(now - timedelta(days=days), (1, 8), 96, True, chart=FERRY, tune_tempo=132.0)
            records.add_round(replace(one, title="Ferry Without Lights"))
        records.add_take(replace(a_take(now - timedelta(days=3), chart=LOST), title="A Lost Tune"))
    return tmp_path / "data"


def read(table: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))


def test_without_records_it_says_how_there_come_to_be_some(run) -> None:
    status, out, err = run("history")
    assert (status, err) == (0, "") and "nothing is in your records yet" in out


def test_all_tunes_have_a_line_and_one_tune_has_its_history(run, data: Path) -> None:
    status, out, err = run("history")
    assert (status, err) == (0, "")
    assert [line.split("  ")[0] for line in out.splitlines()[1:]] == ["A Lost Tune", "Ferry Without Lights"]
    status, out, err = run("history", FERRY)
    assert (status, err) == (0, "")
    assert "A1, bars 1-8" in out and "learnt, with good rounds on 3 days: bars 1-8 (melody) at 96" in out


@pytest.mark.parametrize("name", ["A Lost Tune", "a lost tune", LOST])
def test_a_tune_whose_chart_has_gone_is_found_by_its_title(run, data: Path, name: str) -> None:
    status, out, _ = run("history", name)
    assert status == 0 and out.startswith("A Lost Tune: 1 take")


def test_the_takes_of_today_are_looked_through_bar_by_bar(run, tmp_path: Path) -> None:
    take_of(tmp_path / "data", [LINE, BAD], you="melody")
    status, out, _ = run("history", "Four Steps")
    assert status == 0
    assert "7 of 8" in out and "2 (1)" in out, "bar 2 was played twice, once with two faults"


def test_a_picture_and_a_table_are_written_and_what_stood_there_is_kept(run, data: Path, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")
    picture, table = tmp_path / "ferry.png", tmp_path / "ferry.csv"
    table.write_text("mine", encoding="utf-8")
    status, out, err = run("history", FERRY, "--out", picture, "--csv", table)
    assert status == 0 and str(picture) in out and "4 rows" in out
    assert picture.read_bytes().startswith(b"\x89PNG")
    rows = read(table)
    assert [row["what"] for row in rows] == ["round"] * 4
    assert "what stood there is kept in" in err
    assert [path.read_text("utf-8") for path in tmp_path.glob("ferry.csv.former-1")] == ["mine"]


def test_the_table_of_everything_has_every_tune(run, data: Path, tmp_path: Path) -> None:
    assert run("history", "--csv", tmp_path / "all.csv")[0] == 0
    rows = read(tmp_path / "all.csv")
    assert {row["chart"] for row in rows} == {FERRY, LOST}


def test_what_is_deleted_is_asked_for_first(run, data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter(["n\n", "\n", "yes\n"])
    monkeypatch.setattr("companion.cli.looking_back.agreed", lambda question: next(answers).strip() in ("y", "yes"))
    for _ in range(2):
        status, out, err = run("history", FERRY, "--delete")
        assert status == 0 and "nothing is deleted" in err and not out
    with Records(data) as records:
        assert len(records.rounds(FERRY)) == 4
    status, out, _ = run("history", FERRY, "--delete")
    assert status == 0 and "deleted from your records: Ferry Without Lights, 4 rounds" in out
    with Records(data) as records:
        assert records.rounds(FERRY) == [] and len(records.takes(LOST)) == 1, "of other tunes nothing goes"


def test_where_nobody_can_be_asked_nothing_is_deleted(run, data: Path, monkeypatch, one_line) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    status, _, err = run("history", FERRY, "--delete")
    assert status == 2 and "say --yes" in err
    with Records(data) as records:
        assert len(records.rounds(FERRY)) == 4


def test_a_tune_that_was_deleted_stays_out_of_the_records_while_its_takes_stay(run, tmp_path: Path) -> None:
    take = take_of(tmp_path / "data", [LINE], you="melody")
    status, out, _ = run("history", "Four Steps", "--delete", "--yes")
    assert status == 0 and "stay in their folders" in out and take.folder.is_dir()
    assert "nothing is in your records yet" in run("history")[1]
    assert run("take", "delete", "last", "--yes")[0] == 0 and not list(takes_folder(tmp_path / "data").iterdir())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "p.svg"), "name its chart"),
        (("--out", "p.svg"), "--out is about one tune"),
        (("--delete",), "--delete is about one tune; name its chart"),
        (("--chords", FERRY), "--chords is about all your takes, and stands alone"),
        (("--chords", "--csv", "t.csv"), "--chords is about all your takes, and stands alone"),
        ((FERRY, "--chords", "--out", "p.svg"), "--chords is about all your takes, and stands alone"),
        ((FERRY, "--delete", "--out", "p.svg"), "write it first"),
        (("--yes",), "goes with --delete"),
        ((FERRY, "--yes"), "goes with --delete"),
        ((FERRY, "--delete", "--csv", "t.csv"), "write it first"),
        ((FERRY, "--out", "p.pdf"), "end it with .svg or .png"),
        (("fairy-without-light",), "did you mean 'ferry-without-lights'?"),
        (("two-spoons-short",), "'companion history' lists"),
    ],
)
def test_wrong_words_are_one_line(run, data: Path, one_line, words: tuple[str, ...], said: str) -> None:
    status, out, err = run("history", *words)
    assert status == 2 and said in one_line(err) and not out


def test_without_chords_of_the_players_own_it_is_said_what_there_would_be(run, data: Path) -> None:
    status, out, err = run("history", "--chords")
    assert (status, err) == (0, "") and out.strip()


def test_a_table_alone_is_of_every_tune_and_says_how_many_rows_it_has(run, data: Path, tmp_path: Path) -> None:
    table = tmp_path / "all.csv"
    said = run("history", "--csv", table)[1].splitlines()[-1]
    assert said == f"{table}: 5 rows: takes, their bars, and rounds of drills" and len(read(table)) == 5


def test_what_goes_is_counted_before_it_is_deleted(run, data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    monkeypatch.setattr("companion.cli.looking_back.agreed", asked.append)
    for name, held in ((FERRY, "Ferry Without Lights (4 rounds)"), (LOST, "A Lost Tune (1 take)")):
        assert run("history", name, "--delete")[0] == 2, "nobody answers"
        assert asked.pop() == f"delete all that is recorded of {held} for good?"
    with Records(data) as records:
        records.add_round(a_round(datetime.now().astimezone(), (1, 8), 96, True, chart=LOST))
    told = run("history", LOST, "--delete", "--yes")[1].splitlines()
    assert told == [
        "deleted from your records: A Lost Tune, 1 take and 1 round",
        "the takes themselves stay in their folders; 'companion take delete' deletes them",
    ]
    assert run("history", FERRY, "--delete", "--yes")[1].count("\n") == 1, "there is no take of it"


def test_records_of_a_newer_companion_are_left_alone(run, data: Path, one_line) -> None:
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(data / "records.db")) as file:
        file.execute("PRAGMA user_version = 99")
    status, _, err = run("history", FERRY, "--delete", "--yes")
    assert status == 2 and "newer companion" in one_line(err)
