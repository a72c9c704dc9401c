"""Where a player stretches and pushes is told from chance by how often they do it; a slip or a stop is no shape."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.model import Form
from companion.follow.even_time import EvenTime
from companion.follow.shape import TempoShape
from companion.load import load
from companion.messages import Heard
from companion.practice.alignment import stretches_as_written
from companion.practice.shaping import Run, runs_of, shape_of
from companion.resources import chart_path

HELD = (28.0, 32.0)
"""Beats of the eighth bar, which the player of these tests holds longer."""


@pytest.fixture(scope="module")
def form() -> Form:
    return replace(load(chart_path("ferry-without-lights")).unfold(), feel="straight")


def even(beat: float) -> float:
    return beat


def held_back(beat: float) -> float:
    """The eighth bar lasts a third longer; later beats come by as much later."""
    low, high = HELD
    return beat + (min(max(beat, low), high) - low) / 3


def played(
    form: Form, seed: int, shaped: Callable[[float], float] = held_back, tempo: float = 120.0, swing: float = 0.0
) -> Run:
    """One time through, with a touch of 12 ms."""
    dice = random.Random(seed)
    beats = sorted({float(note.beat) for note in form.melody if note.beat >= 0})
    late = {beat: swing if beat % 1 == 0.5 else 0.0 for beat in beats}
    return {beat: shaped(beat + late[beat]) * 60 / tempo + dice.gauss(0, 0.012) for beat in beats}


def bar_against_the_rest(shape: TempoShape | None) -> float:
    """How much longer than usual the held bar lasts, as a ratio."""
    assert shape is not None
    low, high = EvenTime(shape).even(np.array(HELD))
    return float((high - low) / (HELD[1] - HELD[0]) / ((shape.length - high + low) / (shape.length - 4)))


def test_a_bar_that_is_held_in_each_take_is_held_in_the_shape(form: Form) -> None:
    shape = shape_of(form, [[played(form, seed)] for seed in range(6)])
    assert shape is not None and shape.takes == 6
    assert bar_against_the_rest(shape) == pytest.approx(4 / 3, abs=0.06)


def test_takes_at_other_tempi_tell_the_same(form: Form) -> None:
    tempi = (60.0, 95.0, 150.0, 200.0)
    assert bar_against_the_rest(
        shape_of(form, [[played(form, n, tempo=tempo)] for n, tempo in enumerate(tempi)])
    ) == pytest.approx(4 / 3, abs=0.08)


def test_who_keeps_the_time_has_no_shape(form: Form) -> None:
    shape = shape_of(form, [[played(form, seed, even)] for seed in range(6)])
    assert shape is not None
    assert max(map(abs, shape.stretch)) < 0.03


def test_the_fewer_the_takes_the_less_is_believed(form: Form) -> None:
    by_chance = [played(form, seed, lambda b, s=seed: held_back(b) if s == 0 else b) for seed in range(5)]
    assert bar_against_the_rest(shape_of(form, [[run] for run in by_chance])) < 1.15


def test_one_stop_to_think_is_left_out(form: Form) -> None:
    takes = [played(form, seed, even) for seed in range(4)]
    stopped = {beat: at + (2.0 if beat >= 64 else 0.0) for beat, at in takes[0].items()}
    shape = shape_of(form, [[stopped], *([run] for run in takes[1:])])
    assert shape is not None
    assert max(map(abs, shape.stretch)) < 0.04


def test_a_note_that_was_left_out_takes_nothing_from_the_rest(form: Form) -> None:
    takes = [played(form, seed) for seed in range(6)]
    thinned = [{b: at for n, (b, at) in enumerate(run.items()) if n % 9 != k} for k, run in enumerate(takes)]
    assert bar_against_the_rest(shape_of(form, [[run] for run in thinned])) == pytest.approx(4 / 3, abs=0.08)


def test_swing_is_learnt_as_swing_and_not_as_stretches(form: Form) -> None:
    swung = replace(form, feel="swing")
    shape = shape_of(swung, [[played(swung, seed, even, swing=0.16)] for seed in range(4)])
    assert shape is not None and shape.swing == pytest.approx(0.16, abs=0.01)
    assert max(map(abs, shape.stretch)) < 0.05


def test_two_bars_are_no_grounds_for_a_shape(form: Form) -> None:
    few = {beat: at for beat, at in played(form, 1).items() if beat < 4}
    assert shape_of(form, [[few]]) is None
    assert shape_of(form, []) is None


@given(
    beats=st.lists(st.integers(0, 127), min_size=8, max_size=30, unique=True),
    times=st.lists(st.floats(0.02, 9.0), min_size=30, max_size=30),
    many=st.integers(1, 3),
)
def test_however_strangely_one_plays_there_is_a_shape(
    form: Form, beats: list[int], times: list[float], many: int
) -> None:
    moments = np.cumsum(times).tolist()
    run = {beat + 0.25 * (beat % 4): at for beat, at in zip(sorted(beats), moments, strict=False)}
    shape = shape_of(form, [[run]] * many)
    assert shape is None or (shape.length == float(form.length) and shape.takes == many)


def test_in_a_long_note_the_tempo_before_it_goes_on(form: Form) -> None:
    """The beat before the next note takes what the long note lasts longer."""
    gaps = [
        (a, b)
        for a, b in zip(sorted(played(form, 0)), sorted(played(form, 0))[1:], strict=False)
        if b - a >= 3 and a >= 8 and a % 1 == 0
    ]
    low, high = gaps[0]

    def delayed(beat: float) -> float:
        return beat + (0.4 if beat >= high else 0.0)

    shape = shape_of(form, [[played(form, seed, delayed)] for seed in range(6)])
    assert shape is not None
    inside = np.ceil(high - 1e-6) - 1
    first, last, after = EvenTime(shape).even(np.array([low, inside, high]))
    assert (last - first) / (inside - low) < (after - last) / (high - inside) - 0.1


def test_each_time_through_of_a_take_is_a_run(form: Form) -> None:
    heard, length = [], float(form.length)
    for chorus in range(2):
        for note in form.melody:
            if note.beat >= 0:
                at = 2.0 + (float(note.beat) + chorus * length) / 2
                heard += [Heard(at, 0x90, note.pitch.midi, 80)]
    runs = runs_of(form, stretches_as_written(form, {"melody"}, heard))
    assert len(runs) == 2
    assert max(runs[0]) == pytest.approx(length + min(runs[1])), "the next time through follows on"
