"""What the commands for playing have to do with the records of practice: what was played before, what is kept now."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import RecordsError

if TYPE_CHECKING:
    from companion.stage.live import Inbox


@dataclass
class Evening:
    """Several commands that follow each other without a hand on the computer."""

    stopped: bool = False
    """Whether the player wished to stop altogether."""


def played_before() -> float:
    """Seconds played since the last pause, before this command; 0 where that isn't known."""
    from datetime import datetime, timedelta

    from companion.practice.records import Records
    from companion.preferences import preferences
    from companion.preferences.care import CarePreferences

    pause = timedelta(minutes=preferences(CarePreferences).pause.lasts)
    try:
        with Records() as records:
            return records.played_without(pause, datetime.now().astimezone())
    except RecordsError:
        return 0.0


def take_kept(folder: Path | None, trouble: str = "") -> None:
    """Put a take into the records; what isn't as it should be is said in one line."""
    from companion.practice.records import Records
    from companion.practice.taken_in import take_in_one

    if folder is not None:
        try:
            with Records() as records:
                if records.kept:
                    take_in_one(records, folder)
                trouble = trouble or records.trouble
        except RecordsError as error:
            trouble = trouble or str(error)
    if trouble:
        print(f"companion: {trouble}", file=sys.stderr)


def forget_take(folder: Path) -> None:
    """Take a deleted take out of the records; what was drilled in it stays practised."""
    from companion.practice.records import Records
    from companion.stage.take_files import takes_folder

    if folder.parent.resolve() != takes_folder().resolve():
        return
    try:
        with Records() as records:
            if records.knows_take(folder.name):
                records.delete_take(folder.name)
    except RecordsError as error:
        print(f"companion: {error}", file=sys.stderr)


@contextmanager
def last_time_after(minutes: int | None, wishes: Inbox) -> Iterator[None]:
    """After so many minutes, the wish that it be the last time: what is under way comes to its end."""
    from companion.messages import Wish

    if minutes is None:
        yield
        return
    timer = threading.Timer(60.0 * minutes, lambda: wishes.put(Wish(0.0, "last time", True)))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
