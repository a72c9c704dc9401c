"""Metre: the time signatures of lead sheets. Which pulse is counted is common practice."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.music.meter import Metre, parse_metre


@pytest.mark.parametrize(
    ("text", "bar", "pulse"),
    [
        ("4/4", 4, 1),
        ("3/4", 3, 1),
        ("2/2", 4, 1),
        ("6/4", 6, 1),
        ("3/2", 6, 1),
        ("2/4", 2, 1),
        ("6/8", 3, Fraction(3, 2)),
        ("9/8", Fraction(9, 2), Fraction(3, 2)),
        ("12/8", 6, Fraction(3, 2)),
        ("3/8", Fraction(3, 2), 1),
        ("5/4", 5, 1),
        ("7/8", Fraction(7, 2), 1),
        ("1/1", 4, 1),
        ("6/16", Fraction(3, 2), 1),
        ("5/32", Fraction(5, 8), 1),
    ],
)
def test_a_metre_has_its_quarters_in_the_bar_and_its_pulse(text: str, bar: Fraction, pulse: Fraction) -> None:
    metre = parse_metre(text)
    assert (metre.bar, metre.pulse, str(metre)) == (bar, pulse, text)


@pytest.mark.parametrize(
    "text",
    ["", "4", "4/", "/4", "0/4", "4/0", "4/3", "4/5", "4/7", "4/64", "-3/4", "C", "4/4/4", "3.5/4"],
)
def test_what_is_no_metre_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a metre"):
        parse_metre(text)


def test_only_groups_of_three_quavers_are_compound() -> None:
    compound = {beats for beats in range(1, 16) if Metre(beats, 8).compound}
    assert compound == {6, 9, 12, 15}
