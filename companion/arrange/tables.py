"""The arranger's tastes as data: the TOML files in ``configs/``, each with the player's own of the same name on top.

Method: a table in the player's file replaces, value by value, what the shipped table of the same name says; so a
player's ``bass.toml`` may hold a single cost. Numbers are not judged here but where they are used.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from companion.resources import config_path, read_toml_file, shipped_folder

Table = dict[str, Any]


@cache
def table(name: str) -> Table:
    """The data called ``name`` ('bass', 'voicings', 'comping'), read once.

    Raises
    ------
    ConfigError
        When a file can't be read.
    """
    shipped = shipped_folder() / "configs" / f"{name}.toml"
    data = read_toml_file(shipped)
    own = config_path(name)
    return data if own == shipped else _laid_over(data, read_toml_file(own))


def _laid_over(below: Table, above: Table) -> Table:
    merged = dict(below)
    for key, value in above.items():
        old = merged.get(key)
        merged[key] = _laid_over(old, value) if isinstance(value, dict) and isinstance(old, dict) else value
    return merged
