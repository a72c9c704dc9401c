"""Paper and the sizes of staff that are tried on it."""

from __future__ import annotations

import pytest

from companion.engrave.paper import PAPERS, staff_sizes
from companion.preferences.paper import PaperPreferences, StaffSizes


@pytest.mark.parametrize(
    ("name", "width", "height"),
    [("a4", 210.0, 297.0), ("letter", 8.5 * 25.4, 11 * 25.4)],  # ISO 216; ANSI/ASME Y14.1
)
def test_papers_have_their_standards_sizes(name: str, width: float, height: float) -> None:
    paper = PAPERS[name]
    assert (paper.width, paper.height) == pytest.approx((width, height))
    assert (paper.units_wide, paper.units_high) == pytest.approx((4 * width, 4 * height))  # quarters of a millimetre


@pytest.mark.parametrize(
    ("least", "most", "sizes"),
    [
        (6.2, 7.0, [7.0, 6.8, 6.6, 6.4, 6.2]),
        (6.3, 7.0, [7.0, 6.8, 6.6, 6.4, 6.3]),
        (7.0, 7.0, [7.0]),
        (6.9, 7.0, [7.0, 6.9]),
    ],
)
def test_staves_are_tried_a_fifth_of_a_millimetre_smaller_each_time(
    least: float, most: float, sizes: list[float]
) -> None:
    likes = PaperPreferences("a4", StaffSizes(piano=(least, most), single=(8.0, 8.0)))
    assert staff_sizes(likes, (1, 2)) == pytest.approx(sizes)
    assert staff_sizes(likes, (1,)) == [8.0]
