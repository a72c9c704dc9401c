"""Lines fill their page evenly, and each has its bar number."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.chart.model import Chart
from companion.engrave.breaks import SystemHeight
from companion.engrave.page import pages
from companion.engrave.paper import BOTTOM_MM, PAPERS, Paper, staff_sizes
from companion.engrave.placing import MOST_MM, line_numbers, roman, spread
from companion.engrave.programme import arrangement
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Bar
from companion.load import load
from companion.music.meter import Metre
from companion.preferences import preferences
from companion.preferences.paper import PaperPreferences
from companion.resources import chart_names, chart_path

LINE = SystemHeight(10, 30, section=True)


def test_a_full_page_is_filled_to_its_foot_with_even_space() -> None:
    (places,) = spread([[LINE] * 6], [265], [15])
    assert places == [25, 70, 115, 160, 205, 250]


def test_a_page_of_three_lines_isn_t_torn_apart() -> None:
    (places,) = spread([[LINE] * 3], [265], [15])
    assert places == [25, 25 + 40 + MOST_MM, 25 + 2 * (40 + MOST_MM)]


def test_the_last_page_has_no_more_space_than_the_one_before() -> None:
    first, last = spread([[LINE] * 6, [LINE] * 2], [265, 265], [15, 15])
    assert last[1] - last[0] == first[1] - first[0]


def test_each_line_has_the_number_of_its_first_whole_bar_and_an_introduction_roman_ones() -> None:
    def bar(number: int, length: int = 4, new_line: bool = False) -> Bar:
        return Bar(number, Fraction(length), Metre(), (), new_line=new_line)

    introduction = [bar(number, new_line=number == -1) for number in (-3, -2, -1, 0)]
    form = [bar(number, new_line=number % 4 == 1) for number in range(1, 9)]
    assert line_numbers([*introduction, *form]) == ["i", "iii", "1", "5"]
    assert line_numbers([bar(0, 1), *(replace(one, new_line=one.number == 5) for one in form)]) == ["1", "5"]
    assert [roman(number) for number in (1, 4, 9, 14, 19)] == ["i", "iv", "ix", "xiv", "xix"]


@pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
def test_every_line_on_paper_has_its_number_and_stays_on_the_page(paper: Paper) -> None:
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    for svg in pages(arrangement(load(chart_path("snow-on-the-awning"))), paper):
        lines = svg.split('class="system"')[1:]
        assert all(len(re.findall(r'class="mNum"><text[^>]*>\w+<', line)) == 1 for line in lines)
        assert f'height="{paper.height:g}mm"' in svg
        moved = float(re.search(r"translate\(0, (-?[\d.]+)\)", lines[-1])[1])  # type: ignore[index]
        lowest = max(float(y) for y in re.findall(r'<path d="M[\d.]+ ([\d.]+) L', lines[-1]))
        assert (moved + lowest) / 100 < paper.height - BOTTOM_MM


@pytest.mark.slow
@pytest.mark.parametrize("name", chart_names())
def test_pages_hold_five_or_six_lines_or_four_and_end_with_a_section(name: str) -> None:
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    there = [svg.split('class="system"')[1:] for svg in pages(arrangement(load(chart_path(name))), PAPERS["a4"])]
    # A page is turned where a section begins, if that costs it one line at most; the last holds what is left.
    for lines, following in pairwise(there if sum(map(len, there)) >= 8 else ()):
        section_begins = 'class="reh"' in following[0]
        assert 5 - section_begins <= len(lines) <= 7


def test_a_lead_sheet_of_usual_length_is_one_page(shipped: Chart) -> None:
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    sheet = lead_sheet(shipped)
    assert len(pages(sheet, PAPERS["letter"])) == (1 if len(sheet.bars) <= 48 else 2)


def test_staves_are_tried_from_the_largest_to_the_smallest() -> None:
    sizes = staff_sizes(preferences(PaperPreferences), (1, 2))
    assert (sizes[0], sizes[-1]) == pytest.approx((7.0, 6.2)) and sizes == sorted(sizes, reverse=True)
