"""The file of the records: damaged, newer, read-only, on a full disk, somebody else's."""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from companion.errors import RecordsError
from companion.practice.records import Records
from companion.practice.records_file import FILE, MIGRATIONS, OURS, VERSION, open_records, primary_code, reason
from tests.practice.days import a_round, a_take, evening

ROUND = a_round(evening(date(2026, 11, 23)), (9, 12), 96.0, True)


def filled(folder: Path, rounds: int = 200) -> Path:
    """Records with many rounds; the file."""
    with Records(folder) as records:
        take = a_take(ROUND.at, folder="filled", choruses=0)
        records.add_take(take, [replace(ROUND, number=number) for number in range(rounds)])
    return folder / FILE


def test_a_new_file_is_ours_and_of_this_version(tmp_path: Path) -> None:
    opened = open_records(tmp_path)
    opened.connection.close()
    assert opened.kept and opened.begun and not opened.trouble
    with closing(sqlite3.connect(tmp_path / FILE)) as file:
        assert file.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert file.execute("PRAGMA application_id").fetchone() == (OURS,)


@pytest.mark.parametrize("damage", ["garbage", "cut off", "a page of it"])
def test_a_damaged_file_is_kept_under_another_name_and_a_new_one_begun(tmp_path: Path, damage: str) -> None:
    file = filled(tmp_path)
    content = file.read_bytes()
    damaged = {
        "garbage": b"these are no records" * 100,
        "cut off": content[: len(content) // 2],
        "a page of it": content[:4096] + os.urandom(4096) + content[8192:],
    }[damage]
    file.write_bytes(damaged)
    with Records(tmp_path) as records:
        assert records.kept and records.begun
        assert records.trouble.count("\n") == 0 and f"{FILE}.damaged" in records.trouble
        assert records.rounds() == []
        records.add_round(ROUND)
    assert (tmp_path / f"{FILE}.damaged").read_bytes() == damaged
    file.write_bytes(b"once more")
    with Records(tmp_path) as records:
        assert "damaged-2" in records.trouble
    assert (tmp_path / f"{FILE}.damaged").read_bytes() == damaged, "what was kept before stays"


def test_a_file_of_a_newer_companion_is_left_alone(tmp_path: Path) -> None:
    file = filled(tmp_path, 2)
    with closing(sqlite3.connect(file)) as newer:
        newer.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = file.read_bytes()
    with pytest.raises(RecordsError, match="newer companion") as error:
        Records(tmp_path)
    assert str(file) in str(error.value) and "update" in str(error.value)
    assert file.read_bytes() == before


def test_a_file_that_is_none_of_ours_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / FILE
    with closing(sqlite3.connect(file)) as theirs:
        theirs.execute("CREATE TABLE recipes (name)")
    before = file.read_bytes()
    with pytest.raises(RecordsError, match="something else"):
        Records(tmp_path)
    assert file.read_bytes() == before


def test_an_older_file_is_brought_up_to_date_with_what_is_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the next version will do: a migration that adds a column."""
    filled(tmp_path, 3)
    later = (*MIGRATIONS, ("ALTER TABLE rounds ADD COLUMN mood TEXT",))
    monkeypatch.setattr("companion.practice.records_file.MIGRATIONS", later)
    monkeypatch.setattr("companion.practice.records_file.VERSION", VERSION + 1)
    with Records(tmp_path) as records:
        assert len(records.rounds()) == 3
        assert records._connection.execute("SELECT mood FROM rounds").fetchall() == [(None,)] * 3


def test_records_of_the_first_version_are_brought_up_to_this_one_and_their_takes_wait_to_be_judged(
    tmp_path: Path,
) -> None:
    with closing(sqlite3.connect(tmp_path / FILE)) as first:
        for statement in MIGRATIONS[0]:
            first.execute(statement)
        first.execute(
            "INSERT INTO takes VALUES ('old', '2026-11-23T18:00:00.000Z', 'a-tune', 'A Tune', 'melody', 'F', 90.0,"
            " 120.0, 'follow', 60.0, 'stopped', 32, 1, 0)"
        )
        first.execute(f"PRAGMA application_id = {OURS}")
        first.execute("PRAGMA user_version = 1")
        first.commit()
    with Records(tmp_path) as records:
        assert [take.folder for take in records.takes()] == records.unjudged() == ["old"]
        assert records.bars() == [] and not records.trouble


def test_a_migration_that_fails_leaves_the_former_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = filled(tmp_path, 3)
    later = (*MIGRATIONS, ("ALTER TABLE rounds ADD COLUMN mood TEXT", "no statement at all"))
    with monkeypatch.context() as newer:
        newer.setattr("companion.practice.records_file.MIGRATIONS", later)
        newer.setattr("companion.practice.records_file.VERSION", VERSION + 1)
        with pytest.raises(sqlite3.OperationalError):
            Records(tmp_path)
    with closing(sqlite3.connect(file)) as former:
        assert former.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert "mood" not in former.execute("SELECT sql FROM sqlite_master WHERE name = 'rounds'").fetchone()[0]
    with Records(tmp_path) as records:
        assert len(records.rounds()) == 3


NOBODY = 65534


@contextmanager
def as_nobody() -> Iterator[None]:
    """As a user without rights; whoever runs the tests is one already, unless it is root."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="needs permissions as Unix has them")
@pytest.mark.parametrize(("rounds", "mode"), [(0, 0), (5, 0o444), (5, 0o666)])
def test_in_a_read_only_folder_the_records_are_read_and_go_on_in_memory(rounds: int, mode: int) -> None:
    with TemporaryDirectory() as root:  # not pytest's own, into which only its owner may look
        folder = Path(root, "data")
        folder.mkdir()
        if rounds:
            filled(folder, rounds).chmod(mode)
        Path(root).chmod(0o755)
        folder.chmod(0o555)
        before = sorted(path.name for path in folder.iterdir())
        with as_nobody(), Records(folder) as records:
            assert not records.kept
            assert records.trouble.startswith(f"nothing can be added to the records in {folder / FILE} (")
            assert len(records.rounds()) == rounds
            records.add_round(replace(ROUND, number=99))
            assert len(records.rounds()) == rounds + 1
        assert sorted(path.name for path in folder.iterdir()) == before
        folder.chmod(0o755)


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="needs permissions as Unix has them")
def test_a_damaged_file_that_cant_be_kept_under_another_name_stays_as_it_is() -> None:
    with TemporaryDirectory() as root:
        folder = Path(root, "data")
        folder.mkdir()
        file = folder / FILE
        file.write_bytes(b"these are no records" * 100)
        Path(root).chmod(0o755)
        folder.chmod(0o555)
        with as_nobody(), Records(folder) as records:
            why = "it is damaged, and can't be kept under another name"
            assert not records.kept and records.trouble.startswith(
                f"nothing can be added to the records in {file} ({why})"
            )
            assert records.add_round(ROUND) and len(records.rounds()) == 1
        assert file.read_bytes() == b"these are no records" * 100
        folder.chmod(0o755)


def test_where_a_file_stands_in_the_place_of_the_folder_the_records_go_on_in_memory(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.write_text("mine", encoding="utf-8")
    with Records(data) as records:
        assert not records.kept and f"{data / FILE} (file exists)" in records.trouble
        assert records.add_round(ROUND) and len(records.rounds()) == 1
    assert data.read_text(encoding="utf-8") == "mine"


def test_on_a_full_disk_nothing_that_was_kept_is_lost_and_it_goes_on_when_there_is_room(tmp_path: Path) -> None:
    """A disk that can become full: no file grows beyond so many bytes (setrlimit, RLIMIT_FSIZE)."""
    file = filled(tmp_path, 50)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    with Records(tmp_path) as records:
        resource.setrlimit(resource.RLIMIT_FSIZE, (file.stat().st_size, before[1]))
        try:
            with pytest.raises(RecordsError, match="can't be added to"):
                for number in range(1000):
                    records.add_round(a_round(evening(date(2026, 11, 24)), (1, 4), 80.0, True, number=number))
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)
        kept = len(records.rounds())
        assert kept >= 50
        assert records.add_round(replace(ROUND, chart="after"))
    with Records(tmp_path) as records:
        assert len(records.rounds()) == kept + 1


def test_a_commit_that_was_cut_off_is_undone_at_the_next_start(tmp_path: Path) -> None:
    """What a crash leaves: the journal of a commit beside a file that is half written."""
    file = filled(tmp_path, 30)
    crash = (
        "import os, sqlite3, sys\n"
        "c = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "c.execute('PRAGMA cache_size = 1')\n"
        "c.execute('BEGIN IMMEDIATE')\n"
        "c.execute('UPDATE rounds SET why = hex(randomblob(3000))')\n"
        "os._exit(9)\n"
    )
    subprocess.run([sys.executable, "-c", crash, str(file)], check=False)
    assert file.with_name(f"{FILE}-journal").exists()
    with Records(tmp_path) as records:
        assert [one.why for one in records.rounds()] == [""] * 30


def test_the_file_is_marked_as_ours(tmp_path: Path) -> None:
    """SQLite's file format, offset 68: the application id. It spells "prac"."""
    Records(tmp_path).close()
    assert (tmp_path / FILE).read_bytes()[68:72] == b"prac"


@pytest.mark.parametrize(
    ("code", "primary", "words"),
    [
        (None, -1, "an odd thing"),
        (sqlite3.SQLITE_FULL, 13, "the disk is full"),
        (sqlite3.SQLITE_BUSY_SNAPSHOT, 5, "another program is using it"),
        (sqlite3.SQLITE_READONLY_DBMOVED, 8, "it is read-only"),
        (sqlite3.SQLITE_CANTOPEN_ISDIR, 14, "it can't be opened"),
        (sqlite3.SQLITE_IOERR_READ, 10, "the disk doesn't answer as it should"),
        (sqlite3.SQLITE_LOCKED, 6, "an odd thing"),
    ],
)
def test_what_sqlite_said_is_told_in_plain_words(code: int | None, primary: int, words: str) -> None:
    """Result codes: sqlite.org/rescode.html; the primary one is the lowest byte."""
    error = sqlite3.OperationalError("An odd thing")
    if code is not None:
        error.sqlite_errorcode = code
    assert (primary_code(error), reason(error)) == (primary, words)
