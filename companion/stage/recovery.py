"""Recovery: takes that were broken off by a crash are completed from their journals at the next start.

A take that can't be completed is moved, whole, to a folder beside the takes and reported, so that it doesn't stop the
next one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from companion.errors import InputError
from companion.files import lock
from companion.resources import data_folder
from companion.stage.journal import JOURNAL, disk_reason, read_rows
from companion.stage.take_files import Outcome, TakeFiles, check_head, free_place, takes_folder

SET_ASIDE = "takes-set-aside"
"""The folder, beside that of the takes, for what can't be completed."""
AS_FOUND = "journal-as-found.jsonl"
"""Name under which a journal with unreadable rows stays with its take."""


@dataclass
class Recovered:
    """What became of the takes that were broken off."""

    completed: list[Path] = field(default_factory=list)
    """Their folders."""
    set_aside: list[tuple[Path, str]] = field(default_factory=list)
    """Where each lies now, and what is wrong with it."""
    waiting: list[tuple[Path, str]] = field(default_factory=list)
    """Those that stay where they are until the next time, and why: a full disk, or a folder that is locked."""
    damaged: list[tuple[Path, str]] = field(default_factory=list)
    """Those that can't be completed and were not to be set aside, and what is wrong with each; they aren't told."""

    def lines(self) -> list[str]:
        """For the player's eyes, a line each."""
        return [
            *(f"a take that was broken off is complete now: {place}" for place in self.completed),
            *(
                f"a take that was broken off can't be completed ({why}); it is set aside, all of it: {place}"
                for place, why in self.set_aside
            ),
            *(
                f"a take that was broken off can't be completed now ({why}); it is tried again next time: {place}"
                for place, why in self.waiting
            ),
        ]


class DamagedJournalError(InputError):
    """There is no take to be made of it."""


def recover(data: Path | None = None, *, set_aside: bool = True) -> Recovered:
    """Complete takes that a crash left as journals. Those being played now are left alone.

    Parameters
    ----------
    data : path, optional
        The folder for user data.
    set_aside : bool
        Whether those that can't be completed are set aside, too.
    """
    found = Recovered()
    for place in take_folders(data):
        if not (place / JOURNAL).exists():
            continue
        try:
            with (place / JOURNAL).open("r+b") as file:
                if lock(file) and complete(place, file):
                    found.completed.append(place)
        except DamagedJournalError as damage:
            if set_aside:
                _set_aside(place, damage.what, data, found)
            else:
                found.damaged.append((place, damage.what))
        except (OSError, InputError) as error:
            found.waiting.append((place, disk_reason(error) if isinstance(error, OSError) else error.what))
        except Exception as defect:  # ours; but nobody is kept from playing by what lies in a folder
            found.waiting.append((place, f"a defect of the companion, {type(defect).__name__}"))
    return found


def complete(folder: Path, journal: IO[bytes], how: Outcome = "interrupted") -> bool:
    """Make the take's two files from its journal, then remove that; False when there is nothing to make it from.

    Raises
    ------
    DamagedJournalError
        It is no journal, or one of another version.
    InputError, OSError
        They can't be written; the journal stays.
    """
    files = TakeFiles()
    try:
        head, rows, unsound = _read(journal, files)
        if not rows:
            return False  # it was broken off before it began
        _check(head)
        files.write(folder, head, how)
    finally:
        files.close()
    if unsound:
        free_place(folder / AS_FOUND, lambda place: move(folder / JOURNAL, place))
    else:
        (folder / JOURNAL).unlink()
    return True


def _read(journal: IO[bytes], files: TakeFiles) -> tuple[dict[str, Any], int, int]:
    """The head, how many rows there are, and how many of them say nothing sound."""
    head: dict[str, Any] = {}
    rows = unsound = 0
    for row in read_rows(journal):
        rows += 1
        if isinstance(row, dict):
            head = head or row
        elif row is None:
            unsound += 1
        else:
            files.add(row)
    return head, rows, unsound


def _check(head: dict[str, Any]) -> None:
    if not head:
        raise DamagedJournalError("the row that says what was played is missing")
    try:
        check_head(head)
    except (KeyError, TypeError, RecursionError, ValueError) as error:
        other = "format" in head and str(error) == "it is of another format"
        raise DamagedJournalError(str(error) if other else "the row that says what was played is damaged") from None


def _set_aside(place: Path, why: str, data: Path | None, found: Recovered) -> None:
    wanted = (data or data_folder()) / SET_ASIDE / place.name
    try:
        wanted.parent.mkdir(parents=True, exist_ok=True)
        found.set_aside.append((free_place(wanted, lambda there: move(place, there)), why))
    except OSError as error:
        found.waiting.append((place, f"{why}, and it can't be set aside: {disk_reason(error)}"))


def move(place: Path, there: Path) -> None:
    """Move a file or folder to a place where nothing stands. Raises FileExistsError."""
    if there.exists():
        raise FileExistsError(17, "is there", str(there))
    place.rename(there)


def take_folders(data: Path | None) -> list[Path]:
    """The folders under that of the takes."""
    try:
        return sorted(place for place in takes_folder(data).iterdir() if place.is_dir())
    except OSError:
        return []
