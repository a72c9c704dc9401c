"""A chart brought by dropping a file: read by the same readers as ever, and kept among the player's own.

The name that a browser gives is used for its suffix and in what is said, never as a place.
"""

from __future__ import annotations

import tempfile
from pathlib import Path, PurePosixPath
from typing import Any

import msgspec

from companion.chart.imported import report, write_imported
from companion.chart.own import free_place
from companion.chart.toml.read import MOST_BYTES, parse_toml
from companion.errors import ChartError, CompanionError, InputError
from companion.files import write_whole
from companion.load import check_text, import_file
from companion.resources import IMPORT_SUFFIXES

SUFFIXES = (*IMPORT_SUFFIXES, ".toml")
LARGEST = 8 * 1024 * 1024
"""Bytes of a file; each reader has limits of its own below that."""
MOST_FAULTS = 12


class ImportAsked(msgspec.Struct, frozen=True):
    """A file, as it was dropped."""

    name: str
    content: bytes


def imported(asked: ImportAsked) -> dict[str, Any]:
    """Keep it as a chart; tells its name, its title, and what was assumed or couldn't be kept.

    Raises
    ------
    ChartError
        It can't be read; in the words of the file's own name.
    """
    name = PurePosixPath(asked.name.replace("\\", "/")).name or "the file"
    suffix = PurePosixPath(name).suffix.lower()
    if suffix not in SUFFIXES:
        raise ChartError("is no kind of file that a chart can be made of", file=name, mend=f"bring {_listed()}")
    try:
        return _own(asked.content) if suffix == ".toml" else _foreign(asked.content, suffix)
    except CompanionError as error:
        raise ChartError(error.what, file=name, where=error.where, mend=error.mend) from None


def _listed() -> str:
    return ", ".join(suffix for suffix in SUFFIXES if suffix not in (".xml", ".midi"))


def _foreign(content: bytes, suffix: str) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, f"dropped{suffix}")
        file.write_bytes(content)
        found = import_file(file)
    place = free_place(found.chart)
    write_whole(place, write_imported(found))
    return {"name": place.stem, "title": found.chart.title, "said": report(found)}


def _own(content: bytes) -> dict[str, Any]:
    """A chart of ours, kept as it is with its comments; what is wrong with it, but can be played, is said."""
    if len(content) > MOST_BYTES:
        raise InputError("is too large for a chart")
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text", mend="save it as UTF-8") from None
    chart = parse_toml(text)
    chart.unfold()
    faults = check_text(text)
    place = free_place(chart)
    write_whole(place, text)
    return {"name": place.stem, "title": chart.title, "said": [str(one) for one in faults[:MOST_FAULTS]]}
