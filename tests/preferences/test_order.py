"""At how many bars before its last chord a tune slows down."""

from __future__ import annotations

import pytest

from companion.preferences.order import RitardandoBars


@pytest.mark.parametrize(
    ("how", "bars"),
    [
        (None, 1),
        ("held", 1),
        ("tag", 2),
        ("vamp", 3),
        ("ritardando", 4),
        ("turnaround", 5),
        ("deceptive", 6),
        ("cut", 0),
    ],
)
def test_each_way_to_end_has_its_bars_and_an_end_that_is_none_of_them_doesnt_slow(how: str | None, bars: int) -> None:
    each = RitardandoBars(held=1, tag=2, vamp=3, ritardando=4, turnaround=5, deceptive=6)
    assert each.of(how) == bars
