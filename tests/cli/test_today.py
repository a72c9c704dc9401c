"""``companion today``: how the tunes stand, what to practise, and going through it."""

from __future__ import annotations

import re
import shlex
import sqlite3
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.cli.commands import build_parser
from companion.cli.practised import Evening
from companion.cli.today import go_through
from companion.practice.day_plan import PlanItem
from companion.practice.records import Records
from tests.practice.days import a_round, a_take

FERRY = "ferry-without-lights"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Some weeks of practice."""
    now = datetime.now().astimezone()
    with Records(tmp_path / "data") as records:
        for days in (20, 19, 17, 9):
            records.add_round(a_round(now - timedelta(days=days), (1, 4), 132, True, chart=FERRY, tune_tempo=132.0))
        records.add_round(a_round(now - timedelta(days=2), (5, 8), 90, False, chart=FERRY, tune_tempo=132.0))
        records.add_take(replace(a_take(now - timedelta(days=3), chart="a-lost-tune"), title="A Lost Tune"))
    return tmp_path / "data"


def proposed(out: str) -> list[list[str]]:
    """The commands that are printed."""
    return [shlex.split(line)[1:] for line in out.splitlines() if line.strip().startswith("companion ")]


def test_a_newcomer_is_shown_a_beginning(run) -> None:
    status, out, err = run("today")
    assert status == 0 and not err
    assert out.startswith("Nothing is in your records yet")
    assert "warm up" in out and " new " in out and "pause" in out
    assert "numbness means stop" in out


def test_it_shows_how_the_tunes_stand_and_what_to_keep_to_mend_and_to_begin(run, data: Path) -> None:
    status, out, err = run("today")
    assert status == 0 and not err
    assert re.search(r"A1 ████····  A2 ········  B ········", out)
    assert "A Lost Tune" in out and "its chart isn't there any more" in out
    assert [word for word in ("warm up", "keep", "mend", "pause", "new") if word in out] == [
        "warm up", "keep", "mend", "pause", "new",
    ]  # fmt: skip
    assert "bar 5: F♯ missed" in out


@pytest.mark.parametrize("minutes", [5, 20, 90])
def test_every_command_that_is_printed_can_be_given(run, data: Path, minutes: int) -> None:
    _, out, _ = run("today", "--minutes", minutes)
    commands = proposed(out)
    assert commands
    for words in commands:
        args, unknown = build_parser().parse_known_args(words)
        assert args.run and not unknown


def test_no_line_is_wider_than_a_terminal_that_is_wide(run, data: Path) -> None:
    _, out, _ = run("today")
    assert max(map(len, out.splitlines())) <= 110


def test_where_nobody_can_be_asked_nothing_begins(run, data: Path) -> None:
    _, out, err = run("today")
    assert "[y/N]" not in out + err


def test_records_of_a_newer_companion_are_one_line(run, data: Path, one_line) -> None:
    with sqlite3.connect(data / "records.db") as file:
        file.execute("PRAGMA user_version = 99")
    file.close()
    status, out, err = run("today")
    assert status == 2 and not out
    assert "records.db" in one_line(err) and "update" in err


def test_damaged_records_are_one_line_and_the_day_goes_on(run, data: Path, one_line) -> None:
    (data / "records.db").write_bytes(b"noise" * 1000)
    status, out, err = run("today")
    assert status == 0 and "warm up" in out
    assert "was damaged" in one_line(err)


# Going through it

PLAN = [
    PlanItem("warm up", 5, "Tune, bars 1-4", "", ("drill", "tune", "--bars", "1-4")),
    PlanItem("pause", 5, "hands off the keys"),
    PlanItem("new", 5, "Tune, bars 5-8", "", ("drill", "tune", "--bars", "5-8")),
]


def test_one_thing_follows_the_other_with_the_pause_between(capsys: pytest.CaptureFixture[str]) -> None:
    done: list[object] = []
    go_through(
        PLAN, lambda words, evening: done.append(words[-1]), wait=lambda seconds, what: done.append((what, seconds))
    )
    assert done == [("it begins", 5.0), "1-4", ("pause", 300.0), ("it begins", 5.0), "5-8"]
    assert "3 of 3, new: Tune, bars 5-8" in capsys.readouterr().err


def test_the_wish_to_stop_ends_it_all(capsys: pytest.CaptureFixture[str]) -> None:
    done: list[str] = []

    def begin(words: object, evening: Evening) -> None:
        done.append(str(words))
        evening.stopped = True

    go_through(PLAN, begin, wait=lambda seconds, what: None)
    assert len(done) == 1
    assert "stopped, as you wished" in capsys.readouterr().err
