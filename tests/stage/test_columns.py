"""Columns that stay in line, whatever the terminal."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.stage.columns import Column, FittedColumn, fitting, line_of_columns

TABLE = [Column("bar", 4, 4), Column("chords", 6, 12, leave_out=1), Column("notes", 6, 20, leave_out=2)]


def test_where_nobody_says_how_wide_each_is_as_wide_as_it_wants() -> None:
    assert [one.width for one in fitting(TABLE, None)] == [4, 12, 20]


def test_the_least_useful_is_left_out_first() -> None:
    assert [one.head for one in fitting(TABLE, 20)] == ["bar", "chords", "notes"]
    assert [one.head for one in fitting(TABLE, 19)] == ["bar", "chords"]
    assert [one.head for one in fitting(TABLE, 11)] == ["bar"]


@given(st.integers(4, 90), st.lists(st.text("ABC #", max_size=40), min_size=3, max_size=3))
def test_no_line_is_too_long_and_each_column_begins_where_its_head_does(width: int, texts: list[str]) -> None:
    shown = fitting(TABLE, width)
    heads = line_of_columns(shown, {one.head: one.head for one in TABLE})
    line = line_of_columns(shown, dict(zip(("bar", "chords", "notes"), ("|" + text for text in texts), strict=True)))
    assert len(heads) <= width and len(line) <= width
    assert all(line[heads.index(one.head)] == "|" for one in shown)


def test_what_is_cut_says_that_it_goes_on() -> None:
    shown = fitting(TABLE, 20)
    assert line_of_columns(shown, {"bar": "1", "chords": "Dm7b5 G7alt", "notes": "C"}) == "1     Dm7b5…  C"
    assert line_of_columns(shown, {"bar": "1", "chords": "Dm7b5 G7alt", "notes": "C"}, ".") == "1     Dm7b5.  C"


@pytest.mark.parametrize(
    ("width", "widths"),
    [
        # At least 4, 6 and 6 characters and two between them; what is left goes to those on the left.
        (20, [4, 6, 6]), (21, [4, 7, 6]), (26, [4, 12, 6]), (27, [4, 12, 7]), (40, [4, 12, 20]), (99, [4, 12, 20]),
        (12, [4, 6]), (19, [4, 12]), (18, [4, 12]), (17, [4, 11]), (11, [4]), (4, [4]), (1, [4]),
    ],
)  # fmt: skip
def test_how_wide_each_column_is(width: int, widths: list[int]) -> None:
    assert [one.width for one in fitting(TABLE, width)] == widths


def test_a_column_that_fits_just_so_is_not_cut_and_no_line_ends_with_blanks() -> None:
    shown = [FittedColumn("bar", 4), FittedColumn("notes", 5)]
    assert line_of_columns(shown, {"bar": "A 12", "notes": "C D E"}) == "A 12  C D E"
    assert line_of_columns(shown, {"bar": "A 123", "notes": "C D E F"}) == "A 1…  C D …"
    assert line_of_columns(shown, {"bar": "A 1", "notes": ""}) == "A 1"
    assert line_of_columns(shown, {"bar": "A 123", "notes": "C D E F"}, "..") == "A ..  C D.."
