"""The player's own beat, from notes: between them, beyond them, through slips of time and hesitations."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from companion.practice.beat_curve import TOUCHES, BeatManner, Timed, manner_of, smoothed

USUAL = BeatManner(0.012, 2e-4)


def steady(count: int = 33, quarter: float = 0.5, touch: float = 0.0, seed: int = 1) -> list[Timed]:
    chance = random.Random(seed)
    return [Timed(float(n), 2.0 + n * quarter + chance.gauss(0, touch) * (touch > 0)) for n in range(count)]


def test_an_even_pulse_comes_back_between_its_notes_and_beyond_them() -> None:
    notes = [note for note in steady() if note.beat % 4 != 2]
    curve = smoothed(notes, [-2.0, 6.0, 10.0, 34.0], USUAL)
    assert curve.seconds == pytest.approx([1.0, 5.0, 7.0, 19.0], abs=0.005)
    assert curve.held == ()


def test_a_note_that_falls_off_the_beat_does_not_take_the_beat_along() -> None:
    notes = steady()
    notes[12] = Timed(12.0, notes[12].seconds + 0.12)
    curve = smoothed(notes, [11.0, 12.0, 13.0], USUAL)
    assert curve.seconds == pytest.approx([7.5, 8.0, 8.5], abs=0.02)


def test_scattered_notes_make_a_beat_nearer_than_they_are() -> None:
    notes = steady(65, touch=0.02)
    curve = smoothed(notes, [float(n) for n in range(65)], BeatManner(0.018, 3e-5))
    off = [abs(at - (2.0 + n * 0.5)) for n, at in enumerate(curve.seconds)]
    raw = [abs(note.seconds - (2.0 + n * 0.5)) for n, note in enumerate(notes)]
    assert sum(off) < 0.6 * sum(raw)


def test_a_tempo_that_grows_by_a_third_is_followed() -> None:
    notes, now = [], 2.0
    for n in range(65):
        notes.append(Timed(float(n), now))
        now += 0.6 * (1 - n / 192)
    curve = smoothed(notes, [float(n) for n in range(65)], USUAL)
    assert max(abs(at - note.seconds) for at, note in zip(curve.seconds, notes, strict=True)) < 0.015


def test_a_hesitation_is_found_at_its_beat_and_the_pulse_goes_on_from_there() -> None:
    notes = [Timed(note.beat, note.seconds + (0.9 if note.beat >= 16 else 0.0)) for note in steady()]
    curve = smoothed(notes, [15.0, 16.0, 17.0], USUAL)
    ((beat, by),) = curve.held
    assert beat == 16.0
    assert by == pytest.approx(0.9, abs=0.05)
    assert curve.seconds == pytest.approx([9.5, 10.9, 11.4], abs=0.03)


def test_one_late_note_is_no_hesitation() -> None:
    notes = steady()
    notes[16] = Timed(16.0, notes[16].seconds + 0.3)
    assert smoothed(notes, [], USUAL).held == ()


def test_how_near_a_player_strikes_is_learnt_from_their_notes() -> None:
    near, far = (manner_of([steady(65, touch=touch)]) for touch in (0.008, 0.034))
    assert near.touch < far.touch
    assert {near.touch, far.touch} <= set(TOUCHES)


def test_moments_of_beats_always_rise() -> None:
    notes = [Timed(0.0, 1.0), Timed(1.0, 1.002), Timed(1.1, 1.5), Timed(9.0, 1.6)]
    moments = smoothed(notes, [float(n) for n in range(-4, 14)], USUAL).seconds
    assert all(b > a for a, b in pairwise(moments))
