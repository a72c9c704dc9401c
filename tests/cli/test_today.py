"""``companion today``: how the tunes stand, what to practise, and going through it."""

from __future__ import annotations

import re
import shlex
import sqlite3
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from companion.cli import today
from companion.cli.commands import build_parser
from companion.cli.practised import Evening
from companion.cli.today import go_through, today_lines
from companion.practice.day_plan import PlanItem, Stand
from companion.practice.records import Records
from companion.practice.repertoire import TuneStanding
from tests.cli.conftest import Keyboard
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


# In full


def test_a_day_is_told_with_its_minutes_and_the_commands_that_begin_it() -> None:
    items = [
        PlanItem("warm up", 5, "Tune, bars 1-4", "", ("drill", "a tune", "--bars", "1-4")),
        PlanItem("keep", 20, "Tune, bars 5-8", "it held " + "well and " * 9 + "long", ("drill", "tune")),
        PlanItem("pause", 10, "hands off the keys"),
    ]
    now = datetime(2026, 11, 9, 18, 30).astimezone()
    lines = today_lines(Stand([], {}, []), items, now, " --data here")
    assert lines[:11] == [
        "Nothing is in your records yet: here is a beginning.",
        "",
        "Monday, 9 November: 35 minutes",
        "",
        " warm up   5 min  Tune, bars 1-4",
        "                  companion drill 'a tune' --bars 1-4 --data here",
        "    keep  20 min  Tune, bars 5-8: it held well and well and well and well and well and well and well",
        "                  and well and well and long",
        "                  companion drill tune --data here",
        "   pause  10 min  hands off the keys",
        "",
    ]
    assert all(len(line) <= 100 for line in lines) and "numbness means stop" in " ".join(lines[11:])
    lines = today_lines(Stand([], {}, []), [], now)
    assert lines[2:5] == [
        "Monday, 9 November",
        "",
        "no chart to propose: bring one with 'companion chart import FILE'",
    ]


@pytest.mark.parametrize(("tunes", "more"), [(6, None), (7, "  and 1 more"), (9, "  and 3 more")])
def test_the_pictures_of_six_tunes_are_shown(tunes: int, more: str | None) -> None:
    now = datetime(2026, 11, 9, 18, 30).astimezone()
    one = TuneStanding("tune", "Tune", now - timedelta(days=1), 1, 0, 120.0, None, (), (), ("melody",))
    lines = today_lines(Stand([replace(one, title=f"Tune {n}") for n in range(tunes)], {}, []), [], now)
    assert lines[0] == "Your tunes" and lines[2] == "    its chart isn't there any more"
    assert [line.split(":")[0] for line in lines[1:13:2]] == [f"  Tune {n}" for n in range(6)]
    assert (lines[13] == more) if more else lines[13].startswith("  (")


def test_pauses_and_breaths_last_as_long_as_they_should(monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    clock = SimpleNamespace(monotonic=lambda: sum(slept), sleep=slept.append)
    monkeypatch.setattr(today, "time", clock)
    go_through(PLAN[:2], lambda words, evening: None)
    assert sum(slept) == pytest.approx(5 + 5 * 60) and max(slept) == 0.1


def test_while_it_waits_it_is_shown_how_much_of_the_time_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    shown: list[tuple[str, float, float]] = []

    class Shown:
        def __init__(self, what: str, whole: float) -> None:
            self.what, self.whole = what, whole

        def __enter__(self) -> Shown:
            return self

        def __exit__(self, *_: object) -> None: ...

        def show(self, done: float) -> None:
            shown.append((self.what, self.whole, done))

    monkeypatch.setattr(today, "time", SimpleNamespace(monotonic=lambda: sum(slept), sleep=slept.append))
    monkeypatch.setattr(today, "Progress", Shown)
    go_through(PLAN[:1], lambda words, evening: None)
    assert {(what, whole) for what, whole, _ in shown} == {("it begins", 5.0)}
    assert [done for *_, done in shown] == pytest.approx([n / 10 for n in range(len(shown))]) and len(shown) >= 50


def test_what_is_gone_through_is_begun_without_a_hand_on_the_computer(
    run, data: Path, keyboard: Keyboard, monkeypatch: pytest.MonkeyPatch
) -> None:
    slept: list[float] = []
    monkeypatch.setattr(today, "time", SimpleNamespace(monotonic=lambda: sum(slept), sleep=slept.append))
    keyboard.plays = lambda asked: asked.more["rehearsal"](asked.settings) if "rehearsal" in asked.more else None
    status, out, err = run("today", "--minutes", 20, "--go")
    commands = proposed(out)
    assert status == 0 and len(keyboard.asked) == len(commands) > 1 and "that was it for today" in err
    assert all(asked.more["signals"] is not None for asked in keyboard.asked)
