"""A take deleted for good, and out of the records; what was drilled in it stays practised."""

from __future__ import annotations

import shutil
from pathlib import Path

from companion.errors import RecordsError, TakeError
from companion.practice.records import Records
from companion.stage.take_files import DATA, MIDI, takes_folder


def check_only_a_take(folder: Path) -> None:
    """See to it that nothing else of the player's lies in a take's folder. Raises TakeError."""
    others = sorted(path.name for path in folder.iterdir() if path.name not in (DATA, MIDI) and path.suffix != ".wav")
    if others:
        what = f"there is more in it than a take: {', '.join(others[:3])}"
        raise TakeError(what, file=str(folder), mend="move that elsewhere first")


def delete_take(folder: Path) -> str:
    """Delete a take; what is amiss with the records is told in a line, empty where nothing is.

    Raises
    ------
    TakeError
        There is more in its folder than a take, or it can't be deleted.
    """
    check_only_a_take(folder)
    try:
        shutil.rmtree(folder)
    except OSError as error:
        what = f"can't be deleted: {(error.strerror or 'no access').lower()}"
        raise TakeError(what, file=str(folder), mend="look at its permissions") from None
    return _forget(folder)


def _forget(folder: Path) -> str:
    if folder.parent.resolve() != takes_folder().resolve():
        return ""
    try:
        with Records() as records:
            if records.knows_take(folder.name):
                records.delete_take(folder.name)
    except RecordsError as error:
        return str(error)
    return ""
