"""Bars as they are named, and the bar of a beat."""

from __future__ import annotations

from typing import Any

import pytest

from companion.practice.findings import bar_and_chorus, bar_at, place_words


@pytest.mark.parametrize(
    ("beat", "bar"),
    [(-1.0, 0), (-0.01, 0), (0.0, 1), (3.99, 1), (4.0, 2), (63.9, 16), (64.0, 16), (70.0, 16)],
)
def test_a_beat_before_the_first_downbeat_is_the_pickups_and_one_after_the_end_the_last_bars(
    stand: Any, beat: float, bar: int
) -> None:
    assert bar_at(stand.tune().unfold(), beat) == bar


@pytest.mark.parametrize(
    ("bar", "last", "words"),
    [(3, None, "bar 3"), (0, None, "the pickup"), (3, 3, "bar 3"), (3, 4, "bars 3 to 4"), (1, None, "bar 1")],
)
def test_a_bar_or_several_as_one_says_it(bar: int, last: int | None, words: str) -> None:
    assert place_words(bar, last) == words


@pytest.mark.parametrize(
    ("beat", "place"),
    [(-1.0, (0, 1)), (0.0, (1, 1)), (63.9, (16, 1)), (64.0, (1, 2)), (68.0, (2, 2)), (128.0, (1, 3)), (127.9, (16, 2))],
)
def test_a_beat_that_goes_on_through_the_choruses_lies_in_a_bar_of_one_of_them(
    stand: Any, beat: float, place: tuple[int, int]
) -> None:
    assert bar_and_chorus(stand.tune().unfold(), beat) == place
