"""What playing at the piano has to do with the records of practice: what was played before, what is kept now."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from companion.errors import RecordsError
from companion.practice.earlier import learn
from companion.practice.records import Records
from companion.practice.taken_in import take_in_one
from companion.preferences import preferences
from companion.preferences.care import CarePreferences


def played_before() -> float:
    """Seconds played since the last pause, before this; 0 where that isn't known."""
    pause = timedelta(minutes=preferences(CarePreferences).pause.lasts)
    try:
        with Records() as records:
            return records.played_without(pause, datetime.now().astimezone())
    except RecordsError:
        return 0.0


def take_kept(folder: Path | None, trouble: str = "") -> str:
    """Put a take into the records; tells in one line what isn't as it should be, ``trouble`` before anything else."""
    if folder is None:
        return trouble
    learn(folder)
    try:
        with Records() as records:
            if records.kept:
                take_in_one(records, folder)
            return trouble or records.trouble
    except RecordsError as error:
        return trouble or str(error)
