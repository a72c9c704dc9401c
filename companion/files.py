"""Files read within limits, and written whole or not at all.

What is read may come from anywhere, so every reader says how much of it can be meant. A crash or a full disk never
leaves half of a file in the place of a good one. Where a command is told to write and something stands already, that is
kept beside it as ``NAME.former-1``, ``NAME.former-2`` and so on, the same content once.
"""

from __future__ import annotations

import errno
import filecmp
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from companion.errors import CompanionError, InputError

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


def write_output(path: str | os.PathLike[str], data: bytes | str, *, force: bool = False) -> Path | None:
    """Write a file where a command was told to.

    Parameters
    ----------
    path : path
    data : bytes or str
    force : bool
        What stands there needn't be kept.

    Returns
    -------
    Path or None
        Where the former file is kept, if one stood there that was another.

    Raises
    ------
    InputError
        It can't be written there, or the former file can't be kept: it is still in its place.
    """
    content = data.encode() if isinstance(data, str) else data
    with made_output(path, force=force) as made:
        made.path.write_bytes(content)
    return made.former


@dataclass
class Made:
    """A file that is being made."""

    path: Path
    """Where to write it."""
    former: Path | None = None
    """In the end: where the file that stood in its place is kept."""


@contextmanager
def made_output(path: str | os.PathLike[str], *, force: bool = False) -> Iterator[Made]:
    """Make a file that takes its place when it is complete; as :func:`write_output`.

    A pipe or a device is written as it is, and keeps nothing.
    """
    place = Path(path)
    device = _is_device(place)
    place = place.resolve() if place.is_symlink() and not device else place
    try:
        with tempfile.TemporaryDirectory() if device else nullcontext(place.parent) as folder:
            made = Made(Path(folder, f".{place.name}.{os.getpid()}.part"))
            try:
                yield made
                if device:
                    with made.path.open("rb") as whole, place.open("wb") as out:
                        shutil.copyfileobj(whole, out)
                    return
                if place.is_file() and not force and not filecmp.cmp(made.path, place, shallow=False):
                    made.former = keep_former(place)
                made.path.replace(place)
            finally:
                with suppress(OSError):
                    made.path.unlink()
    except OSError as error:
        if isinstance(error, CompanionError):
            raise
        raise unwritable(path, error) from None


def _is_device(place: Path) -> bool:
    """Whether it is a pipe, a device, or a name of one's own output, which may lead to a file."""
    return place.exists() and (not place.is_file() or place.absolute().parts[1:2] in (("dev",), ("proc",)))


def keep_former(path: str | os.PathLike[str]) -> Path:
    """Copy a file that is about to be changed to a numbered name beside it, unless a copy of it is there already.

    Returns
    -------
    Path
        The copy; no other version has its name.

    Raises
    ------
    InputError
        It can't be kept; nothing has changed.
    """
    place = Path(path)
    beginning = f"{place.name}.former-"
    try:
        size = place.stat().st_size
        kept = [file for file in place.parent.iterdir() if file.name.startswith(beginning)]
        for file in kept:
            if file.is_file() and file.stat().st_size == size and filecmp.cmp(file, place, shallow=False):
                return file
        numbers = [int(end) for file in kept if (end := file.name[len(beginning) :]).isdecimal()]
        former = place.with_name(f"{beginning}{max(numbers, default=0) + 1}")
        beside = place.with_name(f".{former.name}.{os.getpid()}.part")
        try:
            shutil.copy2(place, beside)
            beside.replace(former)
        finally:
            with suppress(OSError):
                beside.unlink()
    except OSError as error:
        raise unwritable(path, error) from None
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
    needed = [place] if place.exists() else []
    needed += [place.parent] if place.is_file() or not place.exists() else []
    if not all(os.access(one, os.W_OK) for one in needed):
        raise InputError("can't be written: permission denied", file=os.fspath(path), mend="name another file")


def unwritable(path: str | os.PathLike[str], error: OSError, mend: str = "name another file") -> InputError:
    """What the system said about a file that can't be written, as our own error.

    Parameters
    ----------
    path : path
    error : OSError
    mend : str
        The remedy where the place itself is to blame, and not the disk.
    """
    reason = (error.strerror or "no access").lower()
    return InputError(f"can't be written: {reason}", file=os.fspath(path), mend=disk_remedy(error) or mend)


def disk_remedy(error: OSError) -> str | None:
    """What to do where the disk is full, or takes nothing at all: another name on it would help nobody."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "make room on the disk, or write to another one"
    return "write to another disk" if error.errno in (errno.EROFS, errno.EIO, errno.EFBIG) else None


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
