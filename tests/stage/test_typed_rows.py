"""Values from a file, held to the types that they were written from: closed sets of words above all."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from companion.follow.shape import TempoShape
from companion.messages import EVENTS, PARTS, Beat, Order, State, StateName
from companion.stage.settings import ORDERS, TIMES, Settings
from companion.stage.take_files import Outcome
from companion.stage.take_writer import settings_table
from companion.stage.typed_rows import from_table, from_values, of_type


@pytest.mark.parametrize("name", get_args(StateName))
@pytest.mark.parametrize("event", ["", *EVENTS])
def test_every_state_that_can_be_told_is_read_again(name: Any, event: Any) -> None:
    assert from_values(State, [1.0, name, None, 120.0, 0.5, event]) == State(1.0, name, None, 120.0, 0.5, event)


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        (State, [1.0, "dancing"]),
        (State, [1.0, "playing", None, None, None, "coda"]),
        (State, [1.0, None]),
        (Beat, [0.0, 1.0, 0.5, 1, "head", "mine"]),
        (Beat, [0.0, 1.0, 0.5, 1, ["head"]]),
        (Order, [1.0, "drums", 0x90, 40, 64]),
        (Order, [1.0, 3, 0x90, 40, 64]),
    ],
)
def test_a_word_that_is_none_of_the_set_is_refused(kind: Any, values: list[Any]) -> None:
    with pytest.raises(ValueError, match="none of '"):
        from_values(kind, values)


def test_all_settings_there_can_be_are_read_again_and_no_others() -> None:
    for time in TIMES:
        for order in ORDERS:
            told = Settings(frozenset({"bass", "solo"}), PARTS, time, order=order)
            assert from_table(Settings, settings_table(told)) == told
    for wrong in ({"time": "rubato"}, {"order": "any"}, {"you": ["piano"]}, {"parts": ["bass", "drums"]}):
        with pytest.raises(ValueError, match="none of '"):
            from_table(Settings, settings_table(Settings()) | wrong)


def test_a_shape_is_read_again_with_the_settings_and_a_damaged_one_is_refused() -> None:
    told = Settings(shape=TempoShape(4.0, (0.0, 1.5), (0.1, -0.1), (0.05, 0.02), takes=3, swing=0.1))
    table = settings_table(told)
    assert from_table(Settings, table) == told
    for wrong in ({"length": "4"}, {"beats": [0.5, 1.5]}, {"stretch": [0.1]}, {"spread": None}):
        with pytest.raises(ValueError):
            from_table(Settings, table | {"shape": table["shape"] | wrong})


def test_a_take_ends_in_one_of_four_ways() -> None:
    assert [of_type(how, Outcome) for how in ("ended", "stopped", "interrupted", "lost")] == [*get_args(Outcome)]
    with pytest.raises(ValueError):
        of_type("faded", Outcome)


# Numbers, words and lists at the edges of their types (RFC 8259, section 6: whole numbers that every reader agrees on)


@pytest.mark.parametrize(
    ("hint", "value", "sound"),
    [
        (int, 0, True),
        (int, 2**53 - 1, True),
        (int, -(2**53) + 1, True),
        (int, 2**53, False),
        (int, -(2**53), False),
        (int, True, False),
        (int, 1.0, False),
        (float, 1, True),
        (float, 1e300, True),
        (float, -1e300, True),
        (float, 1.1e300, False),
        (float, 10**301, False),
        (float, float("inf"), False),
        (float, float("nan"), False),
        (float, False, False),
        (float, "1", False),
        (bool, True, True),
        (bool, 0, False),
        (str, "", True),
        (str, "♭", True),
        (str, "\ud800", False),
        (str, 3, False),
        (float | None, None, True),
        (float | None, 2.5, True),
        (float | None, "x", False),
        (float, None, False),
        (tuple[str, ...], ["a"], True),
        (tuple[str, ...], [], True),
        (tuple[str, ...], "a", False),
        (tuple[str, ...], [1], False),
        (tuple[str, ...], {"a": 1}, False),
        (frozenset[str], ["a", "a"], True),
        (Any, [1, "x", None], True),
    ],
)
def test_a_value_is_its_type_or_refused(hint: Any, value: Any, sound: bool) -> None:
    if not sound:
        with pytest.raises(ValueError):
            of_type(value, hint)
        return
    read = of_type(value, hint)
    assert read == value or read in (tuple(value), frozenset(value))
    assert type(of_type(1, float)) is float


@pytest.mark.parametrize("count", range(10))
def test_a_row_has_all_its_values_but_for_those_with_a_usual_one(count: int) -> None:
    values = [1.0, "playing", None, 120.0, 0.5, "", 1, None, False][:count]
    needed = 2
    most = 9
    if count < needed:
        with pytest.raises(ValueError, match=f"{count} values for State"):
            from_values(State, values)
    elif count <= most:
        assert from_values(State, values).name == "playing"
    with pytest.raises(ValueError, match="values for Order"):
        from_values(Order, [1.0, "bass", 0x90, 40][: min(count, 4)])
    with pytest.raises(ValueError, match="6 values for Order"):
        from_values(Order, [1.0, "bass", 0x90, 40, 64, 0])
