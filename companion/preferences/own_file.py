"""The player's own file of preferences, changed by a program: values are set, whatever else stands there stays.

Comments, order and layout stay as well (tomlkit), and a key that is new in it gets the comment that explains it in
ours. A file that can't be read, or that would hold something that can't be, is not written. What stood there is kept
beside it, as :func:`companion.files.write_output` does.

:func:`changed_file` makes the file as it would be, so that it can be shown first; :func:`set_values` sets values of one
table at once.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from companion.errors import ConfigError
from companion.files import unwritable, write_output
from companion.preferences.reading import file_of, forget, laid_over, told
from companion.preferences.structure import Fault, structured
from companion.resources import data_folder, read_toml_file, shipped_folder

Values = Mapping[str, Any]
"""Keys as they are written, tables within tables."""


@dataclass(frozen=True)
class OwnFile:
    """A file as it would be written."""

    path: Path
    text: str
    said: tuple[str, ...]
    """What is new in it, a line each."""

    def write(self) -> str:
        """Write it, and tell so in a line; what stood there is kept beside it.

        Raises
        ------
        InputError
            It can't be written there; nothing has changed.
        """
        former = _write(self.path, self.text)
        values = "one value" if len(self.said) == 1 else f"{len(self.said)} values"
        kept = f"; what stood there is kept in {former.name}" if former else ""
        return f"written: {self.path}, {values}{kept}"


def own_path(kind: type[Any]) -> Path:
    """Where the player's own file of a kind of preferences is, or would be."""
    return data_folder() / "configs" / f"{file_of(kind)}.toml"


def changed_file(
    kind: type[Any], values: Values, *, header: str, always: frozenset[str] = frozenset(), notes: Values | None = None
) -> OwnFile | None:
    """The player's own file with values over what stands there.

    Parameters
    ----------
    kind : type
        A dataclass of :mod:`companion.preferences`.
    values : mapping
        What is to hold. What holds already isn't written.
    header : str
        The first lines of a file that isn't there yet.
    always : set of str
        Keys at the top that are written even so.
    notes : mapping
        Comments in the place of ours, by the same keys.

    Returns
    -------
    OwnFile or None
        None when nothing is to be written.

    Raises
    ------
    ConfigError
        The file can't be changed so: it says why.
    """
    path = own_path(kind)
    ours_path = shipped_folder() / "configs" / path.name
    ours = read_toml_file(ours_path)
    own = read_toml_file(path) if path.exists() else {}
    new = _new(values, laid_over(ours, own), own, always)
    if not new:
        return None
    before = path.read_text(encoding="utf-8") if path.exists() else header
    meant = laid_over(own, new)
    _check(kind, path, meant)
    for inline in (False, True):
        text = _changed(before, new, ours_path.read_text(encoding="utf-8"), notes or {}, inline=inline)
        if text is not None and _says(text, meant):
            return OwnFile(path, text, tuple(_said(new)))
    mend = "write each table as [table] with its keys below, and set it up again"
    raise ConfigError("can't be changed without losing something", file=str(path), mend=mend)


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
    return _write(path, text)


def _new(values: Values, effective: Values, own: Values, always: frozenset[str]) -> dict[str, Any]:
    """Those of the values that don't hold yet."""
    found: dict[str, Any] = {}
    for key, value in values.items():
        if isinstance(value, Mapping):
            inner = _new(value, effective.get(key, {}), own.get(key, {}), frozenset())
            found |= {key: inner} if inner else {}
        elif effective.get(key) != value or (key in always and key not in own):
            found[key] = value
    return found


def _changed(before: str, new: Values, ours: str, notes: Values, *, inline: bool) -> str | None:
    """A text with values in it; new tables are written in one line where ``inline``. None where that can't be."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    document = tomlkit.parse(before)
    try:
        _set(document, new, tomlkit.parse(ours), notes, tomlkit.inline_table if inline else tomlkit.table)
    except (TOMLKitError, ValueError):
        return None
    return tomlkit.dumps(document)


def _set(table: Any, new: Values, ours: Any, notes: Values, make: Callable[[], Any]) -> None:
    import tomlkit
    from tomlkit.items import InlineTable

    for key, value in new.items():
        known = ours.item(key) if ours is not None and key in ours else None
        if isinstance(value, Mapping):
            inner = table[key] if key in table else make()
            _set(inner, value, getattr(known, "value", None), notes.get(key, {}), make)
            if key not in table:
                table[key] = inner
            continue
        if key in table and key not in notes:
            table[key] = value  # its comment stays
            continue
        item = tomlkit.item(value)
        comment = notes.get(key) or (known.trivia.comment if known is not None else "")
        if comment and not isinstance(table, InlineTable):
            item.comment(comment.lstrip("# ").strip())
        table[key] = item


def _says(text: str, meant: Values) -> bool:
    """Whether a text says what it should, and no more."""
    try:
        return tomllib.loads(text) == meant
    except tomllib.TOMLDecodeError:
        return False


def _said(new: Values, table: str = "") -> list[str]:
    """Each value as a line: '[piano.channels] bass = 2'."""
    import tomlkit

    lines = []
    for key, value in new.items():
        if isinstance(value, Mapping):
            lines += _said(value, f"{table}.{key}".lstrip("."))
        else:
            place = f"[{table}] " if table else ""
            lines.append(f"{place}{key} = {tomlkit.item(value).as_string()}")
    return lines


def _inline(value: Mapping[str, Any]) -> Any:
    import tomlkit

    inner = tomlkit.inline_table()
    inner.update(value)
    return inner


def _write(path: Path, text: str) -> Path | None:
    """Write it, so that it counts at once; where the former file is kept."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise unwritable(path, error, "look at the permissions of its folder") from None
    former = write_output(path, text)
    forget()
    return former


def _check(kind: type[Any], path: Path, own: Mapping[str, Any]) -> None:
    """See that the file would be read."""
    ours = shipped_folder() / "configs" / f"{file_of(kind)}.toml"
    shipped = read_toml_file(ours)
    try:
        structured(kind, laid_over(shipped, own))
    except Fault as fault:
        raise told(fault, [(ours, shipped), (path, own)]) from None
