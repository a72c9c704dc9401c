"""Takes by name: ``last``, a number of the list, the beginning of a folder's name, or a folder.

Conventions: takes are counted from the latest, 1.
"""

from __future__ import annotations

from pathlib import Path

from companion.errors import TakeError
from companion.stage.take import DamagedTake, Take, list_takes, read_take
from companion.stage.take_files import DATA, MIDI, takes_folder

LAST = "last"
MOST_DIGITS = 3
"""Of a number of the list; what is longer is the beginning of a folder's name, which is a date."""


def take_folder(name: str, data: Path | None = None) -> Path | None:
    """The folder of a take that is named, or None where the word names none.

    Parameters
    ----------
    name : str
        'last'; '2' for the last but one; a folder; or enough of its name under ``takes`` to tell it from others.
    data : path, optional
        The folder for user data.

    Raises
    ------
    TakeError
        It is a name of takes, but of none or of several that there are.
    """
    given = Path(name).expanduser()
    if given.name in (DATA, MIDI) and (given.parent / DATA).is_file():
        given = given.parent
    if (given / DATA).is_file() or (given / MIDI).is_file():
        return given
    number = 1 if name == LAST else int(name) if name.isascii() and name.isdigit() and len(name) <= MOST_DIGITS else 0
    if number:
        return _by_number(number, data)
    return _by_beginning(name, data)


def find_take(name: str, data: Path | None = None) -> Take:
    """The take of a name.

    Raises
    ------
    TakeError
        There is none.
    InputError
        It is damaged.
    """
    folder = take_folder(name, data)
    if folder is None:
        raise TakeError(f"there is no take '{name}'", mend="see 'companion take list'")
    return read_take(folder)


def _by_number(number: int, data: Path | None) -> Path:
    takes: list[Take | DamagedTake] = list_takes(data)
    if not takes:
        raise TakeError("there is no take yet", mend="play one with 'companion play CHART'")
    if number > len(takes):
        mend = f"give a number from 1, the last, to {len(takes)}; 'companion take list' shows them"
        raise TakeError(f"there is no take {number}", mend=mend)
    return takes[number - 1].folder


def _by_beginning(name: str, data: Path | None) -> Path | None:
    root = takes_folder(data)
    if not name[:4].isdigit() or not root.is_dir():
        return None
    found = sorted(place for place in root.iterdir() if place.is_dir() and place.name.startswith(name))
    if len(found) > 1 and root / name not in found:
        raise TakeError(f"{len(found)} takes are called '{name}…'", mend="give more of the name, or a number")
    return (root / name if root / name in found else found[0]) if found else None
