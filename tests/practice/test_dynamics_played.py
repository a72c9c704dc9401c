"""How loud a take is played: the melody against the chords, and accents."""

from __future__ import annotations

import random
import statistics

import pytest

from companion.messages import Heard
from companion.practice.dynamics_played import (
    Loudness,
    difference,
    dynamics_figures,
    dynamics_findings,
    loudness_of,
    velocities,
)
from companion.practice.judging import JudgedNote
from tests.practice.test_alignment import form

TUNE = form("ferry-without-lights")


def take(
    melody: dict[int, float] | None = None, *, chords: float = 58.0, seed: int = 1
) -> tuple[list[JudgedNote], list[Heard]]:
    """Sixteen bars of four melody notes and a chord, by bar how loud the melody is where it isn't 82."""
    dice = random.Random(seed)
    notes, heard = [], []
    for n in range(64):
        beat, seconds = float(n), 1.0 + 0.5 * n
        loud = (melody or {}).get(n // 4 + 1, 82.0)
        keys = [(72, "melody", loud)] + [(pitch, "chords", chords) for pitch in (53, 57, 60) if n % 4 == 0]
        for pitch, part, level in keys:
            notes.append(JudgedNote("right", beat, None, pitch, seconds, None, part))  # type: ignore[arg-type]
            heard.append(Heard(seconds, 0x90, pitch, round(dice.gauss(level, 5))))
    return notes, heard


def told(notes: list[JudgedNote], heard: list[Heard]) -> list[int]:
    return [one.bar for _, one in dynamics_findings(TUNE, notes, loudness_of(heard), 4.0)]


def test_a_bar_in_which_the_chords_drown_the_melody_is_told() -> None:
    assert told(*take({9: 40.0})) == [9]


def test_of_even_playing_and_of_who_always_plays_the_chords_louder_no_bar_is_told() -> None:
    for seed in range(20):
        assert not told(*take(seed=seed))
        assert not told(*take(chords=90.0, seed=seed))


def test_a_keyboard_without_touch_tells_nothing() -> None:
    notes, heard = take({9: 40.0})
    flat = [Heard(one.seconds, one.status, one.data1, 64) for one in heard]
    assert not told(notes, flat) and not dynamics_figures(notes, loudness_of(flat))
    assert loudness_of(flat)(notes[0]) is None
    assert velocities(flat)[1.0, 72] == 64


def test_how_far_the_melody_lies_above_the_chords_is_said_with_its_uncertainty() -> None:
    line, *_ = dynamics_figures(*_with_loudness())
    assert line.startswith("dynamics: the melody lies 2") and "above the chords" in line and "±" in line


def _with_loudness() -> tuple[list[JudgedNote], Loudness]:
    notes, heard = take()
    return notes, loudness_of(heard)


def test_a_difference_has_the_error_that_statistics_promise() -> None:
    """The standard error of a difference of means: sqrt(s1^2 / n1 + s2^2 / n2) (any textbook of statistics)."""
    dice = random.Random(3)
    some, others = [dice.gauss(10, 5) for _ in range(50)], [dice.gauss(0, 5) for _ in range(50)]
    found = difference(some, others, statistics.fmean)
    assert found is not None and found.told
    promised = (statistics.variance(some) / 50 + statistics.variance(others) / 50) ** 0.5
    assert found.error == pytest.approx(promised, rel=0.15)
    assert difference(some[:3], others) is None
