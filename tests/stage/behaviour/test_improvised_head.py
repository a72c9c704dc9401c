"""A player who was to play the head and improvises is comped for as a soloist, and the head is met when it comes back.

That chords behind a soloist needn't keep to the gaps of a melody, and around a melody do, is common practice.
"""

from __future__ import annotations

import pytest

from companion.load import load
from companion.pianist.player import simulate
from companion.resources import chart_path
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

CHART = load(chart_path("ferry-without-lights"))


def accompanied(role: str, manner: str = "human") -> list[bool]:
    """At each note of a chorus, whether the companion, told of a melody, plays as behind a solo."""
    player = simulate(CHART.unfold(), role, manner=manner, tempo=120.0, seed=4)
    counted = [beat for beat in player.truth if beat.chart_beat == 0]
    settings = Settings(tempo=120.0, start=counted[0].seconds, parts=("chords", "bass"))
    rehearsal, found = Rehearsal(CHART, settings), []
    for event in player.heard:
        rehearsal.advance(event.seconds, [event])
        if event.is_note_on:
            found.append(rehearsal.band.behind_a_solo)
    return found


def test_a_line_over_the_changes_is_comped_for_as_a_solo_after_a_few_bars() -> None:
    behind = accompanied("solo")
    assert not behind[0], "nobody knows it yet"
    assert all(behind[len(behind) // 3 :])


@pytest.mark.parametrize("manner", ["clean", "human"])
def test_whoever_plays_the_melody_is_comped_for_around_it(manner: str) -> None:
    assert not any(accompanied("melody", manner))
