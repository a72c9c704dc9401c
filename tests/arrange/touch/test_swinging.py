"""How much each part swings.

Values: Friberg & Sundström, Music Perception 19(3), 2002 (from memory): about 2:1 at a medium tempo, soloists flatter
than the rhythm section, the short quaver seldom shorter than about 100 ms. Corcoran & Frieler, Music Perception 38(4),
2021 (from memory): soloists lie between even and 2:1. Jazz Trio Database (Cheston, Schlichting, Cross & Harrison,
Transactions of the ISMIR, 2024): medians of pianists' lines by tempo, measured on its onsets. That a ballad is nearer
to even, and that practice swings 2:1 at the most: common practice.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from companion.arrange.touch.swinging import end_ratio, part_ratio
from companion.chart.model import Form
from companion.messages import TUNE_PARTS

LINES = {137: 2.0, 162: 1.59, 187: 1.45, 212: 1.41, 237: 1.29, 262: 1.18}
"""Medians of pianists' quavers in lines, by quarters a minute."""


def at(stand: Any, tempo: float, **more: Any) -> Form:
    return replace(stand.chart(("| C6 |", "| c2 d2 e2 f2 |"), **more).unfold(), tempo=tempo)


@pytest.mark.parametrize(("tempo", "lines"), LINES.items())
def test_a_solo_swings_as_pianists_lines_do(stand: Any, tempo: float, lines: float) -> None:
    assert part_ratio(at(stand, tempo), "solo") == pytest.approx(lines, abs=0.2)


@pytest.mark.parametrize("tempo", [60, 80, 110, 140, 180, 220, 260])
def test_a_soloing_hand_is_flatter_than_a_comping_one_and_none_goes_beyond_two_to_one(stand: Any, tempo: float) -> None:
    form = at(stand, tempo)
    assert 1.0 < part_ratio(form, "solo") < part_ratio(form, "chords")
    assert part_ratio(form, "solo") <= 2.0
    assert part_ratio(form, "chords") == part_ratio(form, "bass") >= part_ratio(form, "melody")


def test_comping_is_two_to_one_at_a_medium_tempo(stand: Any) -> None:
    assert part_ratio(at(stand, 160), "chords") == pytest.approx(2.0)
    assert part_ratio(at(stand, 160), "bass") == pytest.approx(2.0)


@pytest.mark.parametrize("part", [*TUNE_PARTS, "solo"])
def test_a_ballad_is_nearer_to_even(stand: Any, part: Any) -> None:
    slow, medium = part_ratio(at(stand, 60), part), part_ratio(at(stand, 120), part)
    assert 1.3 <= slow < medium - 0.25


@pytest.mark.parametrize("tempo", range(60, 300, 20))
@pytest.mark.parametrize("part", [*TUNE_PARTS, "solo"])
def test_the_short_quaver_is_a_tenth_of_a_second_or_more(stand: Any, part: Any, tempo: float) -> None:
    assert 60 / tempo / (part_ratio(at(stand, tempo), part) + 1) >= 0.0999


def test_a_tune_that_is_practised_slowly_is_no_ballad(stand: Any) -> None:
    form = at(stand, 140)
    assert part_ratio(form, "chords", 60) == pytest.approx(2.0)
    assert part_ratio(form, "solo", 60) > part_ratio(at(stand, 60), "solo")


@pytest.mark.parametrize("feel", ["straight", "bossa", "latin"])
def test_even_quavers_stay_even_in_every_part(stand: Any, feel: str) -> None:
    assert {part_ratio(at(stand, 130, feel=feel), part) for part in ("bass", "chords", "melody", "solo")} == {1.0}


def test_chords_are_let_go_as_the_melody_moves_on(stand: Any) -> None:
    form = at(stand, 132)
    assert end_ratio(form, "chords") == part_ratio(form, "melody") < part_ratio(form, "chords")
    assert end_ratio(form, "bass") == part_ratio(form, "bass")
