"""The shipped files: each is a typed object, and says in a comment what each of its keys is for."""

from __future__ import annotations

import pickle
import re
import typing
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from fnmatch import fnmatch
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import pytest

from companion.errors import ConfigError
from companion.preferences import preferences
from companion.preferences.every import EVERY, check_preferences
from companion.preferences.reading import file_of, forget
from companion.preferences.structure import OWN_NAME, Others
from companion.resources import DATA_VARIABLE, shipped_folder

CONFIGS = shipped_folder() / "configs"


def test_every_shipped_file_is_one_typed_object_and_can_be_read() -> None:
    assert sorted(file_of(kind) for kind in EVERY) == sorted(path.stem for path in CONFIGS.glob("*.toml"))
    check_preferences()


@pytest.mark.parametrize("kind", EVERY, ids=file_of)
def test_every_object_may_be_sent_to_another_process(kind: type[Any]) -> None:
    sent = pickle.loads(pickle.dumps(preferences(kind)))
    assert repr(sent) == repr(preferences(kind))


@pytest.mark.parametrize("kind", EVERY, ids=file_of)
def test_every_object_says_what_it_is_and_is_frozen(kind: type[Any]) -> None:
    for one, _ in tables(kind):
        assert one.__doc__ and not one.__doc__.startswith(f"{one.__name__}("), one
        assert one.__dataclass_params__.frozen, one


@pytest.mark.parametrize("kind", EVERY, ids=file_of)
def test_every_key_of_a_shipped_file_has_its_comment(kind: type[Any]) -> None:
    commented = list(comments(CONFIGS / f"{file_of(kind)}.toml"))
    missing = [
        f"[{table}] {key}"
        for one, table in tables(kind)
        for key in keys(one)
        if not any((place == "*" or fnmatch(place, table)) and key == name for place, name in commented)
    ]
    assert not missing


def keys(kind: type[Any]) -> list[str]:
    """The keys of a table that hold values, as they are written; tables have a line of their own to be explained on."""
    hints = typing.get_type_hints(kind, include_extras=True)
    named = {
        f.name: f.metadata.get("key", f.name.replace("_", "-")) for f in fields(kind) if not f.metadata.get(OWN_NAME)
    }
    return [key for name, key in named.items() if not _is_table(hints[name])]


def tables(kind: type[Any], place: str = "") -> Iterator[tuple[type[Any], str]]:
    """Every kind of table in a file, with its place as a shell pattern: named things are stars."""
    yield kind, place
    hints = typing.get_type_hints(kind, include_extras=True)
    for field in fields(kind):
        hint = hints[field.name]
        name = field.metadata.get("key", field.name.replace("_", "-"))
        here = place if _is_others(hint) else f"{place}.{name}".lstrip(".")
        for one, stars in _inner(hint):
            yield from tables(one, ".".join(part for part in (here, *stars) if part))


def _is_table(hint: Any) -> bool:
    plain = hint.__origin__ if get_origin(hint) is Annotated else hint
    return is_dataclass(plain) or get_origin(plain) is Mapping


def _is_others(hint: Any) -> bool:
    return any(isinstance(mark, Others) for mark in getattr(hint, "__metadata__", ()))


def _inner(hint: Any, stars: tuple[str, ...] = ()) -> Iterator[tuple[type[Any], tuple[str, ...]]]:
    if is_dataclass(hint) and isinstance(hint, type):
        yield hint, stars
    more = (*stars, "*") if get_origin(hint) is Mapping else stars
    for one in get_args(hint):
        yield from _inner(one, more)


def comments(path: Any) -> Iterator[tuple[str, str]]:
    """Table and key of what a file explains: beside the value, or in a list of keys, which holds for any table."""
    table = ""
    for line in path.read_text(encoding="utf-8").splitlines():
        if header := re.match(r"\[([^\[\]]+)\]", line):
            table = header[1].replace('"', "")
        elif listed := re.match(r"#\s+((?:[\w-]+, )*[\w-]+)\s{2,}\S", line):
            yield from (("*", name) for name in listed[1].split(", "))
        elif beside := re.match(r"([\w-]+)\s*=[^#]*#\s*\S", line):
            yield table, beside[1]


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        # Likeness by the letters in common, twice over the sum of both lengths: 8/9, 10/12, 10/13.
        ("tuch", "touch"),
        ("touched", "touch"),
        ("touch-me", None),
        ("untouchd", None),
        ("treatments-of-mine", None),
        ("treatment", "treatments"),
        ("notes", None),
    ],
)
def test_a_file_is_taken_for_a_slip_only_where_its_name_is_nearly_one_of_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, meant: str | None
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    forget()
    path = tmp_path / "configs" / f"{name}.toml"
    path.parent.mkdir()
    path.write_text("", encoding="utf-8")
    if meant is None:
        check_preferences()
    else:
        with pytest.raises(ConfigError) as told:
            check_preferences()
        assert str(told.value) == f"{path}: no preferences have this name; did you mean '{meant}.toml'?"
    forget()
