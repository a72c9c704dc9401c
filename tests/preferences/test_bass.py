"""The bass's range, and by what its patterns are found."""

from __future__ import annotations

import pytest

from companion.preferences.bass import BassRange, is_bar


def test_a_range_counts_both_of_its_ends() -> None:
    assert BassRange(lowest=28, highest=40, comfortable=(28, 40), outside=1.0).size == 13, "an octave and its root"


@pytest.mark.parametrize("text", ["4", "3", "1.5", "0.5", "10", "6/8", "12/8", "7/4"])
def test_a_bar_is_named_by_its_quarters_or_its_metre(text: str) -> None:
    assert is_bar(text)


@pytest.mark.parametrize("text", ["0", "00", "0.0", "", "four", "4.", ".5", "-4", "0/4", "4/0", "6/8/2", "4 "])
def test_nothing_no_quarters_and_no_beats_are_no_bar(text: str) -> None:
    assert not is_bar(text)
