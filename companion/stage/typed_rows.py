"""Values from a file as the dataclass that they were written from: each is checked against its declared type.

A file may have been changed by hand, cut off by a crash, or written by something else; what comes out of here is what
the type says, or a ValueError. Numbers are finite, whole numbers fit into 53 bits as JSON's do (RFC 8259, section 6),
and texts can be written as UTF-8.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from typing import Any, TypeVar, cast

T = TypeVar("T")

WHOLE = 2**53
"""Largest whole number on which JSON's readers agree."""
LARGEST = 1e300
"""Largest float accepted; JSON can hold whole numbers that a float can't."""


def from_values(kind: type[T], values: Sequence[Any]) -> T:
    """A dataclass from its values in the order of its fields; the last may be missing where they have defaults.

    Raises
    ------
    ValueError
        Too few, too many, or one is not of its type.
    """
    expected, needed = _shape(cast(Hashable, kind))
    if not needed <= len(values) <= len(expected):
        raise ValueError(f"{len(values)} values for {kind.__name__}")
    return kind(*[check(value) for check, value in zip(expected.values(), values, strict=False)])


def from_table(kind: type[T], table: Any) -> T:
    """A dataclass from a table by the names of its fields; what the table has beyond them is left out.

    Raises
    ------
    ValueError
        It is no table, a field without a default is missing, or one is not of its type.
    """
    if not isinstance(table, Mapping):
        raise ValueError(f"no table for {kind.__name__}")
    expected, _ = _shape(cast(Hashable, kind))
    values = {name: check(table[name]) for name, check in expected.items() if name in table}
    try:
        return kind(**values)
    except TypeError as error:
        raise ValueError(str(error)) from None


def of_type(value: Any, hint: Any) -> Any:
    """A value as a type hint says: bool, int, float, str, Any, Literal of texts, X | None, frozenset[X], tuple[X, ...],
    a dataclass from its table.

    Raises
    ------
    ValueError
        It isn't of that type.
    """
    return _check_for(hint)(value)


Check = Callable[[Any], Any]
"""Gives a value back as its type says, or raises ValueError."""


@cache
def _shape(kind: Any) -> tuple[dict[str, Check], int]:
    """A dataclass's fields with what checks them, and how many of them have no default."""
    hints = typing.get_type_hints(kind)
    needed = sum(f.default is MISSING and f.default_factory is MISSING for f in fields(kind))
    return {f.name: _check_for(hints[f.name]) for f in fields(kind)}, needed


@cache
def _check_for(hint: Any) -> Check:
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union) and type(None) in inner:
        check = _check_for(next(x for x in inner if x is not type(None)))
        return lambda value: None if value is None else check(value)
    if origin is typing.Literal:
        return _one_of(inner)
    if origin in (types.UnionType, typing.Union) and all(typing.get_origin(x) is typing.Literal for x in inner):
        return _one_of(tuple(word for x in inner for word in typing.get_args(x)))
    if origin in (frozenset, tuple):
        return lambda value: origin(map(_check_for(inner[0]), _list(value)))
    if isinstance(hint, type) and is_dataclass(hint):
        return lambda value: from_table(hint, value)
    return _CHECKS[hint]


def _one_of(words: tuple[str, ...]) -> Check:
    def check(value: Any) -> str:
        if type(value) is str and value in words:
            return value
        raise ValueError(f"none of {', '.join(map(repr, words))}")

    return check


def _float(value: Any) -> float:
    if type(value) in (int, float) and abs(value) <= LARGEST:  # false for what is no number, too
        return float(value)
    raise ValueError(f"{type(value).__name__} where a number belongs")


def _int(value: Any) -> int:
    if type(value) is int and abs(value) < WHOLE:
        return value
    raise ValueError(f"{type(value).__name__} where a whole number belongs")


def _bool(value: Any) -> bool:
    if type(value) is bool:
        return value
    raise ValueError(f"{type(value).__name__} where yes or no belongs")


def _str(value: Any) -> str:
    if type(value) is not str:
        raise ValueError(f"{type(value).__name__} where a text belongs")
    value.encode()  # a lone surrogate is a UnicodeEncodeError, which is a ValueError
    return value


def _list(value: Any) -> list[Any] | tuple[Any, ...]:
    if isinstance(value, list | tuple):
        return value
    raise ValueError(f"{type(value).__name__} where a list belongs")


_CHECKS: dict[Any, Check] = {Any: lambda value: value, float: _float, int: _int, bool: _bool, str: _str}
