"""Errors as a user meets them: one line with file, place and remedy, and the name that was likely meant."""

from __future__ import annotations

import pytest

from companion.errors import (
    ALIKE,
    ChartError,
    CompanionError,
    DeviceError,
    FaultsFound,
    InputError,
    nearest,
    right_name,
)


@pytest.mark.parametrize(
    ("told", "line"),
    [
        ({}, "is wrong"), ({"file": "a.toml"}, "a.toml: is wrong"), ({"where": "bar 3"}, "bar 3: is wrong"),
        ({"mend": "mend it"}, "is wrong; mend it"),
        ({"file": "a.toml", "where": "bar 3", "mend": "mend\n it"}, "a.toml: bar 3: is wrong; mend it"),
    ],
)  # fmt: skip
def test_an_error_is_one_line(told: dict[str, str], line: str) -> None:
    assert str(CompanionError("is  wrong", **told)) == line


def test_what_is_known_of_its_place_stays_and_what_the_caller_knows_is_added() -> None:
    fault = ChartError("is wrong", where="bar 3", mend="mend it")
    around = fault.within(file="a.toml", where="section A")
    assert (type(around), around.what, around.file, around.where, around.mend) == (
        ChartError, "is wrong", "a.toml", "section A, bar 3", "mend it",
    )  # fmt: skip
    assert around.within(file="b.toml").file == "a.toml" and around.within().where == "section A, bar 3"
    assert InputError("is wrong").within().where is None


def test_scripts_tell_errors_by_their_exit_status() -> None:
    assert [kind("x").exit_status for kind in (CompanionError, InputError, FaultsFound, DeviceError)] == [2, 2, 1, 3]


@pytest.mark.parametrize(
    ("name", "known", "near"),
    [
        ("Walkin", ["walking", "open"], "walking"), ("OPEN", ["walking", "Open"], "Open"),
        ("stride", ["walking", "open"], None),
        ("abcd", ["abcx", "abxx"], "abcx"), ("abcd", ["abxx"], None), ("", ["open"], None), ("open", [], None),
    ],
)  # fmt: skip
def test_the_nearest_name_is_meant_whatever_its_case(name: str, known: list[str], near: str | None) -> None:
    """By the share of letters that two names have in common in order (Ratcliff and Obershelp, 1988)."""
    assert nearest(name, known, ALIKE) == near
    wanted = f"did you mean {near!r}?" if near else f"use one of {', '.join(known)}"
    assert right_name(name, iter(known)) == wanted


def test_three_letters_of_four_are_a_slip_and_fewer_only_where_one_asks_for_less() -> None:
    assert ALIKE == 0.75 and nearest("abcde", ["abcxy"]) == "abcxy", "three of five are six tenths"
    assert nearest("abcdefg", ["abcdxyz"]) is None and nearest("abcde", ["abcxy"], ALIKE) is None
