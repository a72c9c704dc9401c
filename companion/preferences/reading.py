"""The one way in which preferences are read: the player's file over ours, value by value, into a checked object.

A file's table is a frozen dataclass: a field is a key (``late_alone`` is written ``late-alone``), its type says what
may stand there, ``Annotated`` with a unit of :mod:`companion.preferences.units` between which bounds. A field without a
default must be in the file; ours has all of them. A field of the type ``Mapping`` is a table of named things; marked
with :class:`Others` it takes all keys of its table that have no field of their own. ``__post_init__`` may refuse, with
a ValueError, values that don't go together. :class:`Short` marks what may be written in short, :func:`own_name` a field
that takes the name under which its table stands. :func:`config` says which file a dataclass is.

The rule for two files: tables are merged key by key, at any depth; everything else, lists as well, is replaced whole.
So it is with tables of named things (players, treatments, patterns): a new name is added, under a known name the values
given take the place of ours and the others stay.

Whatever is wrong is a ConfigError of one line: file, table, key, what would be right. Files are read at the first call
and no more while the process lasts, so that a file saved in the midst of a tune changes nothing in it.
"""

from __future__ import annotations

import os
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from difflib import get_close_matches
from functools import cache
from math import isfinite
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

import msgspec

from companion.errors import ConfigError
from companion.resources import DATA_VARIABLE, data_folder, read_toml_file, shipped_folder

T = TypeVar("T")
Keys = tuple[str | int, ...]
"""The way to a value: keys of tables, and places in lists."""

_Files = Sequence[tuple[Path, Mapping[str, Any]]]
"""What each file says, ours first."""
OWN_NAME = "own name"
"""Marks a field that takes the name under which its table stands."""
_SHOWN = 60
"""Letters of a wrong value that a message shows."""


@dataclass(frozen=True)
class Others:
    """Marks the field that takes the keys which have no field of their own.

    Attributes
    ----------
    only : tuple of str
        The keys there may be; any if empty.
    needed : bool
        Whether each of ``only`` must be there.
    like : str
        What such a key looks like, in words, when ``fits`` says that not every text will do.
    fits : callable, optional
        Whether a text can be such a key.
    """

    only: tuple[str, ...] = ()
    needed: bool = False
    like: str = ""
    fits: Callable[[str], bool] | None = None

    def takes(self, key: str) -> bool:
        """Whether a key may stand here."""
        return (not self.only or key in self.only) and (self.fits is None or self.fits(key))


@dataclass(frozen=True)
class Short:
    """Marks what may be written in short.

    Attributes
    ----------
    spelled_out : callable
        Gives the long way of a value as it was read, or the value itself.
    """

    spelled_out: Callable[[Any], Any]


def own_name() -> Any:
    """A field that takes the name under which its table stands; it is no key of the table."""
    return field(default="", metadata={OWN_NAME: True})


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
        raise fault.told(files) from None


@cache
def _opened(kind: type[Any], chosen: str | None) -> _Files:
    """What the files of a kind say; ``chosen``, the folder that the environment names, tells readings apart."""
    folders = shipped_folder() / "configs", data_folder() / "configs"
    return [(path, read_toml_file(path)) for path in _files(_SOURCES[kind], *folders)]


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


# From what is written to objects


class Fault(ValueError):
    """What is wrong, and the way to it; the file isn't known here.

    Parameters
    ----------
    what : str
        What is wrong, in one clause.
    keys : tuple
        The way to the value; its last part is empty where it is the table itself that is wrong.
    mend : str, optional
        What to do about it.
    shows : str, optional
        What the value is called where ours is named beside it.
    """

    def __init__(self, what: str, keys: Keys, mend: str | None = None, *, shows: str | None = None):
        super().__init__(what)
        self.what, self.keys, self.mend, self.shows = what, keys, mend, shows

    def told(self, files: _Files) -> ConfigError:
        """The error for the user: in the last of the files that says anything there."""
        said = self.keys if self.keys[-1] != "" else self.keys[:-1]
        path, mend = _where(files, said), self.mend
        if self.shows and mend is None and path != files[0][0] and _says(files[0][1], said):
            ours = _at(files[0][1], said)
            mend = f"ours says {self.shows} = {_shown(ours)}"
            if isinstance(ours, dict):
                mend = f"write [{'.'.join(str(key) for key in said)}] on a line of its own, its keys below"
        last = max((n for n, key in enumerate(self.keys) if isinstance(key, str)), default=0)
        table = [str(key) for key in self.keys[:last] if isinstance(key, str)]
        return ConfigError(self.what, file=str(path), where=f"[{'.'.join(table)}]" if table else None, mend=mend)


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


@dataclass(frozen=True)
class _Key:
    """A field as it is written."""

    field: str
    written: str
    hint: Any
    needed: bool


@cache
def _keys(kind: type[Any]) -> tuple[tuple[_Key, ...], tuple[_Key, Others] | None]:
    """The keys of a table, and the field that takes the others."""
    hints = typing.get_type_hints(kind, include_extras=True)
    found, others = [], None
    for one in fields(kind):
        if OWN_NAME in one.metadata:
            continue
        needed = one.default is MISSING and one.default_factory is MISSING
        key = _Key(one.name, one.metadata.get("key", one.name.replace("_", "-")), hints[one.name], needed)
        marks = [mark for mark in getattr(key.hint, "__metadata__", ()) if isinstance(mark, Others)]
        if marks:
            others = key, marks[0]
        else:
            found.append(key)
    return tuple(found), others


def structured(kind: type[T], data: Mapping[str, Any], keys: Keys = ()) -> T:
    """A table as an object. Raises Fault for what can't be."""
    known, others = _keys(kind)  # type: ignore[arg-type]
    values: dict[str, Any] = {one.name: str(keys[-1]) for one in fields(kind) if OWN_NAME in one.metadata}  # type: ignore[arg-type]
    for key in known:
        if key.written in data:
            values[key.field] = _value(key.hint, data[key.written], (*keys, key.written))
        elif key.needed:
            raise Fault(f"'{key.written}' is missing", (*keys, ""), f"it is {words(key.hint)}")
    left = {key: value for key, value in data.items() if key not in {one.written for one in known}}
    if others is None:
        for name in left:
            raise _unknown(name, [one.written for one in known], keys)
    else:
        values[others[0].field] = _others(others[1], others[0].hint, left, [one.written for one in known], keys)
    try:
        return kind(**values)
    except Fault:
        raise
    except ValueError as refused:
        raise Fault(str(refused), (*keys, "")) from None


def _others(others: Others, hint: Any, data: Mapping[str, Any], known: Sequence[str], keys: Keys) -> Any:
    for name in data:
        if not others.takes(name):
            raise _unknown(name, [*known, *others.only], keys, others.like)
    for name in others.only if others.needed else ():
        if name not in data:
            raise Fault(f"'{name}' is missing", (*keys, ""))
    try:
        return _value(hint, dict(data), keys)
    except Fault as fault:
        given = str(fault.keys[len(keys)]) if len(fault.keys) > len(keys) else ""
        near = _nearest(given, known)
        if near and given in data:  # a misspelt key of the table is taken for a name of somebody's own
            raise Fault(fault.what, fault.keys, f"did you mean '{near}'?") from None
        raise


def _unknown(name: str, known: Sequence[str], keys: Keys, like: str = "") -> Fault:
    near = _nearest(name, known)
    there = ", ".join([*known, *([like] if like else [])])
    return Fault(f"'{name}' is no key here", (*keys, name), f"did you mean '{near}'?" if near else f"there are {there}")


def _nearest(name: str, known: Sequence[str]) -> str | None:
    alike = {key.lower(): key for key in known}
    found = get_close_matches(name.lower().replace("_", "-").replace(" ", "-"), alike, n=1, cutoff=0.6)
    return alike[found[0]] if found else None


def _value(hint: Any, value: Any, keys: Keys) -> Any:
    """A value as its type has it: tables and what holds them here, everything else by msgspec."""
    if get_origin(hint) in (Union, types.UnionType) and types.NoneType in get_args(hint):
        (hint,) = (one for one in get_args(hint) if one is not types.NoneType)  # TOML has nothing that means nothing
    plain = hint.__origin__ if get_origin(hint) is Annotated else hint
    marks = getattr(hint, "__metadata__", ())
    written = next((mark.spelled_out(value) for mark in marks if isinstance(mark, Short)), value)
    if is_dataclass(plain) and isinstance(plain, type):
        if not isinstance(written, dict):
            raise _wrong(hint, value, keys)
        return structured(plain, written, keys)
    origin, of = get_origin(plain), get_args(plain)
    if origin is Mapping:
        if not isinstance(value, dict):
            raise _wrong(hint, value, keys)
        return MappingProxyType(
            {_name(of[0], key, keys): _value(of[1], one, (*keys, key)) for key, one in value.items()}
        )
    if origin is tuple and of[-1] is Ellipsis and _holds_tables(of[0]):
        if not isinstance(written, list) or (not written and any(getattr(mark, "min_length", 0) for mark in marks)):
            raise _wrong(hint, value, keys)
        return tuple(_value(of[0], one, (*keys, n)) for n, one in enumerate(written))
    return _leaf(hint, written, keys)


def _holds_tables(hint: Any) -> bool:
    return is_dataclass(hint) or any(_holds_tables(one) for one in get_args(hint))


def _name(hint: Any, name: str, keys: Keys) -> Any:
    """A key of a table of named things: a text, or a number written as one."""
    try:
        found = msgspec.convert(name, hint, strict=hint is str)
        if not _is_finite(found):
            raise msgspec.ValidationError
        return found
    except msgspec.ValidationError:
        raise Fault(f"'{name}' is no key here", (*keys, name), f"a key here is {words(hint)}") from None


def _leaf(hint: Any, value: Any, keys: Keys) -> Any:
    try:
        found = msgspec.convert(value, hint)
    except msgspec.ValidationError:
        raise _wrong(hint, value, keys) from None
    if not _is_finite(value):
        raise _wrong(hint, value, keys)
    return found


def _is_finite(value: Any) -> bool:
    if isinstance(value, list):
        return all(_is_finite(one) for one in value)
    return not isinstance(value, float) or isfinite(value)


def _wrong(hint: Any, value: Any, keys: Keys) -> Fault:
    last = max((n for n, key in enumerate(keys) if isinstance(key, str)), default=0)
    name = f"{keys[last]}" + "".join(f"[{int(key) + 1}]" for key in keys[last + 1 :])
    near = _nearest(value, get_args(hint)) if get_origin(hint) is Literal and isinstance(value, str) else None
    return Fault(
        f"{name} = {_shown(value)} is not {words(hint)}", keys, f"did you mean '{near}'?" if near else None, shows=name
    )


def _shown(value: Any) -> str:
    """A value as TOML has it, or as much of it as a line holds."""
    text = {True: "true", False: "false"}[value] if isinstance(value, bool) else str(value)
    text = f'"{value}"' if isinstance(value, str) else "a table" if isinstance(value, dict) else text
    text = " ".join("".join(letter if letter.isprintable() else "?" for letter in text).split())
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 4]} ..."


# What would be right, in words

_PLAIN = {bool: "true or false", str: "a text", int: "a whole number", float: "a number"}


def words(hint: Any) -> str:
    """What a type asks for, as a musician reads it.

    >>> from companion.preferences.units import Share, Velocity
    >>> words(Velocity), words(tuple[Share, Share])
    ('a number from 1 to 127 (a velocity)', 'a list of 2, each a number from 0 to 1 (a share)')
    """
    metas: list[Any] = []
    if get_origin(hint) is Annotated:
        metas = [one for one in hint.__metadata__ if isinstance(one, msgspec.Meta)]
        hint = hint.__origin__
    origin, of = get_origin(hint), get_args(hint)
    if origin is Literal:
        return "one of " + ", ".join(f"'{one}'" for one in of)
    if origin in (Union, types.UnionType):
        return " or ".join(words(one) for one in of if one is not types.NoneType)
    if origin is tuple:
        return _list_words(of, metas)
    if origin is Mapping or is_dataclass(hint):
        return str(getattr(hint, "IN_WORDS", "a table"))
    return _PLAIN.get(hint, "a value") + _bounds(metas)


def _list_words(of: tuple[Any, ...], metas: Sequence[Any]) -> str:
    if of[-1] is Ellipsis:
        return (
            "a list of one or more" if any(meta.min_length for meta in metas) else "a list"
        ) + f", each {words(of[0])}"
    if len(set(of)) == 1:
        return f"a list of {len(of)}, each {words(of[0])}"
    return f"a list of {len(of)}: " + ", then ".join(words(one) for one in of)


def _bounds(metas: Sequence[Any]) -> str:
    low = next((meta.ge for meta in metas if meta.ge is not None), None)
    high = next((meta.le for meta in metas if meta.le is not None), None)
    unit = next((f" ({meta.description})" for meta in metas if meta.description), "")
    if low is not None and high is not None:
        return f" from {low:g} to {high:g}{unit}"
    return (f" of {low:g} or more" if low is not None else "") + unit
