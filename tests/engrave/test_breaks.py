"""Lines end where phrases do, pages where sections do."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.chart.written import BarMarks
from companion.engrave.breaks import EASY, SystemHeight, line_cost, lined, page_breaks, page_cost
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
    assert lines(lined(bars(4), [25.5] * 4, 100.0)) == [4], "a fiftieth more than there is room can still be read"
    assert lines(lined(bars(4), [25.6] * 4, 100.0)) == [2, 2]
    assert lines(lined(bars(4), [0.255] * 4)) == [4] and lines(lined(bars(4), [0.3] * 4)) == [2, 2]


@pytest.mark.parametrize(
    ("count", "filled", "beside", "cost"),
    [
        (4, None, {}, 0.0),
        (4, 0.4, {}, 0.0),
        (4, 0.9, {}, 0.0),
        (4, 0.3, {}, 0.08),
        (4, 1.0, {}, 0.6),
        (3, None, {}, 0.2),
        (2, None, {}, 0.8),
        (1, None, {}, 1.8 + 1.0),
        (1, None, {"alone": True}, 1.8),
        (2, None, {"alone": True}, 0.8),
        (0, None, {}, 3.2),
        (5, None, {}, 0.25),
        (6, 1.0, {}, 1.0 + 0.6),
        (4, None, {"in_ending": True}, 1.5),
        (3, None, {"in_phrase": True}, 0.2 + 0.6),
    ],
)
def test_a_line_of_four_easy_bars_costs_nothing_and_others_what_they_are_worse(
    count: int, filled: float | None, beside: dict[str, bool], cost: float
) -> None:
    assert line_cost(bars(count), filled, **beside) == pytest.approx(cost)


def test_half_a_bar_isn_t_counted_among_the_bars_of_a_line() -> None:
    half, most = (replace(bars(1)[0], length=length) for length in (Fraction(2), Fraction(5, 2)))
    assert line_cost([half, *bars(4)]) == 0.0 and line_cost([most, *bars(3)]) == 0.0
    assert line_cost([*bars(4), most]) == 0.25
    early = replace(half, heading=None)
    assert lines(lined([early, *(replace(bar, heading=None) for bar in bars(8))])) == [5, 4]


def test_an_ending_that_begins_inside_a_line_costs_a_little() -> None:
    four = bars(4)
    for k in (0, 2):
        four[k] = replace(four[k], marks=BarMarks(ending=(k + 1,)))
    assert line_cost(four) == 0.25 and line_cost(four[1:]) == 0.2 + 0.25


def test_bars_without_a_heading_are_parted_in_fours_too() -> None:
    assert lines(lined([replace(bar, heading=None) for bar in bars(8)])) == [4, 4]


def test_a_coda_begins_a_line_even_beside_a_bar_that_leads_in() -> None:
    plain = bars(8, 1, 4)
    assert lines(lined(plain)) == [4, 4, 5]
    coda = [replace(bar, marks=BarMarks(coda=True)) if k == 9 else bar for k, bar in enumerate(plain)]
    assert lines(lined(coda)) == [4, 4, 1, 4]
    assert lines(lined([replace(plain[0], heading=None), *bars(1, 3)])) == [5]


def test_a_line_has_twelve_bars_at_most_however_short_they_are() -> None:
    def short(count: int) -> list[Bar]:
        return [replace(bar, length=Fraction(1), heading=None) for bar in bars(count)]

    assert lines(lined(short(12))) == [12]
    assert max(lines(lined(short(13)))) <= 12


def test_nothing_has_no_lines() -> None:
    assert lined([]) == []


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
    assert lines(lined(with_endings(4, 6))) == [4, 6], "a bracket isn't torn for two bars"


def test_pages_are_turned_at_sections_and_none_is_nearly_empty() -> None:
    plain = [SystemHeight(10, 30, section=k % 2 == 0) for k in range(8)]
    assert page_breaks(plain, 210, 250, 2) == [0, 4]
    assert page_breaks(plain[:6], 210, 250, 2) in ([0, 2], [0, 4])
    assert page_breaks(plain[:4], 210, 250, 2) == [0]


def test_a_page_of_two_hands_has_six_lines_at_most_where_it_can() -> None:
    heights = [SystemHeight(10, 28, section=k in (0, 1, 3, 5, 7, 9)) for k in range(12)]
    assert page_breaks(heights, 250, 290, 2) == [0, 5]
    assert page_breaks(heights, 250, 290, 2, EASY) == [0, 6]


@pytest.mark.parametrize(
    ("count", "filled", "turn", "easy", "cost"),
    [
        (5, 1.0, True, None, 0.0),
        (5, 0.5, True, None, 0.25),
        (5, 0.8, True, None, 0.04),
        (5, 0.5, None, None, 0.25 * 0.95),
        (5, 1.0, False, None, 0.12),
        (1, 1.5, True, None, 0.0),
        (4, 1.0, True, EASY, 0.0),
        (6, 1.0, True, EASY, 0.0),
        (3, 1.0, True, EASY, 0.15),
        (2, 1.0, False, EASY, 0.3 + 0.12),
        (7, 1.0, True, EASY, 0.15),
        (8, 1.0, None, EASY, 0.3),
        (3, 1.0, None, EASY, 0.0),
    ],
)
def test_a_full_page_that_is_turned_at_a_section_costs_nothing(
    count: int, filled: float, turn: bool | None, easy: tuple[int, int] | None, cost: float
) -> None:
    assert page_cost(count, filled, turn, easy) == pytest.approx(cost)


def test_a_page_takes_what_just_fits() -> None:
    """Three lines of 40 with two gaps of 5 are 130 high."""
    three = [SystemHeight(10, 30, section=False)] * 3
    assert page_breaks(three, 130, 130, 5) == [0]
    assert page_breaks(three, 129, 200, 5) in ([0, 1], [0, 2])
    assert page_breaks(three, 129, 130, 5) == page_breaks(three, 100, 100, 5) == [0, 2]
    assert page_breaks(three[:1], 40, 40, 5) == [0] and page_breaks([], 40, 40, 5) == []


def test_what_is_higher_than_a_page_has_one_for_itself() -> None:
    assert page_breaks([SystemHeight(300, 300, section=True), SystemHeight(10, 30, section=True)], 200, 250, 2) == [
        0,
        1,
    ]
