"""What a type of a preference asks for, and a value that was found, in words for a message."""

from __future__ import annotations

import types
from collections.abc import Mapping, Sequence
from dataclasses import is_dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

_SHOWN = 60
"""Letters of a wrong value that a message shows."""
_PLAIN = {bool: "true or false", str: "a text", int: "a whole number", float: "a number"}


def words(hint: Any) -> str:
    """What a type asks for, as a musician reads it.

    >>> from companion.preferences.units import Share, Velocity
    >>> words(Velocity), words(tuple[Share, Share])
    ('a number from 1 to 127 (a velocity)', 'a list of 2, each a number from 0 to 1 (a share)')
    """
    metas: list[Any] = []
    if get_origin(hint) is Annotated:
        metas = [one for one in hint.__metadata__ if hasattr(one, "description")]
        hint = hint.__origin__
    origin, of = get_origin(hint), get_args(hint)
    if origin is Literal:
        return "one of " + ", ".join(f"'{one}'" for one in of)
    if origin in (Union, types.UnionType):
        return " or ".join(words(one) for one in of if one is not types.NoneType)
    if origin is tuple:
        return _list_words(of, metas)
    if origin is Mapping or is_dataclass(hint):
        return "a table"
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


def shown(value: Any) -> str:
    """A value as TOML has it, or as much of it as a line holds."""
    text = {True: "true", False: "false"}[value] if isinstance(value, bool) else str(value)
    text = f'"{value}"' if isinstance(value, str) else "a table" if isinstance(value, dict) else text
    text = " ".join("".join(letter if letter.isprintable() else "?" for letter in text).split())
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 4]} ..."
