"""The arranger's tastes as data: the TOML files in ``configs/``, each with the player's own of the same name on top.

Method: a table in the player's file replaces, value by value, what the shipped table of the same name says; so a
player's ``bass.toml`` may hold a single cost. A value of another kind than ours is refused here; whether a number makes
sense is judged where it is used.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from companion.errors import ConfigError
from companion.resources import config_path, read_toml_file, shipped_folder

Table = dict[str, Any]


@cache
def table(name: str) -> Table:
    """The data called ``name`` ('bass', 'voicings', 'comping'), read once.

    Raises
    ------
    ConfigError
        When a file can't be read, or a value is of another kind than ours.
    """
    shipped = shipped_folder() / "configs" / f"{name}.toml"
    data = read_toml_file(shipped)
    own = config_path(name)
    if own == shipped:
        return data
    try:
        return _laid_over(data, read_toml_file(own), ())
    except ConfigError as error:
        raise error.within(file=str(own)) from None


def _laid_over(below: Table, above: Table, place: tuple[str, ...]) -> Table:
    merged = dict(below)
    for key, value in above.items():
        old = merged.get(key)
        if old is not None and (kind := _kind(old)) != _kind(value):
            where = f"[{'.'.join(place)}]" if place else None
            raise ConfigError(f"{key} = {value!r} is not {kind}", where=where, mend=f"ours says {key} = {old!r}")
        merged[key] = _laid_over(old, value, (*place, key)) if isinstance(value, dict) and old is not None else value
    return merged


def _kind(value: Any) -> str:
    """What a value is, in words: two of one kind may stand for each other."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, (int, float)):
        return "a number"
    if isinstance(value, list):
        return "a list of numbers" if value and all(_kind(one) == "a number" for one in value) else "a list"
    return "a table" if isinstance(value, dict) else "a text"
