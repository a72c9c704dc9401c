"""Texts cut at their bar lines, and lengths as messages give them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.toml.bar_lines import REPEATS, cut_at_bar_lines, stop, written_length
from companion.errors import ChartError


@pytest.mark.parametrize(
    ("text", "before", "bars", "after"),
    [
        ("| C | F |", "", ("C", "F"), ""), ("C | F", "C", (), "F"), ("C", "C", (), ""), ("", "", (), ""),
        ("G2 | C | F | D", "G2", ("C", "F"), "D"), ("| C || F |]", "", ("C", "F"), ""), ("[| C |]", "", ("C",), ""),
        ("| C | F |\n| G | A |", "", ("C", "F", "G", "A"), ""),  # at an end of line one bar line, not two
        ("| C | F |\n\n| G |", "", ("C", "F", "G"), ""), ("| C | F |\n G | A |", "", ("C", "F", "G", "A"), ""),
        ("| C | F\n| G |", "", ("C", "F", "G"), ""), ("| C | F\n G | A |", "", ("C", "F  G", "A"), ""),
        ("G2\n| C |", "G2", ("C",), ""), ("| C |\n| |\n| F |", "", ("C", "", "F"), ""), ("| |", "", ("",), ""),
    ],
)  # fmt: skip
def test_a_text_is_cut_at_its_bar_lines(text: str, before: str, bars: tuple[str, ...], after: str) -> None:
    found = cut_at_bar_lines(text)
    assert (found.before, found.bars, found.after) == (before, bars, after)


@pytest.mark.parametrize(
    ("length", "text"),
    [
        ("4.5", "4.5"), ("4", "4"), ("13/3", "13/3"), ("1/6", "1/6"), ("1000", "1000"), ("1001", "over 1000"),
        ("1/999", "1/999"), ("1/1002", "0.000998004"), ("1/7", "0.142857"),
    ],
)  # fmt: skip
def test_a_length_in_a_message_is_a_decimal_where_that_has_an_end(length: str, text: str) -> None:
    assert written_length(Fraction(length)) == text


@pytest.mark.parametrize(("text", "found"), [("|: C", True), ("C :|", True), ("a::b", True), ("|1 C", True),
                                             ("[2 C", True), ("(3::2 abc", False), ("| C |", False)])  # fmt: skip
def test_signs_of_repeats_are_found(text: str, found: bool) -> None:
    assert bool(REPEATS.search(text)) is found


def test_the_usual_report_stops_at_the_first_fault() -> None:
    fault = ChartError("wrong")
    with pytest.raises(ChartError) as raised:
        stop(fault)
    assert raised.value is fault
