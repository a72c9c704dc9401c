"""ZIP archives from anywhere, opened within limits.

An archive may be hostile: its files are unpacked into memory, one by one and no further than asked for, whatever size
they claim, and nothing is ever extracted to a place that an archive names. Only stored and deflated files are opened;
other methods unpack all at once, however much that is.

Source: APPNOTE.TXT, .ZIP File Format Specification, 6.3.
"""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager

from companion.errors import CompanionError, InputError
from companion.files import limited

PACKED = {zipfile.ZIP_STORED: "stored", zipfile.ZIP_DEFLATED: "deflated"}
"""How files may be packed."""
MOST_RATIO = 100
"""How many times larger than packed a file may be; text of ours packs to a tenth, deflate can do a thousandth."""
SMALL = 64 * 1024
"""Bytes up to which it doesn't matter how well a file packs."""
BEGINNING = b"PK\x03\x04"
"""Of an archive with anything in it (4.3.7)."""
_EARLIEST = (1980, 1, 1, 0, 0, 0)
_PLAIN_FILE = (stat.S_IFREG | 0o644) << 16
_UNIX = 3
_DAMAGE = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, NotImplementedError, RuntimeError, OSError,
           ValueError, OverflowError, MemoryError)  # fmt: skip
"""What zipfile raises when it meets a damaged archive, or one that is encrypted."""


@contextmanager
def opened_archive(data: bytes, purpose: str, error: type[InputError], mend: str) -> Iterator[zipfile.ZipFile]:
    """An archive to be read; whatever is found to be damaged while it is open is an ``error``.

    Parameters
    ----------
    data : bytes
    purpose : str
        What it should be: '.mxl container'.
    error : type
        The kind of error that is raised.
    mend : str
        What to do about a damaged one.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            yield archive
    except _DAMAGE as damage:
        if isinstance(damage, CompanionError):
            raise
        raise error(f"isn't a sound {purpose}: {str(damage) or type(damage).__name__}", mend=mend) from damage


def unpacked(archive: zipfile.ZipFile, name: str, most: int, purpose: str, error: type[InputError]) -> bytes:
    """Unpack one file, never more of it than so many bytes, whatever its entry claims.

    Raises
    ------
    InputError
        An ``error`` that names the file, when it is larger or packed in another way than stored or deflated.
    """
    if archive.getinfo(name).compress_type not in PACKED:
        allowed = " or ".join(PACKED.values())
        what = f"{_shown(name)} is packed in a way that isn't allowed ({allowed})"
        raise error(what, mend="save it again")
    with archive.open(name) as stream:
        try:
            return limited(stream, most, purpose, error)
        except error as large:
            raise large.within(where=_shown(name)) from None


def _shown(name: str) -> str:
    """A file's name fit to print."""
    return name[:60] if name.isprintable() else ascii(name[:60])


def unpacked_files(
    data: bytes, limits: Mapping[str, int], needed: Collection[str], purpose: str, error: type[InputError], mend: str
) -> dict[str, bytes]:
    """All that is in an archive of known files, which may hold nothing else.

    Parameters
    ----------
    data : bytes
        Begins with the archive's first file.
    limits : mapping of str to int
        The files there may be, and how many bytes each may have.
    needed : collection of str
        Those there must be.
    purpose : str
        What it should be: 'lesson'.
    error : type
        The kind of error that is raised.
    mend : str
        What to do about a damaged one.

    Raises
    ------
    InputError
        It is no archive, or damaged; it holds a file of another name, a folder, a link, or one name twice; a file is
        missing, larger than it may be, or packed beyond belief.
    """
    if data[: len(BEGINNING)] != BEGINNING:
        raise error(f"isn't a {purpose}", mend=mend)
    with opened_archive(data, purpose, error, mend) as archive:
        entries = archive.infolist()
        if len(entries) > len(limits):
            raise error(f"holds {len(entries)} files, more than a {purpose} has", mend=mend)
        for entry in entries:
            _check_entry(entry, limits, purpose, error, mend)
        names = [entry.filename for entry in entries]
        if twice := next((name for name in names if names.count(name) > 1), None):
            raise error("is in it twice", where=twice, mend=mend)
        if missing := next((name for name in needed if name not in names), None):
            raise error("is missing", where=missing, mend=mend)
        return {name: unpacked(archive, name, limits[name], f"a {purpose}", error) for name in names}


def _check_entry(
    entry: zipfile.ZipInfo, limits: Collection[str], purpose: str, error: type[InputError], mend: str
) -> None:
    name = entry.orig_filename
    if name not in limits or entry.filename != name:
        raise error(f"holds {_shown(name)!r}, which is no part of a {purpose}", mend=mend)
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG) or entry.is_dir():
        raise error("is a link or a folder, not a file", where=name, mend=mend)
    if entry.flag_bits & 0x1:
        raise error("is encrypted", where=name, mend=mend)
    if entry.file_size > max(SMALL, MOST_RATIO * entry.compress_size):
        raise error(f"unpacks to more than {MOST_RATIO} times its size", where=name, mend=mend)


def packed_files(files: Mapping[str, bytes]) -> bytes:
    """An archive of files in the order given.

    It is the same, byte for byte, for the same files: without dates, and stored, as compressors differ.
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, _EARLIEST)
            entry.create_system, entry.external_attr = _UNIX, _PLAIN_FILE
            archive.writestr(entry, content)
    return buffer.getvalue()
