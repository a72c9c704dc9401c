"""The one way in which preferences are read: the player's file over ours, value by value, into a checked object.

The rule for two files: tables are merged key by key, at any depth; everything else, lists as well, is replaced whole.
So it is with tables of named things (players, treatments, patterns): a new name is added, under a known name the values
given take the place of ours and the others stay.

Whatever is wrong is a ConfigError of one line: file, table, key, what would be right. Files are read at the first call
and no more while the process lasts, so that a file saved in the midst of a tune changes nothing in it. How a dataclass
describes a file is in :mod:`companion.preferences.structure`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from companion.errors import ConfigError
from companion.preferences.structure import Fault, Keys, structured
from companion.preferences.words import shown
from companion.resources import DATA_VARIABLE, data_folder, read_toml_file, shipped_folder

T = TypeVar("T")
_Files = Sequence[tuple[Path, Mapping[str, Any]]]
"""What each file says, ours first."""


@dataclass(frozen=True)
class _Source:
    name: str
    also: str


_SOURCES: dict[type, _Source] = {}


def config(name: str, *, also: str = "") -> Callable[[type[T]], type[T]]:
    """Declare that a dataclass is ``configs/NAME.toml``; ``also``: a shell pattern of further files laid over it."""

    def declared(kind: type[T]) -> type[T]:
        _SOURCES[kind] = _Source(name, also)
        return kind

    return declared


def file_of(kind: type[Any]) -> str:
    """The name of a kind's file, without its suffix."""
    return _SOURCES[kind].name


def preferences(kind: type[T]) -> T:
    """The player's preferences of one kind, laid over ours; the same object at each call.

    Parameters
    ----------
    kind : type
        A dataclass declared with :func:`config`.

    Raises
    ------
    ConfigError
        A file can't be read, or holds something that can't be; one line with the file, the table and the key.
    """
    found: T = _read(kind, os.environ.get(DATA_VARIABLE))  # type: ignore[arg-type]
    return found


def said_in(kind: type[Any], *keys: str) -> Path:
    """The last file of a kind that says anything in a table."""
    files: _Files = _opened(kind, os.environ.get(DATA_VARIABLE))  # type: ignore[arg-type]
    return _where(files, keys)


def forget() -> None:
    """Read everything anew when it is next asked for."""
    _read.cache_clear()
    _opened.cache_clear()


@cache
def _read(kind: type[Any], chosen: str | None) -> Any:
    """The preferences of one kind."""
    files: _Files = _opened(kind, chosen)  # type: ignore[arg-type]
    together: dict[str, Any] = {}
    for _, data in files:
        together = laid_over(together, data)
    try:
        return structured(kind, together)
    except Fault as fault:
        raise told(fault, files) from None


@cache
def _opened(kind: type[Any], chosen: str | None) -> _Files:
    """What the files of a kind say; ``chosen``, the folder that the environment names, tells readings apart."""
    folders = shipped_folder() / "configs", data_folder() / "configs"
    found = [(path, read_toml_file(path)) for path in _files(_SOURCES[kind], *folders)]
    if not found:
        ours = folders[0] / f"{file_of(kind)}.toml"
        raise ConfigError("there is no such file", file=str(ours), mend="install the companion again")
    return found


def _files(source: _Source, *folders: Path) -> list[Path]:
    """The files of one kind, in the order in which they are laid over each other."""
    found = []
    for folder in folders:
        first = folder / f"{source.name}.toml"
        more = sorted(folder.glob(f"{source.also}.toml")) if source.also else []
        found += [path for path in dict.fromkeys([first, *more]) if path.exists() or path.is_symlink()]
    return found


def laid_over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """One table over another: tables are merged key by key, everything else is replaced.

    >>> laid_over({"a": {"b": 1, "c": [1, 2]}}, {"a": {"c": [3]}, "d": 4})
    {'a': {'b': 1, 'c': [3]}, 'd': 4}
    """
    merged = dict(below)
    for key, value in above.items():
        old = merged.get(key)
        merged[key] = laid_over(old, value) if isinstance(old, dict) and isinstance(value, dict) else value
    return merged


# Whose value it is


def told(fault: Fault, files: _Files) -> ConfigError:
    """A fault as the user reads it: in the last of the files that says anything there."""
    said = fault.keys if fault.keys[-1] != "" else fault.keys[:-1]
    path, mend = _where(files, said), fault.mend
    if fault.shows and mend is None and path != files[0][0] and _says(files[0][1], said):
        ours = _at(files[0][1], said)
        mend = f"ours says {fault.shows} = {shown(ours)}"
        if isinstance(ours, dict):
            mend = f"write [{'.'.join(str(key) for key in said)}] on a line of its own, its keys below"
    last = max((n for n, key in enumerate(fault.keys) if isinstance(key, str)), default=0)
    table = [str(key) for key in fault.keys[:last] if isinstance(key, str)]
    return ConfigError(fault.what, file=str(path), where=f"[{'.'.join(table)}]" if table else None, mend=mend)


def _where(files: _Files, keys: Keys) -> Path:
    """The last file that says anything at the end of a way, or as near to it as any does."""
    for length in range(len(keys), 0, -1):
        for path, data in reversed(files):
            if _says(data, keys[:length]):
                return path
    return files[-1][0]


def _says(data: Any, keys: Keys) -> bool:
    try:
        _at(data, keys)
    except (KeyError, IndexError, TypeError):
        return False
    return True


def _at(data: Any, keys: Keys) -> Any:
    for key in keys:
        data = data[key]
    return data
