"""Lines end where phrases do, pages where sections do."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.chart.written import BarMarks
from companion.engrave.breaks import EASY, SystemHeight, lined, page_breaks
from companion.engrave.sheet import Bar
from companion.music.meter import Metre


def bars(*counts: int) -> list[Bar]:
    """Sections of so many bars."""
    found = []
    for section, count in enumerate(counts):
        for k in range(count):
            heading = "ABCDE"[section] if k == 0 else None
            found.append(Bar(len(found) + 1, Fraction(4), Metre(), (), heading=heading))
    return found


def lines(broken: list[Bar]) -> list[int]:
    """How many bars stand on each line."""
    starts = [k for k, bar in enumerate(broken) if bar.new_line or k == 0] + [len(broken)]
    return [after - first for first, after in pairwise(starts)]


@pytest.mark.parametrize(
    ("counts", "expected"),
    [
        ((8, 8), [4, 4, 4, 4]),
        ((12,), [4, 4, 4]),
        ((5, 4), [5, 4]),
        ((7,), [4, 3]),
        ((10,), [4, 4, 2]),
        ((1, 8), [5, 4]),
    ],
)
def test_lines_hold_four_bars_where_they_can_and_a_section_begins_one(
    counts: tuple[int, ...], expected: list[int]
) -> None:
    assert lines(lined(bars(*counts))) == expected


def test_crowded_bars_have_more_room() -> None:
    assert lines(lined(bars(8), [50.0] * 8, 110.0)) == [2, 2, 2, 2]
    assert lines(lined(bars(2), [300.0] * 2, 110.0)) == [1, 1]


def test_a_pickup_stands_in_the_first_line() -> None:
    first = Bar(0, Fraction(1), Metre(), ())
    assert lines(lined([first, *bars(8)])) == [5, 4]


def test_long_endings_begin_a_line_and_short_ones_stay_with_what_they_end() -> None:
    def with_endings(shared: int, *lengths: int) -> list[Bar]:
        found = bars(shared + sum(lengths))
        at = shared
        for time, length in enumerate(lengths, 1):
            found[at] = replace(found[at], marks=BarMarks(ending=(time,)))
            last = found[at + length - 1]
            found[at + length - 1] = replace(last, marks=replace(last.marks, ending_stops=True))
            at += length
        return found

    assert lines(lined(with_endings(4, 4, 4))) == [4, 4, 4]
    assert lines(lined(with_endings(7, 1, 1))) == [4, 5]


def test_pages_are_turned_at_sections_and_none_is_nearly_empty() -> None:
    plain = [SystemHeight(10, 30, section=k % 2 == 0) for k in range(8)]
    assert page_breaks(plain, 210, 250, 2) == [0, 4]
    assert page_breaks(plain[:6], 210, 250, 2) in ([0, 2], [0, 4])
    assert page_breaks(plain[:4], 210, 250, 2) == [0]


def test_a_page_of_two_hands_has_six_lines_at_most_where_it_can() -> None:
    heights = [SystemHeight(10, 28, section=k in (0, 1, 3, 5, 7, 9)) for k in range(12)]
    assert page_breaks(heights, 250, 290, 2) == [0, 5]
    assert page_breaks(heights, 250, 290, 2, EASY) == [0, 6]


def test_what_is_higher_than_a_page_has_one_for_itself() -> None:
    assert page_breaks([SystemHeight(300, 300, section=True), SystemHeight(10, 30, section=True)], 200, 250, 2) == [
        0,
        1,
    ]
