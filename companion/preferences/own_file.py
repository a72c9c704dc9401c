"""The player's own file of preferences, changed by a program: values are set, whatever else stands there stays.

A file that can't be read, or that would hold something that can't be, is not written. What stood there is kept beside
it, as :func:`companion.files.write_output` does.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from companion.errors import ConfigError
from companion.files import write_output
from companion.preferences.reading import file_of, forget, laid_over, told
from companion.preferences.structure import Fault, structured
from companion.resources import data_folder, read_toml_file, shipped_folder


def own_path(kind: type[Any]) -> Path:
    """Where the player's own file of a kind of preferences is, or would be."""
    return data_folder() / "configs" / f"{file_of(kind)}.toml"


def set_values(kind: type[Any], table: str, values: Mapping[str, Any]) -> Path | None:
    """Set values of a table in the player's own file, which is made if it isn't there.

    Parameters
    ----------
    kind : type
        A dataclass declared with :func:`companion.preferences.reading.config`.
    table : str
        The name of the table.
    values : mapping
        By key as it is written in the file; None takes a key out.

    Returns
    -------
    Path or None
        Where the former file is kept, if there was another.

    Raises
    ------
    ConfigError
        The file can't be read, or the values can't be.
    InputError
        It can't be written.
    """
    import tomlkit

    path = own_path(kind)
    before = read_toml_file(path) if path.exists() else {}
    document = tomlkit.parse(path.read_text(encoding="utf-8")) if before or path.exists() else tomlkit.document()
    if not isinstance(before.get(table, {}), dict):
        raise ConfigError(f"'{table}' is no table", file=str(path), mend=f"write [{table}] on a line of its own")
    if table not in document:
        document.add(table, tomlkit.table())
    place: Any = document[table]
    for key, value in values.items():
        place.pop(key, None)
        if value is not None:
            place[key] = _inline(value) if isinstance(value, Mapping) else value
    text = tomlkit.dumps(document)
    _check(kind, path, tomlkit.parse(text).unwrap())
    path.parent.mkdir(parents=True, exist_ok=True)
    former = write_output(path, text)
    forget()
    return former


def _inline(value: Mapping[str, Any]) -> Any:
    import tomlkit

    inner = tomlkit.inline_table()
    inner.update(value)
    return inner


def _check(kind: type[Any], path: Path, own: Mapping[str, Any]) -> None:
    """See that the file would be read."""
    ours = shipped_folder() / "configs" / f"{file_of(kind)}.toml"
    shipped = read_toml_file(ours)
    try:
        structured(kind, laid_over(shipped, own))
    except Fault as fault:
        raise told(fault, [(ours, shipped), (path, own)]) from None
