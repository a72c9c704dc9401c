"""Where chords are struck when riffs are kept over four bars and then broken, to the last of them.

What stands here is what is struck today, not what is right: kept as in test_written_out.py.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.arrange.chords.comping import strikes
from companion.arrange.melody.part import NOTHING, index_melody
from companion.arrange.plan import plan
from companion.chart.model import Form

Composer = Callable[..., Form]
CHANGES = " | ".join(["Dm7 | G7 | Cmaj7 | A7"] * 4)
CALLS = ((0.5, 2),), ((0, 1), (1.5, 0.5))
"""What is sung in turn, a bar each: beat and length."""
MELODY = [(4 * k + at, long, 72 + (3 * k) % 7) for k in range(16) for at, long in CALLS[k % 2]]
STRUCK = [
    (
        "solos",
        False,
        0,
        """
        1 3 4 7 9 11 12 15 17.5 18.5 21.5 23 25.5 26.5 29.5 31 32.5 35 37 38.5 39.5 43 45 46.5 47.5 49 50.5
        52.5 54 55.5 59 61 62
        """,
    ),
    (
        "solos",
        False,
        1,
        """
        0 1.5 5.5 8 9.5 13.5 17.5 18.5 21 22.5 23.5 25.5 26.5 28.5 30 31.5 33 35 38 39.5 43 46 47.5 49.5
        52.5 54 55.5 58.5 60.5 62 63.5
        """,
    ),
    (
        "solos",
        False,
        2,
        """
        1.5 3 4.5 6 7.5 9 11 12.5 14 15.5 17.5 18.5 20.5 21.5 23.5 25.5 26.5 28.5 29.5 34.5 37.5 39.5 42.5
        45.5 47.5 49 50.5 52.5 54 55.5 57 58.5 60.5 61.5
        """,
    ),
    (
        "solos",
        False,
        13,
        """
        1.5 3 5.5 6.5 7.5 9.5 11 13.5 14.5 15.5 17.5 22 23.5 25.5 28.5 30 31.5 33 34 36 39 40.5 43 44 47
        49.5 50.5 53.5 57.5 58.5 61.5
        """,
    ),
    (
        "walking",
        True,
        0,
        """
        2 3.5 5 6.5 7.5 10 11.5 13 14.5 18 19.5 21 22 23.5 26 27.5 29 30 31.5 33.5 37 38.5 39.5 41.5 45 46.5
        47.5 49 50 54 55.5 57 59 61
        """,
    ),
]
"""Treatment, whether a melody is sung, and seed; the beats on which chords are struck."""


@pytest.mark.parametrize(("treatment", "sung", "seed", "struck"), STRUCK)
def test_riffs_and_what_breaks_them(compose: Composer, treatment: str, sung: bool, seed: int, struck: str) -> None:
    form = compose(CHANGES, melody=MELODY if sung else [])
    found = strikes(form, plan(form, treatment), index_melody(form) if sung else NOTHING, chorus=1, seed=seed)
    assert [float(strike.beat) for strike in found] == [float(beat) for beat in struck.split()]
