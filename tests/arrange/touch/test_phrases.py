"""Phrases, their peaks, and swells over eight bars (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import cos, pi
from typing import Any

import pytest

from companion.arrange.touch.phrases import StruckChord, arches, follows_at_once, is_syncopated, phrases, swell
from companion.chart.model import Form
from companion.music.meter import Metre
from companion.preferences.touch import TouchPhrases

EIGHT = TouchPhrases(rest=0.75, swell=8, height=0.75)


def line(*notes: tuple[float, float, int]) -> list[StruckChord]:
    return [StruckChord(beat, beat + length, (midi,)) for beat, length, midi in notes]


def test_a_rest_ends_a_phrase_and_a_breath_does_not() -> None:
    breath = line((0, 1, 60), (1.5, 0.5, 62), (2, 1, 64))
    rest = line((0, 1, 60), (2, 0.5, 62), (2.5, 1, 64))
    assert phrases(breath, 0.75) == [(0, 2)]
    assert phrases(rest, 0.75) == [(0, 0), (1, 2)]
    assert phrases([], 0.75) == []


def test_a_phrase_grows_to_its_highest_note_and_falls_away() -> None:
    found = arches(line((0, 1, 60), (1, 1, 64), (2, 1, 72), (3, 1, 67)), 0.75)
    assert found == pytest.approx([-1.0, 0.0, 1.0, -1.0])


def test_two_notes_are_no_phrase_with_a_peak() -> None:
    assert arches(line((0, 1, 60), (1, 1, 64), (8, 1, 72)), 0.75) == [0.0, 0.0, 0.0]


def test_a_swell_is_at_its_height_in_the_seventh_of_eight_bars_and_begins_again_with_the_ninth(stand: Any) -> None:
    form = stand.chart(("| C6 " * 16 + "|", "| c8 " * 16 + "|")).unfold()
    heights = [swell(form, 4.0 * bar, EIGHT) for bar in range(16)]
    assert heights[0] == heights[8] == pytest.approx(-1.0)
    assert heights[6] == heights[14] == pytest.approx(1.0)
    assert heights[:7] == sorted(heights[:7]) and heights[6:8] == sorted(heights[6:8], reverse=True)
    assert abs(swell(form, 31.99, EIGHT) - heights[8]) < 0.01, "no step where one ends"


def test_a_note_off_the_beat_that_is_held_over_it_is_syncopated(stand: Any) -> None:
    form = stand.chart(("| C6 |", "| c8 |")).unfold()
    held, run = line((0.5, 1.0, 60), (1.5, 0.5, 62)), line((0.5, 0.5, 60), (1, 1, 62))
    assert is_syncopated(form, held[0], held[1]) and not is_syncopated(form, run[0], run[1])
    assert not is_syncopated(form, run[1], None) and is_syncopated(form, held[1], None)


def test_from_the_next_beat_on_nothing_is_syncopated(stand: Any) -> None:
    form = stand.chart(("| C6 |", "| c8 |")).unfold()
    (off,) = line((0.75, 0.25, 60))
    for beat, held in ((0.9, False), (1.0, False), (1.25, True), (1.5, True)):
        (after,) = line((beat, 0.5, 62))
        assert is_syncopated(form, off, after) == held, beat
    six = replace(form, metre=Metre(6, 8))
    assert not is_syncopated(six, off, line((1.5, 1, 62))[0]) and is_syncopated(six, off, line((1.75, 1, 62))[0])


@pytest.mark.parametrize(
    ("bar", "share", "height"),
    [(0, 0.0, -1.0), (2, 0.0, -0.5), (3, 0.0, 0.0), (4, 0.0, 0.5), (6, 0.0, 1.0), (7, 0.0, 0.0), (7, 0.5, -cos(pi / 4)),
     (8, 0.0, -1.0), (11, 0.0, 0.0)],
)  # fmt: skip
def test_a_swell_goes_up_and_down_by_half_a_cosine_each(stand: Any, bar: int, share: float, height: float) -> None:
    form = stand.chart(("| C6 " * 16 + "|", "| c8 " * 16 + "|")).unfold()
    assert swell(form, 4.0 * (bar + share), EIGHT) == pytest.approx(height, abs=1e-9)
    assert swell(form, 4.0 * (bar % 8 + share), replace(EIGHT, height=1.0)) == pytest.approx(
        -cos(pi * (bar % 8 + share) / 8)
    )


def test_a_swell_begins_with_a_section(compose: Callable[..., Form]) -> None:
    form = compose("C6 | " * 11 + "C6", sections=[("A", 4, None), ("B", 8, None)])
    assert [swell(form, beat, EIGHT) for beat in (12.0, 16.0, 40.0)] == pytest.approx([0.0, -1.0, 1.0])
    assert swell(form, 64.0, EIGHT) == pytest.approx(-1.0), "also in the next chorus"


def test_a_phrase_is_of_three_at_least_and_its_peak_may_be_at_its_end() -> None:
    assert arches(line((0, 1, 60), (1, 1, 64), (2, 1, 72)), 0.75) == pytest.approx([-1.0, 0.0, 1.0])
    assert arches(line((0, 1, 72), (1, 1, 64), (2, 1, 60)), 0.75) == pytest.approx([1.0, 0.0, -1.0])
    uneven = line((0, 1, 60), (1, 2, 64), (3, 1, 65), (4, 1, 72), (5, 1, 64), (6, 3, 64), (9, 1, 60))
    assert arches(uneven, 0.75) == pytest.approx([-1.0, -0.5, 0.5, 1.0, 0.6, 0.2, -1.0])
    later = [*line((0, 1, 90), (1, 1, 60)), *line((4, 1, 60), (5, 1, 64), (6, 1, 62))]
    assert arches(later, 0.75) == pytest.approx([0.0, 0.0, -1.0, 1.0, -1.0])


def test_what_follows_at_once_is_struck_where_the_other_ends() -> None:
    one, two, three = line((0, 0.5, 60), (0.5, 0.25, 62), (1, 1, 64))
    assert follows_at_once(one, two) and not follows_at_once(two, three) and not follows_at_once(three, None)
