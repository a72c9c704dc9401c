"""A table of a file as an object: what it may leave out, what it says in short, and where a fault in it lies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar, Literal

import pytest
from msgspec import Meta

from companion.preferences.structure import Fault, Others, Short, own_name, structured
from companion.preferences.units import Count, Share


@dataclass(frozen=True)
class Hit:
    """A place, and how loud."""

    at: Share
    loud: Count = 3

    def __post_init__(self) -> None:
        if self.loud == 13:
            raise ValueError("nobody strikes 13")


@dataclass(frozen=True)
class Song:
    """Named by its table."""

    name: str = own_name()
    hits: Annotated[tuple[Hit, ...], Short(lambda value: [value] if isinstance(value, dict) else value)] = ()


@dataclass(frozen=True, eq=False)
class Songs:
    """Songs by name."""

    named: Annotated[Mapping[str, Song], Others()]


@dataclass(frozen=True, eq=False)
class Book:
    """Everything that a file can hold."""

    MOVED: ClassVar = {"pages": "write it in paper.toml"}

    mood: Literal["swing", "straight"]
    late_alone: Share | None = None
    start: float = field(default=1.0, metadata={"key": "from"})
    songs: Songs | None = None
    pairs: Mapping[float, tuple[int, int]] = field(default_factory=dict)
    hits: Annotated[tuple[Hit, ...], Meta(min_length=1)] = (Hit(0.0),)
    nested: Mapping[str, tuple[Hit, ...]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Parts:
    """Two that are needed, and one of its own."""

    of: Annotated[Mapping[str, Count], Others(only=("bass", "chords"), needed=True)]
    most: Count = 1


BOOK: dict[str, Any] = {"mood": "swing"}


def test_what_a_table_leaves_out_is_as_the_dataclass_has_it() -> None:
    made = structured(Book, BOOK)
    assert (made.mood, made.late_alone, made.start, made.songs, made.hits) == ("swing", None, 1.0, None, (Hit(0.0, 3),))


def test_keys_are_written_with_a_dash_or_as_they_are_called() -> None:
    made = structured(Book, BOOK | {"late-alone": 0.5, "from": 2})
    assert (made.late_alone, made.start) == (0.5, 2)


def test_named_tables_know_their_names_and_may_be_short() -> None:
    made = structured(Book, BOOK | {"songs": {"one": {"hits": {"at": 1}}, "two": {"hits": [{"at": 0.5, "loud": 1}]}}})
    assert made.songs is not None
    assert dict(made.songs.named) == {"one": Song("one", (Hit(1),)), "two": Song("two", (Hit(0.5, 1),))}


def test_names_may_be_numbers() -> None:
    assert dict(structured(Book, BOOK | {"pairs": {"4": [1, 2], "2.5": [3, 4]}}).pairs) == {4.0: (1, 2), 2.5: (3, 4)}


@pytest.mark.parametrize(
    ("said", "what", "keys", "mend"),
    [
        ({"mood": None}, "'mood' is missing", ("",), "it is one of 'swing', 'straight'"),
        ({"mood": "swung"}, "mood = \"swung\" is not one of 'swing', 'straight'", ("mood",), "did you mean 'swing'?"),
        ({"mood": "waltz"}, "mood = \"waltz\" is not one of 'swing', 'straight'", ("mood",), None),
        ({"mood": 3}, "mood = 3 is not one of 'swing', 'straight'", ("mood",), None),
        ({"pages": 3}, "'pages' stands here no more", ("pages",), "write it in paper.toml"),
        ({"mod": "x"}, "'mod' is no key here", ("mod",), "did you mean 'mood'?"),
        ({"late_alone": 0.5}, "'late_alone' is no key here", ("late_alone",), "did you mean 'late-alone'?"),
        ({"late alone": 0.5}, "'late alone' is no key here", ("late alone",), "did you mean 'late-alone'?"),
        (
            {"xyz": 1},
            "'xyz' is no key here",
            ("xyz",),
            "there are mood, late-alone, from, songs, pairs, hits, nested",
        ),
        ({"late-alone": 1.5}, "late-alone = 1.5 is not a number from 0 to 1 (a share)", ("late-alone",), None),
        ({"from": float("inf")}, "from = inf is not a number", ("from",), None),
        ({"hits": []}, "hits = [] is not a list of one or more, each a table", ("hits",), None),
        ({"hits": {"at": 1}}, "hits = a table is not a list of one or more, each a table", ("hits",), None),
        ({"hits": [3]}, "hits[1] = 3 is not a table", ("hits", 0), None),
        ({"hits": [{"at": 1}, {}]}, "'at' is missing", ("hits", 1, ""), "it is a number from 0 to 1 (a share)"),
        ({"hits": [{"at": 2}]}, "at = 2 is not a number from 0 to 1 (a share)", ("hits", 0, "at"), None),
        ({"hits": [{"at": 1, "loud": 13}]}, "nobody strikes 13", ("hits", 0, ""), None),
        ({"nested": {"a": [{"at": 1}, 4]}}, "a[2] = 4 is not a table", ("nested", "a", 1), None),
        ({"nested": 4}, "nested = 4 is not a table", ("nested",), None),
        ({"pairs": {"four": [1, 2]}}, "'four' is no key here", ("pairs", "four"), "a key here is a number"),
        ({"pairs": {"inf": [1, 2]}}, "'inf' is no key here", ("pairs", "inf"), "a key here is a number"),
        (
            {"pairs": {"4": [1]}},
            "4 = [1] is not a list of 2, each a whole number",
            ("pairs", "4"),
            None,
        ),
        ({"songs": {"one": {"hits": 3}}}, "hits = 3 is not a list, each a table", ("songs", "one", "hits"), None),
    ],
)
def test_a_fault_says_what_is_wrong_and_the_way_to_it(
    said: dict[str, Any], what: str, keys: tuple[str | int, ...], mend: str | None
) -> None:
    data = {key: value for key, value in (BOOK | said).items() if value is not None}
    with pytest.raises(Fault) as fault:
        structured(Book, data)
    assert (fault.value.what, fault.value.keys, fault.value.mend) == (what, keys, mend)


@pytest.mark.parametrize(
    ("said", "what", "keys", "mend"),
    [
        ({"bass": 1}, "'chords' is missing", ("",), None),
        ({"bass": 1, "chords": 2, "drums": 3}, "'drums' is no key here", ("drums",), "there are most, bass, chords"),
        ({"bass": 1, "chord": 2}, "'chord' is no key here", ("chord",), "did you mean 'chords'?"),
        ({"bass": -1, "chords": 2}, "bass = -1 is not a whole number from 0 to 1000", ("bass",), None),
    ],
)
def test_of_parts_that_are_needed_none_may_be_missing_and_there_are_no_others(
    said: dict[str, int], what: str, keys: tuple[str, ...], mend: str | None
) -> None:
    assert dict(structured(Parts, {"bass": 1, "chords": 2, "most": 4}).of) == {"bass": 1, "chords": 2}
    with pytest.raises(Fault) as fault:
        structured(Parts, said)
    assert (fault.value.what, fault.value.keys, fault.value.mend) == (what, keys, mend)


def test_a_key_is_taken_where_it_is_named_and_fits() -> None:
    assert Others().takes("any") and Others(only=("a",)).takes("a") and not Others(only=("a",)).takes("b")
    fits = Others(like="a number", fits=str.isdigit)
    assert fits.takes("4") and not fits.takes("four")
    assert not Others(only=("4",), fits=str.isalpha).takes("4")
