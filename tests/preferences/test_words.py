"""What a key asks for, and what was found there, as a musician reads it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import pytest
from msgspec import Meta

from companion.preferences.units import Bars, Count, Share, Tempo
from companion.preferences.words import shown, words


@dataclass(frozen=True)
class ATable:
    """Any table."""


@pytest.mark.parametrize(
    ("hint", "told"),
    [
        (bool, "true or false"),
        (str, "a text"),
        (int, "a whole number"),
        (float, "a number"),
        (bytes, "a value"),
        (Bars, "a whole number from 0 to 64 (bars)"),
        (Count, "a whole number from 0 to 1000"),
        (Annotated[float, "no bounds", Meta(ge=0.5, le=2)], "a number from 0.5 to 2"),
        (Annotated[float, Meta(ge=0, description="hours")], "a number of 0 or more (hours)"),
        (Annotated[float, Meta(le=9)], "a number"),
        (Annotated[float, Meta(ge=0), Meta(le=9)], "a number from 0 to 9"),
        (Annotated[float, Meta(ge=0), Meta(ge=1, le=9)], "a number from 0 to 9"),
        (Annotated[str, Meta(description='degrees such as "3 5"')], 'a text (degrees such as "3 5")'),
        (Literal["gaps", "free"], "one of 'gaps', 'free'"),
        (str | None, "a text"),
        (int | str, "a whole number or a text"),
        (ATable, "a table"),
        (Mapping[str, int], "a table"),
        (Annotated[Mapping[str, int], Meta(min_length=1)], "a table"),
        (tuple[Share, ...], "a list, each a number from 0 to 1 (a share)"),
        (Annotated[tuple[int, ...], Meta(min_length=1)], "a list of one or more, each a whole number"),
        (Annotated[tuple[int, ...], Meta(description="steps")], "a list, each a whole number"),
        (tuple[int, int, int], "a list of 3, each a whole number"),
        (
            tuple[Tempo, Share],
            "a list of 2: a number from 10 to 600 (quarters a minute), then a number from 0 to 1 (a share)",
        ),
    ],
)
def test_what_is_asked_for_is_told_with_its_bounds_and_its_unit(hint: Any, told: str) -> None:
    assert words(hint) == told


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (True, "true"),
        (False, "false"),
        (1, "1"),
        (0.5, "0.5"),
        ("loud", '"loud"'),
        ({"key": 21}, "a table"),
        ([1, True], "[1, True]"),
        ("two\nlines\x00", '"two?lines?"'),
        ("far   apart", '"far apart"'),
        ("a" * 58, f'"{"a" * 58}"'),
        ("a" * 59, f'"{"a" * 55} ...'),
    ],
)
def test_a_wrong_value_is_shown_in_a_line_of_sixty_letters_at_most(value: Any, told: str) -> None:
    assert shown(value) == told and len(told) <= 60
