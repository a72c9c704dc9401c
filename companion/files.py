"""Files read within limits, and written whole or not at all.

What is read may come from anywhere, so every reader says how much of it can be meant. A crash or a full disk never
leaves half of a file in the place of a good one.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import IO

from companion.errors import InputError

MEGABYTE = 1024 * 1024


def read_limited(path: str | os.PathLike[str], most: int, purpose: str, error: type[InputError] = InputError) -> bytes:
    """Read a file that may be too large for what it is meant to hold.

    Parameters
    ----------
    path : path
    most : int
        Bytes; of a larger file no more is read.
    purpose : str
        What it should hold: 'a lead sheet'.
    error : type
        The kind of error that is raised; it names the file.
    """
    try:
        with Path(path).open("rb") as stream:
            return limited(stream, most, purpose, error)
    except OSError as closed:
        why = (closed.strerror or "no access").lower()
        raise error(f"can't be read: {why}", file=os.fspath(path), mend="check its name and its permissions") from None
    except InputError as large:
        raise large.within(file=os.fspath(path)) from None


def limited(stream: IO[bytes], most: int, purpose: str, error: type[InputError] = InputError) -> bytes:
    """What is left of a stream, no more than so many bytes; else an ``error``, as in :func:`read_limited`."""
    data = stream.read(most + 1)
    if len(data) > most:
        size = f"{most // MEGABYTE} MB" if most >= MEGABYTE else f"{most // 1024} kB"
        raise error(f"is larger than {size}, too large for {purpose}")
    return data


def write_whole(path: str | os.PathLike[str], data: bytes | str) -> None:
    """Write a file beside its place, and move it there when it is complete.

    A pipe or a device is written as it is. Text is written as UTF-8, its line ends as they are.

    Raises
    ------
    InputError
        It can't be written there; nothing has changed.
    """
    place = Path(path)
    content = data.encode() if isinstance(data, str) else data
    beside = place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        if place.exists() and not place.is_file():
            place.write_bytes(content)
            return
        beside.write_bytes(content)
        beside.replace(place)
    except OSError as error:
        with suppress(OSError):
            beside.unlink()
        raise unwritable(path, error) from None


def keep_former(path: str | os.PathLike[str]) -> Path:
    """Copy a file that is about to be changed to a name of its own beside it, which no other version has.

    Raises
    ------
    InputError
        It can't be kept; nothing has changed.
    """
    place = Path(path)
    number = 1
    while (former := place.with_name(f"{place.name}.former-{number}")).exists():
        number += 1
    try:
        content = place.read_bytes()
    except OSError as error:
        raise unwritable(path, error) from None
    write_whole(former, content)
    return former


def check_writable(path: str | os.PathLike[str]) -> None:
    """Find out before long work whether a file can be written at its end.

    Raises
    ------
    InputError
        It is a folder, its folder isn't there, or there is no permission.
    """
    place = Path(path)
    if place.is_dir():
        raise InputError("is a folder", file=os.fspath(path), mend="name a file in it")
    if not place.parent.is_dir():
        raise InputError("its folder isn't there", file=os.fspath(path), mend="make the folder, or name another file")
    if not os.access(place if place.exists() else place.parent, os.W_OK):
        raise InputError("can't be written: permission denied", file=os.fspath(path), mend="name another file")


def unwritable(path: str | os.PathLike[str], error: OSError) -> InputError:
    """What the system said about a file that can't be written, as our own error."""
    reason = (error.strerror or "no access").lower()
    return InputError(f"can't be written: {reason}", file=os.fspath(path), mend="name another file")


def lock(file: IO[bytes]) -> bool:
    """Mark an open file as this process's; False when another process holds it. The mark dies with the process."""
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(1 << 30)  # a byte beyond the end, so that others can still read the rows
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            file.seek(0, os.SEEK_END)
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
