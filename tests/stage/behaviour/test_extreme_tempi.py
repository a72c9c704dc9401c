"""From 40 to 300 quarters a minute: swing, lengths and what lies between two keys.

Values: Friberg & Sundström, Music Perception 19(3), 2002 (from memory) for the swing; that slow practice swings 2:1 at
most, that ballads are nearer to even, that a walking bass holds its notes for nearly the whole beat, and the rest:
common practice.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.load import load
from companion.resources import shipped_folder
from companion.stage.band import Band, Cue
from companion.stage.settings import Settings

SECONDS = 60.0
SWUNG = ("ferry-without-lights", "umbrella-at-a-gallop", "snow-on-the-awning")


def chart(name: str) -> Chart:
    return load(shipped_folder() / "charts" / f"{name}.toml")


def cues(chart: Chart, part: str, tempo: float, **more: Any) -> list[Cue]:
    """What a part plays once through."""
    form = chart.unfold()
    return Band(form, Settings(you=frozenset(), parts=(part,), **more)).cues(0, float(form.length) - 2, tempo)


def quavers(stand: Any, tempo: float, own: float) -> float:
    """Long quaver to short one in a tune whose own tempo is ``own``."""
    tune = replace(stand.chart(("| C6 |", "| cdef gabc' |")), tempo=own)
    one, two, three = (cue.beat for cue in Band(tune.unfold(), Settings(parts=("melody",))).cues(0, 1.5, tempo)[:3])
    return (two - one) / (three - two)


@pytest.mark.parametrize("tempo", [40, 60])
def test_a_ballad_is_nearer_to_even_than_a_tune_at_a_medium_tempo_and_swings_still(stand: Any, tempo: float) -> None:
    assert 1.3 <= quavers(stand, tempo, own=tempo) < quavers(stand, 130, own=130) - 0.25


@pytest.mark.parametrize("tempo", [40, 60, 90])
def test_a_tune_that_is_practised_slowly_swings_two_to_one_at_most(stand: Any, tempo: float) -> None:
    assert quavers(stand, tempo, own=140) == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize("own", [132, 300])
def test_at_300_the_quavers_are_even_and_at_250_nearly(stand: Any, own: float) -> None:
    assert quavers(stand, 300, own) == pytest.approx(1.0, abs=0.02)
    assert quavers(stand, 250, own) == pytest.approx(1.4, abs=0.05)  # the melody a little flatter than the band


@pytest.mark.parametrize("name", SWUNG)
@pytest.mark.parametrize("tempo", [40, 132, 300])
def test_no_part_has_a_quaver_shorter_than_a_tenth_of_a_second(name: str, tempo: float) -> None:
    for part in ("bass", "chords", "melody"):
        onsets = sorted({cue.beat for cue in cues(chart(name), part, tempo, treatment="walking")})
        halves = [b - a for a, b in pairwise(onsets) if b - a > 0.3 or tempo == 300]
        assert min(halves) * SECONDS / tempo >= 0.095


@pytest.mark.parametrize("name", SWUNG)
@pytest.mark.parametrize("tempo", [40, 132, 300])
def test_a_walking_bass_holds_its_notes_for_nearly_the_whole_beat(name: str, tempo: float) -> None:
    found = [cue for cue in cues(chart(name), "bass", tempo, treatment="walking") if cue.note.weight >= 0.6]
    whole = [(a, b) for a, b in pairwise(found) if 0.9 <= b.beat - a.beat <= 1.1 and a.note.length > 0.5]
    assert len(whole) > 50
    assert all(0.78 <= a.end - a.beat <= 0.96 for a, _ in whole)


@pytest.mark.parametrize("tempo", [40, 300])
def test_nothing_of_the_bass_sounds_into_its_next_note(tempo: float) -> None:
    for name in SWUNG:
        found = cues(chart(name), "bass", tempo, treatment="walking")
        assert all(a.end <= b.beat + 1e-6 for a, b in pairwise(found))


@pytest.mark.parametrize("tempo", [40, 300])
def test_every_note_of_the_chords_can_be_heard(tempo: float) -> None:
    """A note of less than a twentieth of a second is a click, whatever was meant."""
    for name in SWUNG:
        assert all((cue.end - cue.beat) * SECONDS / tempo >= 0.05 for cue in cues(chart(name), "chords", tempo))
