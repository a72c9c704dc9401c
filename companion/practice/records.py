"""The records of practice: what was drilled and played, when, how fast, and what became of it.

They lie in one file beside the takes (:mod:`companion.practice.records_file`). Rounds are added while one drills
(:mod:`companion.practice.records_writer`), takes from their folders (:mod:`companion.practice.taken_in`), the bars of
takes when somebody asks for them (:mod:`companion.practice.judged_bars`); from the records it is worked out how each
tune stands (:mod:`companion.practice.repertoire`), and how it went (:mod:`companion.practice.history`). What is in them
is removed by the player alone: a take's folder that has gone for another reason stays in the records.

Conventions: moments with their zone, in UTC; tempo in quarters a minute; bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Self

from companion.errors import RecordsError
from companion.practice.records_file import FILE, open_records, reason
from companion.resources import data_folder

JUDGED, NOTHING_SAID = 1, 2
"""What is known of a take's bars; 0: they aren't judged yet."""
UNKNOWN_TUNE = "-"
"""In the place of the word for a tune, where that can't be known."""
SAME = timedelta(seconds=10)
"""Two rounds of one drill with one number, no farther apart, are the same, told live and found in a take: a round and
its count-in last longer, and a take says to the second when it began."""


@dataclass(frozen=True)
class RoundRecord:
    """A round of a drill that was played and judged."""

    at: datetime
    """When it was judged."""
    chart: str
    """The word by which a command finds the chart."""
    title: str
    kind: str
    """Of the drill; empty where that isn't known."""
    number: int
    """In its drill, from 1."""
    first: int
    last: int
    section: str
    """In which the bars lie; empty where that is several."""
    you: tuple[str, ...]
    key: str
    own_key: bool
    """Whether that is the tune's."""
    tempo: float
    tune_tempo: float | None
    time: str
    good: bool
    why: str
    right: int
    wrong: int
    missing: int
    extra: int
    spread_ms: float | None
    """Standard deviation of the right notes from their beat, in milliseconds."""
    seconds: float
    """From the first downbeat of the passage to the judgement."""
    take: str | None = None
    """The folder's name of the take in which it lies."""


@dataclass(frozen=True)
class TakeRecord:
    """A take of a tune, or of a drill."""

    folder: str
    started: datetime
    chart: str
    title: str
    you: tuple[str, ...]
    key: str
    tempo: float | None
    tune_tempo: float | None
    time: str
    seconds: float
    how: str
    bars: int
    """Of the form; 0 where the chart can't be read."""
    choruses: int
    """Played to their end; 0 in a drill."""
    stops: int
    """Times that the companion had to hold."""


@dataclass(frozen=True)
class BarRecord:
    """What became of a bar's notes, one time that it was played in a take."""

    take: str
    """The take's folder's name."""
    bar: int
    """0 = a pickup."""
    chorus: int
    """1: the first time through the form."""
    right: int
    wrong: int
    missing: int
    extra: int
    tempo: float
    deviation_ms: float | None
    """Median of the notes against the player's own beat; late is positive."""
    spread_ms: float | None
    """Their standard deviation."""

    @property
    def faults(self) -> int:
        """Notes wrong, missing, or too many."""
        return self.wrong + self.missing + self.extra


@dataclass(frozen=True)
class SlipRecord:
    """What the review of a take found somewhere."""

    take: str
    """The take's folder's name."""
    bar: int
    """0 = a pickup."""
    last: int
    """Its last bar."""
    chorus: int
    what: str
    """The kind of finding."""
    beat: float | None
    """Of a note: its chart beat, in quarters."""
    degree: int | None
    """Of a note: semitones from the key's tonic (in minor its relative major's) up to it, 0-11."""
    text: str


class Records:
    """The records of practice, open for one thread.

    Parameters
    ----------
    data : path, optional
        The folder for user data.

    Raises
    ------
    RecordsError
        They are of a newer companion, or the file isn't ours.
    """

    def __init__(self, data: Path | None = None) -> None:
        self.file = (data or data_folder()) / FILE
        opened = open_records(self.file.parent)
        self.kept, self.trouble, self.begun = opened.kept, opened.trouble, opened.begun
        self._connection = opened.connection

    def close(self) -> None:
        """Let the file go."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # Adding

    def add_round(self, record: RoundRecord) -> bool:
        """Add a round, unless it is there already; of one that is, the take may become known.

        Returns
        -------
        bool
            Whether it is new.

        Raises
        ------
        RecordsError
            It can't be written now; nothing has changed.
        """
        with self._change():
            return self._add_round(record)

    def add_take(self, record: TakeRecord, rounds: Iterable[RoundRecord] = ()) -> bool:
        """Add a take with the rounds in it; nothing where the take is there already. As :meth:`add_round`."""
        with self._change():
            if self.knows_take(record.folder):
                return False
            self._insert("takes", _row(record, _TAKE))
            for one in rounds:
                self._add_round(one)
            return True

    def delete_take(self, folder: str) -> None:
        """Remove a take, as the player wishes. What was drilled in it stays practised."""
        with self._change():
            for table in ("takes", "left_out"):
                self._connection.execute(f"DELETE FROM {table} WHERE folder = ?", (folder,))
            for table in ("bars", "slips"):
                self._connection.execute(f"DELETE FROM {table} WHERE take = ?", (folder,))
            self._connection.execute("UPDATE rounds SET take = NULL WHERE take = ?", (folder,))

    def delete_chart(self, chart: str) -> None:
        """Remove all that is known of a chart, as the player wishes. Its takes aren't taken in again."""
        with self._change():
            own = "SELECT folder FROM takes WHERE chart = ?"
            self._connection.execute(f"INSERT OR IGNORE INTO left_out {own}", (chart,))
            for table in ("bars", "slips"):
                self._connection.execute(f"DELETE FROM {table} WHERE take IN ({own})", (chart,))
            for table in ("takes", "rounds"):
                self._connection.execute(f"DELETE FROM {table} WHERE chart = ?", (chart,))

    def add_bars(
        self, folder: str, bars: Sequence[BarRecord], slips: Sequence[SlipRecord] = (), tune: str = UNKNOWN_TUNE
    ) -> None:
        """Add the bars of a take that is there, and what was found in them, once.

        Parameters
        ----------
        folder : str
        bars : sequence of BarRecord
            None: nothing can be said of it bar by bar.
        slips : sequence of SlipRecord
        tune : str
            The form and melody that it was played over, as a word.
        """
        with self._change():
            if self._rows("SELECT 1 FROM takes WHERE folder = ? AND tune = ''", (folder,)):
                for slip in slips:
                    self._insert("slips", _row(slip, _SLIP))
                self._connection.execute("UPDATE takes SET tune = ? WHERE folder = ?", (tune, folder))
            if self._rows("SELECT 1 FROM takes WHERE folder = ? AND judged = 0", (folder,)):
                for bar in bars:
                    self._insert("bars", _row(bar, _BAR))
                judged = JUDGED if bars else NOTHING_SAID
                self._connection.execute("UPDATE takes SET judged = ? WHERE folder = ?", (judged, folder))

    def _add_round(self, record: RoundRecord) -> bool:
        near = (utc_text(record.at - SAME), utc_text(record.at + SAME))
        same = self._connection.execute(
            "SELECT id FROM rounds WHERE chart = ? AND number = ? AND first_bar = ? AND last_bar = ?"
            " AND at BETWEEN ? AND ?",
            (record.chart, record.number, record.first, record.last, *near),
        ).fetchone()
        if same is None:
            self._insert("rounds", _row(record, _ROUND))
        elif record.take is not None:
            self._connection.execute("UPDATE rounds SET take = ? WHERE id = ?", (record.take, same[0]))
        return same is None

    def _insert(self, table: str, row: dict[str, Any]) -> None:
        names, places = ", ".join(row), ", ".join("?" * len(row))
        self._connection.execute(f"INSERT INTO {table} ({names}) VALUES ({places})", tuple(row.values()))

    @contextmanager
    def _change(self) -> Iterator[None]:
        """All of a change or nothing of it."""
        try:
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise RecordsError(f"can't be added to ({reason(error)})", file=str(self.file)) from None

    # Asking

    def has_take(self, folder: str) -> bool:
        """Whether a take of that name is in the records."""
        return bool(self._rows("SELECT 1 FROM takes WHERE folder = ?", (folder,)))

    def knows_take(self, folder: str) -> bool:
        """Whether a take of that name is in the records, or was removed while its folder stays."""
        return self.has_take(folder) or bool(self._rows("SELECT 1 FROM left_out WHERE folder = ?", (folder,)))

    def unjudged(self, chart: str | None = None) -> list[str]:
        """Folders of takes, of a chart or all, whose bars or slips nobody has judged yet, the latest first."""
        also = "" if chart is None else "AND chart = ?"
        waits = f"(judged = 0 OR (judged = {JUDGED} AND tune = ''))"
        query = f"SELECT folder FROM takes WHERE {waits} {also} ORDER BY started DESC"
        return [str(folder) for (folder,) in self._rows(query, _asked(chart))]

    def bars(self, chart: str | None = None) -> list[BarRecord]:
        """Bars of all takes that were judged, or of a chart's, in order of playing."""
        names = ", ".join(f"bars.{column}" for column in _BAR.values())
        query = f"SELECT {names} FROM bars JOIN takes ON folder = take {_of(chart)} ORDER BY started, bars.id"
        return [BarRecord(**dict(zip(_BAR, row, strict=True))) for row in self._rows(query, _asked(chart))]

    def slips(self, chart: str | None = None) -> list[SlipRecord]:
        """What was found in all takes that were judged, or in a chart's, in order of playing."""
        names = ", ".join(f"slips.{column}" for column in _SLIP.values())
        query = f"SELECT {names} FROM slips JOIN takes ON folder = take {_of(chart)} ORDER BY started, slips.id"
        return [SlipRecord(**dict(zip(_SLIP, row, strict=True))) for row in self._rows(query, _asked(chart))]

    def tunes(self, chart: str | None = None) -> dict[str, str]:
        """For each take that was judged, by its folder, the word for the form and melody that it was played over."""
        found = self._rows(f"SELECT folder, tune FROM takes {_of(chart)}", _asked(chart))
        return {str(folder): str(tune) for folder, tune in found if tune not in ("", UNKNOWN_TUNE)}

    def rounds(self, chart: str | None = None) -> list[RoundRecord]:
        """All rounds, or those of a chart, in order of time."""
        found = self._rows(
            f"SELECT {', '.join(_ROUND.values())} FROM rounds {_of(chart)} ORDER BY at, id", _asked(chart)
        )
        return [RoundRecord(**_values(_ROUND, row)) for row in found]

    def takes(self, chart: str | None = None) -> list[TakeRecord]:
        """All takes, or those of a chart, in order of time."""
        found = self._rows(
            f"SELECT {', '.join(_TAKE.values())} FROM takes {_of(chart)} ORDER BY started", _asked(chart)
        )
        return [TakeRecord(**_values(_TAKE, row)) for row in found]

    def played_without(self, pause: timedelta, now: datetime) -> float:
        """Seconds of takes that followed each other up to a moment without a pause of such a length."""
        played, begin = 0.0, now
        for take in reversed(self.takes()):
            end = take.started + timedelta(seconds=take.seconds)
            if take.started > now or begin - end >= pause:
                break
            played, begin = played + take.seconds, take.started
        return played

    def _rows(self, query: str, values: tuple[Any, ...]) -> list[tuple[Any, ...]]:
        try:
            return self._connection.execute(query, values).fetchall()
        except sqlite3.Error as error:
            raise RecordsError(f"can't be read ({reason(error)})", file=str(self.file)) from None


def utc_text(moment: datetime) -> str:
    """A moment as it stands in the file.

    >>> utc_text(datetime(2026, 11, 28, 20, 15, 0, 250000, UTC))
    '2026-11-28T20:15:00.250Z'
    """
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


_NOTES = {kind: f"notes_{kind}" for kind in ("right", "wrong", "missing", "extra")}
_TAKE = {name: name for name in TakeRecord.__dataclass_fields__}
_ROUND = {name: name for name in RoundRecord.__dataclass_fields__} | {"first": "first_bar", "last": "last_bar"} | _NOTES
_BAR = {name: name for name in BarRecord.__dataclass_fields__} | _NOTES
_SLIP = {name: name for name in SlipRecord.__dataclass_fields__}
"""Columns by field."""
_MOMENTS = ("at", "started")


def _row(record: RoundRecord | TakeRecord | BarRecord | SlipRecord, columns: dict[str, str]) -> dict[str, Any]:
    """A record as a row of its table."""
    row = {column: getattr(record, name) for name, column in columns.items()}
    if isinstance(record, BarRecord | SlipRecord):
        return row
    row |= {name: utc_text(row[name]) for name in _MOMENTS if name in row}
    row |= {name: int(row[name]) for name in ("own_key", "good") if name in row}
    return row | {"you": ",".join(sorted(record.you))}


def _values(columns: dict[str, str], row: tuple[Any, ...]) -> dict[str, Any]:
    """A row of a table as a record's values."""
    values = dict(zip(columns, row, strict=True))
    values |= {name: datetime.fromisoformat(values[name]) for name in _MOMENTS if name in values}
    values |= {name: bool(values[name]) for name in ("own_key", "good") if name in values}
    return values | {"you": tuple(part for part in values["you"].split(",") if part)}


def _of(chart: str | None) -> str:
    return "" if chart is None else "WHERE chart = ?"


def _asked(chart: str | None) -> tuple[str, ...]:
    return () if chart is None else (chart,)
