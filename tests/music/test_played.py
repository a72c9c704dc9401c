"""Where beats fell while something was played: between two that are known the tempo stays as it is."""

from __future__ import annotations

import pytest

from companion.music.played import BeatMap

SLOWING = BeatMap(((0.0, 10.0), (4.0, 12.0), (6.0, 14.0)))
"""Four quarters at 120 a minute, then at 60."""


def test_a_steady_tempo_counts_from_where_it_was_begun() -> None:
    click = BeatMap.steady(90.0, 5.0)
    assert [click.seconds(beat) for beat in (-3.0, 0.0, 3.0)] == pytest.approx([3.0, 5.0, 7.0])
    assert [click.beat(moment) for moment in (3.0, 5.0, 7.0)] == pytest.approx([-3.0, 0.0, 3.0])
    assert click.tempo(17.0) == pytest.approx(90.0)


@pytest.mark.parametrize(("beat", "seconds"), [(-2.0, 9.0), (1.0, 10.5), (4.0, 12.0), (5.5, 13.5), (8.0, 16.0)])
def test_beats_lie_evenly_between_two_that_are_known_and_go_on_so_before_and_after(beat: float, seconds: float) -> None:
    assert SLOWING.seconds(beat) == pytest.approx(seconds)
    assert SLOWING.beat(seconds) == pytest.approx(beat)


def test_the_tempo_at_a_beat_is_that_of_the_quarter_around_it() -> None:
    assert [SLOWING.tempo(beat) for beat in (1.0, 3.5, 4.5, 20.0)] == pytest.approx([120.0, 120.0, 60.0, 60.0])
    assert SLOWING.tempo(4.0) == pytest.approx(80.0), "half a quarter of 0.25 s and half a one of 0.5 s"
