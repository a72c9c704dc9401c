"""The table of rhythm says what is known of trios (Jazz Trio Database, TISMIR 2024; measured on its onsets)."""

import numpy as np
import pytest

from companion.follow.rhythm import SLOTS, TEMPI, OnsetTable, rhythm_of, trio_rhythm


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


@pytest.mark.parametrize(
    ("tempo", "band"),
    [(40, 0), (139, 0), (141, 1), (159, 1), (161, 2), (179, 2), (181, 3), (199, 3), (201, 4), (226, 5), (251, 6)],
)
def test_each_band_of_tempo_ends_where_the_next_begins(tempo, band):
    table = OnsetTable(np.arange(7.0)[:, None, None] * np.ones((7, SLOTS, 97)))
    assert table.following(np.array([[0]]), np.array([[5]]), np.array([[tempo / 60]])) == band


@pytest.mark.parametrize(
    ("last", "interval", "slot", "entry"),
    [(0, 1, 0, 1), (23, 96, 23, 96), (24, 97, 0, 96), (-1, 0, 23, 1), (50, 12, 2, 12)],
)
def test_places_go_round_with_the_beat_and_intervals_end_with_the_table(last, interval, slot, entry):
    table = OnsetTable(100.0 * np.arange(SLOTS)[None, :, None] + np.arange(97)[None, None, :] + np.zeros((7, 1, 1)))
    assert table.following(np.array([[last]]), np.array([[interval]]), np.array([[2.0]])) == 100 * slot + entry


def test_two_onsets_in_a_hundred_keep_to_no_rhythm_and_the_rest_to_the_learnt_one():
    """Those two are spread over two beats; each onset counts for seven tenths of one."""
    weights = rhythm_of(np.array([[[0.0, 0.25, 0.75]]])).weights[0, 0]
    assert np.exp(weights / 0.7) == pytest.approx([0.02 / 48, 0.98 * 0.25 + 0.02 / 48, 0.98 * 0.75 + 0.02 / 48])


def test_the_shares_of_all_intervals_after_an_onset_are_one():
    shares = (np.exp(trio_rhythm().weights / 0.7) - 0.02 / 48) / 0.98
    assert shares.sum(axis=2) == pytest.approx(np.ones((7, SLOTS)), abs=1e-9)
