"""Rounds get into the records while one drills, and no disk holds up the playing."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.messages import Beat, Round
from companion.practice import records_writer
from companion.practice.records import Records
from companion.practice.records_file import FILE
from companion.practice.records_writer import RecordsWriter

ROUND = Round(30.0, 1, 9, 12, ("melody",), "Eb", 96.0, 18.0, good=True, why="clean", right=12, spread_ms=8.5)
NOON = datetime(2026, 11, 28, 12, tzinfo=UTC)


@pytest.fixture
def writer(ferry: Chart, tmp_path: Path) -> RecordsWriter:
    moments = iter(NOON + timedelta(seconds=20 * n) for n in range(10_000))
    return RecordsWriter(ferry, "usual", "follow", tmp_path, now=lambda: next(moments))


def wait_for(condition: Callable[[], bool]) -> None:
    """Until it is so, for some seconds at most."""
    end = time.monotonic() + 8.0
    while not condition() and time.monotonic() < end:
        time.sleep(0.02)


def wait_for_rounds(data: Path, many: int) -> int:
    """How many rounds are in the file, after waiting for so many."""

    def found() -> int:
        with Records(data) as records:
            return len(records.rounds())

    wait_for(lambda: found() >= many)
    return found()


@contextmanager
def held_by_another(data: Path) -> Iterator[None]:
    """Another program holds the file and doesn't let go."""
    Records(data).close()
    other = sqlite3.connect(data / FILE, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


def test_a_round_is_in_the_file_while_the_drill_goes_on(writer: RecordsWriter, tmp_path: Path) -> None:
    writer.report(ROUND)
    assert wait_for_rounds(tmp_path, 1) == 1
    writer.report(replace(ROUND, number=2, good=False, why="bar 11: F♯ missed", missing=1))
    writer.close()
    assert not writer.trouble
    with Records(tmp_path) as records:
        one, two = records.rounds()
    assert (one.at, one.kind, one.time, one.section, one.spread_ms) == (NOON, "usual", "follow", "A2", 8.5)
    assert (one.good, one.why, one.seconds) == (True, "", 12.0)
    assert (two.good, two.why, two.missing) == (False, "bar 11: F♯ missed", 1)


def test_what_is_no_round_or_not_over_or_silent_is_not_kept(writer: RecordsWriter, tmp_path: Path) -> None:
    writer.report(Beat(0.0, 1.0, 0.9))
    writer.report(replace(ROUND, good=None, why=""))
    writer.report(replace(ROUND, good=False, why="nothing was played", right=0))
    writer.close()
    assert not (tmp_path / FILE).exists(), "nothing played, nothing made"


def test_a_file_that_another_program_holds_never_holds_up_the_playing(
    writer: RecordsWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.practice.records_file.BUSY", 0.05)
    monkeypatch.setattr(records_writer, "RETRY", 0.05)
    with held_by_another(tmp_path):
        for number in range(1, 51):
            writer.report(replace(ROUND, number=number))
        wait_for(lambda: writer.trouble != "" and writer._queue.empty())
        assert writer.trouble, "it was tried meanwhile"
        assert writer._queue.empty(), "the thread goes on hearing"
    assert wait_for_rounds(tmp_path, 50) == 50
    writer.close()
    assert not writer.trouble


def test_what_was_refused_is_not_tried_again_before_its_time_but_at_the_end(
    writer: RecordsWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.practice.records_file.BUSY", 0.05)
    monkeypatch.setattr(records_writer, "RETRY", 60.0)
    with held_by_another(tmp_path):
        writer.report(ROUND)
        wait_for(lambda: writer.trouble != "")
    writer.report(replace(ROUND, number=2))
    wait_for(writer._queue.empty)
    time.sleep(0.1)
    assert wait_for_rounds(tmp_path, 0) == 0
    writer.close()
    assert wait_for_rounds(tmp_path, 2) == 2 and not writer.trouble


def test_what_cant_be_kept_to_the_end_is_said_in_one_line(
    writer: RecordsWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.practice.records_file.BUSY", 0.05)
    with held_by_another(tmp_path):
        writer.report(ROUND)
        writer.close()
    assert "another program is using it" in writer.trouble and "\n" not in writer.trouble


def test_a_newer_file_is_left_alone_and_said(writer: RecordsWriter, tmp_path: Path) -> None:
    Records(tmp_path).close()
    other = sqlite3.connect(tmp_path / FILE)
    other.execute("PRAGMA user_version = 99")
    other.close()
    writer.report(ROUND)
    writer.close()
    assert "newer companion" in writer.trouble


def test_a_damaged_file_is_mended_and_said_and_the_round_kept(writer: RecordsWriter, tmp_path: Path) -> None:
    (tmp_path / FILE).write_bytes(b"noise" * 1000)
    writer.report(ROUND)
    writer.close()
    assert "was damaged" in writer.trouble
    assert wait_for_rounds(tmp_path, 1) == 1


def test_unless_a_clock_is_given_a_round_was_judged_now(ferry: Chart, tmp_path: Path) -> None:
    writer = RecordsWriter(ferry, "usual", "follow", tmp_path)
    writer.report(ROUND)
    writer.close()
    with Records(tmp_path) as records:
        (found,) = records.rounds()
    assert abs(found.at - datetime.now(UTC)) < timedelta(minutes=1)
    assert (found.kind, found.time, writer.trouble) == ("usual", "follow", "")
