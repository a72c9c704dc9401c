"""The beat of comping alone: through a late chord, a pause, a hurried bar; none where the chords are others."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from companion.chart.model import Form
from companion.load import load
from companion.practice.comped_beat import comped_places
from companion.practice.judging import Struck
from companion.practice.placing import TakePlace
from companion.resources import chart_path

QUARTER, TOUCH = 0.5, 0.008
RHYTHM = (0.0, 1.5, 3.0)
BARS = 8


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ovens-at-five")).unfold()


def comped(form: Form, late: Callable[[float], float], transposed: int = 0) -> list[Struck]:
    """Three chords a bar, even quavers laid a little late as swing has them; ``late`` by beat, in seconds."""
    dice = random.Random(3)
    struck = []
    for beat in [4 * bar + place for bar in range(BARS) for place in RHYTHM]:
        sounding = beat + (0.11 if beat % 1 else 0.0)
        at = 1.0 + QUARTER * sounding + late(beat)
        for tone in list(form.chord_at(beat).chord.pitch_classes)[1:5]:
            struck.append(Struck(at + dice.gauss(0, TOUCH), 52 + (tone + transposed - 52) % 12, 60))
    return sorted(struck, key=lambda one: one.seconds)


def written(places: list[TakePlace]) -> list[float]:
    return [place.written for place in places]


PLAYED = [4 * bar + place for bar in range(BARS) for place in RHYTHM]


def test_every_chord_of_steady_comping_has_its_beat(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: 0.0))) == PLAYED


def test_a_late_chord_is_late_on_its_beat_and_the_next_one_is_not(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: 0.12 if beat == 16.0 else 0.0))) == PLAYED


def test_the_beat_goes_on_after_a_pause(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: 0.9 if beat >= 16.0 else 0.0))) == PLAYED


def test_a_bar_that_is_rushed_keeps_its_beats(form: Form) -> None:
    assert written(comped_places(form, comped(form, lambda beat: -0.04 * min(max(beat - 16.0, 0.0), 4.0)))) == PLAYED


def test_chords_of_another_key_have_no_place(form: Form) -> None:
    assert comped_places(form, comped(form, lambda beat: 0.0, transposed=1)) == []


def test_a_few_chords_tell_nothing(form: Form) -> None:
    assert comped_places(form, comped(form, lambda beat: 0.0)[:12]) == []


def test_off_beats_alone_stay_there_after_a_count_in(form: Form) -> None:
    struck = []
    for bar in range(24):
        at = 1.0 + QUARTER * (4 * bar + 1.61)
        struck += [
            Struck(at, 52 + (tone - 52) % 12, 60)
            for tone in list(form.chord_at(4 * bar + 1.5).chord.pitch_classes)[1:5]
        ]
    places = comped_places(form, struck, 60 / QUARTER, 1.0)
    assert written(places) == [4 * bar + 1.5 for bar in range(24)]


def test_hurrying_after_a_count_in_wins_no_half_beat_where_quavers_are_even() -> None:
    tune = load(chart_path("confetti-on-the-stairs")).unfold()
    dice = random.Random(2)
    struck, played = [], []
    for bar in range(24):
        for place in dice.choice([(0.0,), (0.0, 1.5), (0.0, 2.0), (1.5,)]):
            beat = 4 * bar + place
            played.append(beat)
            hurried = sum(0.04 * min(max(beat - 4 * low, 0), 4) for low in (6, 13))
            at = 1.0 + 0.37 * beat - hurried + dice.gauss(0, TOUCH)
            tones = list(tune.chord_at(beat).chord.pitch_classes)[1:5]
            struck += [Struck(at, 52 + (tone - 52) % 12, 60) for tone in tones]
    assert written(comped_places(tune, struck, 60 / 0.37, 1.0)) == played
