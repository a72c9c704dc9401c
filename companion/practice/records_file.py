"""The file that holds the records of practice: ``records.db`` in the folder for user data, an SQLite database.

Opening it never keeps anybody from practising. A damaged file is kept under another name and a new one is begun; where
nothing can be written (a folder that is read-only, a full disk, a file that another program holds), the records are
read into memory and go on there; in both cases a sentence says so. Only a file of a newer companion, or one that isn't
ours, is left alone altogether.

It is written with SQLite's rollback journal and ``synchronous = EXTRA``: each commit is forced to the disk with its
folder before it counts, so that nothing committed is lost, whether a process is killed or the power fails, and a commit
that was cut off is undone when the file is next opened. (A write-ahead log would be faster; but there is one commit a
round, a log lies beside the file in two more, and doesn't work in folders on a network. SQLite's documentation:
"Atomic Commit In SQLite", "Write-Ahead Logging", ``PRAGMA synchronous``.)

Conventions: moments are texts in UTC, ``2026-11-28T20:15:00.250Z``, whose order as texts is their order in time.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from companion.errors import RecordsError
from companion.stage.recovery import move
from companion.stage.take_files import free_place

FILE = "records.db"
OURS = 0x70726163
"""SQLite's application id of our file."""
BUSY = 5.0
"""Seconds to wait for another companion that is writing."""

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE takes (
            folder TEXT PRIMARY KEY,        -- its name under takes/
            started TEXT NOT NULL,
            chart TEXT NOT NULL,            -- the word by which a command finds it
            title TEXT NOT NULL,
            you TEXT NOT NULL,              -- parts, comma-separated
            key TEXT NOT NULL,
            tempo REAL,                     -- quarters a minute, as played
            tune_tempo REAL,                -- the chart's
            time TEXT NOT NULL,             -- follow, steady, patient
            seconds REAL NOT NULL,
            how TEXT NOT NULL,              -- how it ended
            bars INTEGER NOT NULL,          -- of the form
            choruses INTEGER NOT NULL,      -- played to their end
            stops INTEGER NOT NULL          -- times that the companion had to hold
        )""",
        """CREATE TABLE rounds (
            id INTEGER PRIMARY KEY,
            at TEXT NOT NULL,               -- when it was judged
            take TEXT,                      -- folder of the take it lies in, once that is kept
            chart TEXT NOT NULL,
            title TEXT NOT NULL,
            kind TEXT NOT NULL,             -- which drill; empty where that isn't known
            number INTEGER NOT NULL,        -- of the round in its drill
            first_bar INTEGER NOT NULL,
            last_bar INTEGER NOT NULL,
            section TEXT NOT NULL,          -- in which the bars lie; empty where that is several
            you TEXT NOT NULL,
            key TEXT NOT NULL,
            own_key INTEGER NOT NULL,       -- 1: the tune's
            tempo REAL NOT NULL,
            tune_tempo REAL,
            time TEXT NOT NULL,
            good INTEGER NOT NULL,
            why TEXT NOT NULL,
            notes_right INTEGER NOT NULL,
            notes_wrong INTEGER NOT NULL,
            notes_missing INTEGER NOT NULL,
            notes_extra INTEGER NOT NULL,
            spread_ms REAL,
            seconds REAL NOT NULL           -- from the first downbeat to the judgement
        )""",
        "CREATE INDEX rounds_by_chart ON rounds (chart, at)",
        "CREATE INDEX takes_by_chart ON takes (chart, started)",
    ),
    (
        """CREATE TABLE bars (
            id INTEGER PRIMARY KEY,         -- in the order of playing within a take
            take TEXT NOT NULL,             -- folder of the take
            bar INTEGER NOT NULL,           -- of the form, 1 = its first full bar, 0 = a pickup
            chorus INTEGER NOT NULL,        -- how often the form had been begun
            notes_right INTEGER NOT NULL,
            notes_wrong INTEGER NOT NULL,
            notes_missing INTEGER NOT NULL,
            notes_extra INTEGER NOT NULL,
            tempo REAL NOT NULL,            -- quarters a minute
            deviation_ms REAL,              -- median, onset against the player's own beat, late is positive
            spread_ms REAL                  -- standard deviation
        )""",
        "CREATE INDEX bars_by_take ON bars (take)",
        # 0: its bars aren't judged yet; 1: they are; 2: nothing can be said of them bar by bar
        "ALTER TABLE takes ADD COLUMN judged INTEGER NOT NULL DEFAULT 0",
        # Folders of takes that stand, but which the player wished out of the records
        "CREATE TABLE left_out (folder TEXT PRIMARY KEY)",
    ),
    (
        """CREATE TABLE slips (
            id INTEGER PRIMARY KEY,         -- in the order of playing within a take
            take TEXT NOT NULL,             -- folder of the take
            bar INTEGER NOT NULL,
            last INTEGER NOT NULL,          -- its last bar
            chorus INTEGER NOT NULL,
            what TEXT NOT NULL,             -- kind of finding
            beat REAL,                      -- of a note: its chart beat ...
            degree INTEGER,                 -- ... and the semitones from the key's tonic up to it, 0-11
            text TEXT NOT NULL              -- as it was said
        )""",
        "CREATE INDEX slips_by_take ON slips (take)",
        # The form and melody that it was played over, as a word; empty: its slips aren't kept yet
        "ALTER TABLE takes ADD COLUMN tune TEXT NOT NULL DEFAULT ''",
        "CREATE INDEX takes_by_tune ON takes (tune, started)",
    ),
)
"""What makes each version of the file out of the one before; version 1 out of nothing."""
VERSION = len(MIGRATIONS)

_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


@dataclass(frozen=True)
class OpenedRecords:
    """The records, open."""

    connection: sqlite3.Connection
    kept: bool
    """Whether what is added is kept; else it lies in memory."""
    trouble: str = ""
    """A sentence for the player, where something isn't as it should be."""
    begun: bool = False
    """Whether there was no such file before, or a damaged one."""


def open_records(folder: Path) -> OpenedRecords:
    """Open the records in a folder for user data, and bring them up to this version.

    Raises
    ------
    RecordsError
        They are of a newer companion, or the file isn't ours; nothing is changed.
    """
    file = folder / FILE
    trouble = ""
    for _ in range(2):
        begun = not file.exists()
        inode = None if begun else file.stat().st_ino
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            return OpenedRecords(
                _checked(sqlite3.connect(file, timeout=BUSY, isolation_level=None), file), True, trouble, begun
            )
        except sqlite3.DatabaseError as error:
            if primary_code(error) not in _DAMAGED:
                return _in_memory(file, reason(error), trouble)
            kept = _keep_damaged(file, inode)
            if isinstance(kept, OSError):
                return _in_memory(file, "it is damaged, and can't be kept under another name", trouble)
            trouble = f"{file} was damaged: it is kept as {kept.name}, and new records are begun from your takes"
        except OSError as error:
            return _in_memory(file, (error.strerror or "no access").lower(), trouble)
    return _in_memory(file, "it is damaged", trouble)


def _checked(connection: sqlite3.Connection, file: Path) -> sqlite3.Connection:
    """The connection, when the file is sound, ours and of this version; closed otherwise."""
    try:
        connection.execute("PRAGMA synchronous = EXTRA")
        (found,) = connection.execute("PRAGMA quick_check(1)").fetchone()
        if found != "ok":
            damage = sqlite3.DatabaseError(str(found))
            damage.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
            raise damage
        _bring_up_to_date(connection, file)
        _try_to_write(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _try_to_write(connection: sqlite3.Connection) -> None:
    """Change something and take it back: SQLite opens a file that is read-only without a word."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute(f"PRAGMA user_version = {VERSION}")
    finally:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")


def _bring_up_to_date(connection: sqlite3.Connection, file: Path) -> None:
    """All migrations that are missing, as one: a crash leaves the former version or this one."""
    if _version(connection, file) == VERSION:
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        for statements in MIGRATIONS[_version(connection, file) :]:  # another companion may have been faster
            for statement in statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {OURS}")
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def _version(connection: sqlite3.Connection, file: Path) -> int:
    """The version of a file of ours; 0 of an empty one."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (owner,) = connection.execute("PRAGMA application_id").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if owner != OURS and tables:
        raise RecordsError("holds something else than records of practice", file=str(file), mend="move it elsewhere")
    if version > VERSION:
        raise RecordsError("is of a newer companion, and left alone", file=str(file), mend="update this one")
    return int(version) if tables else 0


def _in_memory(file: Path, why: str, trouble: str) -> OpenedRecords:
    """What can be read of the file, in memory, where nothing can be written."""
    memory = _copied(file) or _checked(sqlite3.connect(":memory:", isolation_level=None), file)
    said = f"nothing can be added to the records in {file} ({why}); what you play is kept as takes all the same"
    return OpenedRecords(memory, False, "; ".join(text for text in (trouble, said) if text))


def _copied(file: Path) -> sqlite3.Connection | None:
    """What stands in a file, in memory; None where it can't be read."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY)) as there:
            there.backup(memory, progress=_give_up_when_busy)
        return _checked(memory, file)
    except sqlite3.Error:
        memory.close()
        return None


def _give_up_when_busy(status: int, *_: int) -> None:
    """Python's ``backup`` would wait for ever for a file that another program holds."""
    if status == sqlite3.SQLITE_BUSY:
        raise sqlite3.OperationalError("another program is using it")


def _keep_damaged(file: Path, inode: int | None) -> Path | OSError:
    """Move a damaged file, with the journal of a commit that was cut off, to a name that is free."""
    try:
        if file.stat().st_ino != inode:
            return file  # another companion has begun a new one meanwhile
        kept = free_place(file.with_name(f"{file.name}.damaged"), lambda place: move(file, place))
        journal = file.with_name(f"{file.name}-journal")
        if journal.exists():
            move(journal, kept.with_name(f"{kept.name}-journal"))
    except OSError as error:
        return error
    return kept


def primary_code(error: sqlite3.Error) -> int:
    """SQLite's result code without what is special about it; -1 where there is none."""
    code: int | None = getattr(error, "sqlite_errorcode", None)
    return code & 0xFF if code else -1


def reason(error: sqlite3.Error) -> str:
    """What SQLite said, in the words of the rest."""
    known = {
        sqlite3.SQLITE_FULL: "the disk is full",
        sqlite3.SQLITE_BUSY: "another program is using it",
        sqlite3.SQLITE_READONLY: "it is read-only",
        sqlite3.SQLITE_CANTOPEN: "it can't be opened",
        sqlite3.SQLITE_IOERR: "the disk doesn't answer as it should",
    }
    return known.get(primary_code(error), str(error).lower())
