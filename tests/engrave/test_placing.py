"""Lines fill their page evenly, and each has its bar number."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.engrave.breaks import SystemHeight
from companion.engrave.page import pages
from companion.engrave.paper import BOTTOM_MM, PAPERS, Paper
from companion.engrave.placing import MOST_MM, bar_widths, ink, line_numbers, moved, roman, spread
from companion.engrave.programme import arrangement
from companion.engrave.sheet import Bar
from companion.load import load
from companion.music.meter import Metre
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


@pytest.mark.parametrize(
    ("counts", "rooms", "gaps"),
    [
        ([2], [100], [15]),  # no more than 15 mm
        ([2], [90], [10]),
        ([2], [70], [0]),  # too little room: one below the other
        ([1], [300], [15]),
        ([6, 2], [265, 265], [5, 5]),
        ([2, 6], [265, 265], [15, 5]),
        ([6, 2, 2], [265, 265, 265], [5, 15, 15]),
        ([6, 6, 2], [265, 250, 265], [5, 2, 2]),
    ],
)
def test_the_space_between_lines_fills_the_page_within_its_limits(
    counts: list[int], rooms: list[float], gaps: list[float]
) -> None:
    """Each line is 40 mm high."""
    found = spread([[LINE] * count for count in counts], rooms, [15] * len(counts))
    assert found == [[25 + k * (40 + gap) for k in range(count)] for count, gap in zip(counts, gaps, strict=True)]


def system(top: int, *boxes: tuple[str, int, int], brace: str = "") -> str:
    """A line of two bars as the engraver draws it, its staff's top line at ``top``, with the boxes of some signs."""
    found = "".join(
        f'<g class="{what} bounding-box"><rect x="-3" y="{y}" height="{high}" width="9"/></g>'
        for what, y, high in boxes
    )
    bars = "".join(
        f'<g class="measure"><g class="staff"><path d="M{left} {top} L{right} {top}" stroke="x"/></g></g>'
        for left, right in ((0, 2500), (2500, 4000))
    )
    return f'<g id="s{top}" class="system">{brace}{found}{bars}</g>'


def test_a_bar_is_as_wide_as_its_staff() -> None:
    assert bar_widths(system(900)) == [25.0, 15.0]
    assert bar_widths('<g class="measure">nothing</g>') == []


def test_ink_is_measured_from_the_top_line_and_ties_from_the_line_before_are_left_out() -> None:
    high = system(900, ("note", 700, 300), ("harm", 500, 100), ("tie", 0, 9000), ("octave", 0, 9000))
    low = system(5000, ("dir", 4900, 3100))
    assert ink(high + low + '<g class="pgHead bounding-box"/>' + system(1, ("note", 0, 1))) == [(4.0, 1.0), (1.0, 30.0)]
    assert ink(system(900)) == []


def test_lines_are_moved_to_their_places_and_numbered_left_of_the_staff_or_the_brace() -> None:
    plain, braced = system(900), system(5000, brace='<g class="grpSym"/>')
    svg = moved(f"<svg>{plain}{braced}</svg>", [25.0, 70.5], 13.0, ["1", "5"])
    # 25 - 13 mm are 1200 hundredths, 300 below the line's own 900; 70.5 - 13 are 5750.
    assert '<g id="s900" class="system" transform="translate(0, 300)">' in svg
    assert '<g id="s5000" class="system" transform="translate(0, 750)">' in svg
    style = 'text-anchor="end" font-size="364px" font-style="italic"'  # 2.6 mm high letters in a font 1.4 times as high
    assert f'<g class="mNum"><text x="-100" y="1191" {style}>1</text></g>' in svg
    assert f'<g class="mNum"><text x="-380" y="5291" {style}>5</text></g>' in svg
    assert svg.startswith("<svg><g") and svg.endswith("</g></svg>")
    assert moved(svg, [25.0], 13.0, ["1"]) == svg, "one place for two lines"


def test_half_a_bar_gives_its_line_no_number() -> None:
    def bar(number: int, length: Fraction, new_line: bool = False) -> Bar:
        return Bar(number, length, Metre(), (), new_line=new_line)

    half, more, whole = Fraction(2), Fraction(9, 4), Fraction(4)
    assert line_numbers([bar(4, half), bar(5, whole), bar(6, whole, True)]) == ["5", "6"]
    assert line_numbers([bar(4, more), bar(5, whole)]) == ["4"]
    assert line_numbers([bar(4, half), bar(5, half)]) == ["4"] and line_numbers([]) == []


def test_each_line_has_the_number_of_its_first_whole_bar_and_an_introduction_roman_ones() -> None:
    def bar(number: int, length: int = 4, new_line: bool = False) -> Bar:
        return Bar(number, Fraction(length), Metre(), (), new_line=new_line)

    introduction = [bar(number, new_line=number == -1) for number in (-3, -2, -1, 0)]
    form = [bar(number, new_line=number % 4 == 1) for number in range(1, 9)]
    assert line_numbers([*introduction, *form]) == ["i", "iii", "1", "5"]
    assert line_numbers([bar(-1), bar(0, new_line=True), bar(1, new_line=True)]) == ["i", "ii", "1"]
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
