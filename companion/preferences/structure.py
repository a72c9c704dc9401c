"""From what is written in a file to the object that its dataclass describes.

A file's table is a frozen dataclass: a field is a key (``late_alone`` is written ``late-alone``), its type says what
may stand there, ``Annotated`` with a unit of :mod:`companion.preferences.units` between which bounds. A field without a
default must be in the file; ours has all of them. A field of the type ``Mapping`` is a table of named things; marked
with :class:`Others` it takes all keys of its table that have no field of their own. ``__post_init__`` may refuse, with
a ValueError, values that don't go together. :class:`Short` marks what may be written in short, :func:`own_name` a field
that takes the name under which its table stands. ``MOVED``, a class variable, says where keys of a former version went.

Tables, and lists of tables, are taken apart here, so that a fault has its place; single values are checked by msgspec.
"""

from __future__ import annotations

import copyreg
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from functools import cache
from math import isfinite
from types import MappingProxyType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from companion.errors import nearest
from companion.preferences.words import shown, words

T = TypeVar("T")
Keys = tuple[str | int, ...]
"""The way to a value: keys of tables, and places in lists."""

OWN_NAME = "own name"
"""Marks a field that takes the name under which its table stands."""


def read_only(named: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    """A table of named things that nobody changes."""
    return MappingProxyType(named)


# Whatever holds preferences can be pickled, to be sent to another process or measured.
copyreg.pickle(MappingProxyType, lambda table: (read_only, (dict(table),)))


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


@dataclass(frozen=True)
class _Key:
    """A field as it is written."""

    field: str
    written: str
    hint: Any
    needed: bool


@dataclass(frozen=True)
class _Keys:
    """The keys of a table, the field that takes the others, and the field that takes the table's own name."""

    known: tuple[_Key, ...]
    others: tuple[_Key, Others] | None
    own_name: str | None


@cache
def _keys(kind: type[Any]) -> _Keys:
    """What a table may hold."""
    hints = typing.get_type_hints(kind, include_extras=True)
    found, others, name = [], None, None
    for one in fields(kind):
        if OWN_NAME in one.metadata:
            name = one.name
            continue
        needed = one.default is MISSING and one.default_factory is MISSING
        key = _Key(one.name, one.metadata.get("key", one.name.replace("_", "-")), hints[one.name], needed)
        marks = [mark for mark in getattr(key.hint, "__metadata__", ()) if isinstance(mark, Others)]
        if marks:
            others = key, marks[0]
        else:
            found.append(key)
    return _Keys(tuple(found), others, name)


def structured(kind: type[T], data: Mapping[str, Any], keys: Keys = ()) -> T:
    """A table as an object. Raises Fault for what can't be."""
    keys_of: _Keys = _keys(kind)  # type: ignore[arg-type]
    known, others = keys_of.known, keys_of.others
    values: dict[str, Any] = {} if keys_of.own_name is None else {keys_of.own_name: str(keys[-1])}
    for key in known:
        if key.written in data:
            values[key.field] = _value(key.hint, data[key.written], (*keys, key.written))
        elif key.needed:
            raise Fault(f"'{key.written}' is missing", (*keys, ""), f"it is {words(key.hint)}")
    written = [one.written for one in known]
    left = {key: value for key, value in data.items() if key not in written}
    if others is not None:
        values[others[0].field] = _others(others[1], others[0].hint, left, written, keys)
    elif left:
        name = next(iter(left))
        moved: Mapping[str, str] = getattr(kind, "MOVED", {})
        if name in moved:
            raise Fault(f"'{name}' stands here no more", (*keys, name), moved[name])
        raise _unknown(name, written, keys)
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
    return nearest(name.replace("_", "-").replace(" ", "-"), known)


@dataclass(frozen=True)
class _Plan:
    """How values of one type are read."""

    table: type[Any] | None = None
    """The dataclass, where it is a table."""
    name: Any = None
    """The type of the names, where it is a table of named things."""
    inner: Any = None
    """The type of what it holds, where it is a table of named things or a list of tables."""
    short: Short | None = None
    some: bool = False
    """Whether a list may not be empty."""


@cache
def _plan(hint: Any) -> tuple[Any, _Plan]:
    """A type, without what means nothing in TOML, and how it is read."""
    if get_origin(hint) in (Union, types.UnionType) and types.NoneType in get_args(hint):
        (hint,) = (one for one in get_args(hint) if one is not types.NoneType)
    plain = hint.__origin__ if get_origin(hint) is Annotated else hint
    marks = getattr(hint, "__metadata__", ())
    short = next((mark for mark in marks if isinstance(mark, Short)), None)
    some = any(getattr(mark, "min_length", 0) for mark in marks)
    if is_dataclass(plain) and isinstance(plain, type):
        return hint, _Plan(table=plain, short=short)
    origin, of = get_origin(plain), get_args(plain)
    if origin is Mapping:
        return hint, _Plan(name=of[0], inner=of[1], short=short)
    if origin is tuple and of[-1] is Ellipsis and _holds_tables(of[0]):
        return hint, _Plan(inner=of[0], short=short, some=some)
    return hint, _Plan(short=short)


def _value(hint: Any, value: Any, keys: Keys) -> Any:
    """A value as its type has it: tables and what holds them here, everything else by msgspec."""
    hint, plan = _plan(hint)
    written: Any = value if plan.short is None else plan.short.spelled_out(value)
    if plan.table is None and plan.inner is None:
        return _leaf(hint, written, keys)
    fits = isinstance(written, list if plan.table is None and plan.name is None else dict)
    if not fits or (plan.some and not written):
        raise _wrong(hint, value, keys)
    if plan.table is not None:
        return structured(plan.table, written, keys)
    if plan.name is not None:
        named = ((_name(plan.name, key, keys), _value(plan.inner, one, (*keys, key))) for key, one in written.items())
        return read_only(dict(named))
    return tuple(_value(plan.inner, one, (*keys, n)) for n, one in enumerate(written))


def _holds_tables(hint: Any) -> bool:
    return is_dataclass(hint) or any(_holds_tables(one) for one in get_args(hint))


def _name(hint: Any, name: str, keys: Keys) -> Any:
    """A key of a table of named things: a text, or a number written as one."""
    import msgspec

    try:
        found = msgspec.convert(name, hint, strict=hint is str)
        if not _is_finite(found):
            raise msgspec.ValidationError
        return found
    except msgspec.ValidationError:
        raise Fault(f"'{name}' is no key here", (*keys, name), f"a key here is {words(hint)}") from None


def _leaf(hint: Any, value: Any, keys: Keys) -> Any:
    import msgspec

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
        f"{name} = {shown(value)} is not {words(hint)}", keys, f"did you mean '{near}'?" if near else None, shows=name
    )
