"""The table of rhythm says what is known of trios (Jazz Trio Database, TISMIR 2024; measured on its onsets)."""

import numpy as np
import pytest

from companion.follow.rhythm import SLOTS, TEMPI, trio_rhythm


def likeliest_off_beat(band: int) -> float:
    """Where in the beat the next onset after one on the beat is likeliest, a third of a beat on or later."""
    after_the_beat = trio_rhythm().weights[band, 0, :SLOTS]
    low = SLOTS // 3
    return (low + int(np.argmax(after_the_beat[low : SLOTS - 3]))) / SLOTS


def test_there_is_a_row_for_every_tempo_and_every_part_of_the_beat():
    assert trio_rhythm().weights.shape == (len(TEMPI) + 1, SLOTS, 4 * SLOTS + 1)
    assert np.isfinite(trio_rhythm().weights).all()


def test_off_beats_lie_later_at_medium_tempo_than_at_fast_tempo():
    medium, fast = likeliest_off_beat(1), likeliest_off_beat(len(TEMPI))
    assert 0.66 <= medium <= 0.78
    assert 0.52 <= fast <= 0.70
    assert fast < medium


def test_after_an_off_beat_the_next_beat_is_likelier_than_the_next_off_beat():
    weights = trio_rhythm().weights[1, round(0.7 * SLOTS)]
    to_the_beat = weights[round(0.3 * SLOTS)]
    to_the_next_off_beat = weights[SLOTS]
    assert to_the_beat > to_the_next_off_beat


@pytest.mark.parametrize("speed", [1.0, 3.0, 6.0])
def test_long_silences_take_the_last_entry(speed):
    rhythm = trio_rhythm()
    far = rhythm.following(np.array([[0]]), np.array([[97, 500]]), np.array([[speed]]))
    assert far[0, 0] == far[0, 1]
