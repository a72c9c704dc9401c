"""The belief stays a belief whatever is played: probabilities that sum to 1, spreads that can be, and no growth.

The moments of a crowd are checked against those of the mixture that it stands for, written out.
"""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.follow.belief import VV, XV, XX, Crowd, Filter, Manner, V, X
from companion.follow.follower import Follower
from companion.follow.habits import Habits
from companion.follow.places import Places
from companion.follow.readings import Readings
from companion.follow.roles import places_for


@pytest.fixture(scope="session")
def tune_places(stand: Any) -> Places:
    return places_for(stand.tune().unfold(), frozenset({"melody"}))


def crowd(x: list[float], v: list[float], weight: list[float], spread: float = 0.05) -> Crowd:
    return Crowd.of(np.array(x), np.array(v), spread**2, 0.0, 0.1**2, 3.0, 0.0, 0.0, np.log(np.array(weight)))


def sound(found: Crowd, manner: Manner) -> None:
    assert np.isfinite(found.rows).all()
    assert np.exp(found.weight).sum() == pytest.approx(1.0)
    assert (found.rows[XX] > 0).all() and (found.rows[VV] > 0).all()
    assert (found.rows[XX] * found.rows[VV] - found.rows[XV] ** 2 > -1e-12).all(), "a covariance"
    assert 0 < len(found) <= manner.crowd * 7 // 4, "so many as written and phrased, three quarters of that otherwise"


@settings(max_examples=12)
@given(
    seed=st.integers(0, 10**6),
    role=st.sampled_from(["melody", "bass", "chords", "solo", "melody,chords"]),
    start=st.sampled_from([None, 0.0]),
)
def test_whatever_is_played_the_belief_stays_whole(stand: Any, seed: int, role: str, start: float | None) -> None:
    dice = random.Random(seed)
    tempo = 120.0 if start is not None else None
    follower = Follower(stand.tune().unfold(), frozenset(role.split(",")), tempo=tempo, start=start)
    now = 0.0
    for _ in range(40):
        now += dice.choice([0.0, 0.0, 0.01, 0.25, 0.25, 0.5, 1.0, dice.random(), 30.0 * dice.random() ** 8])
        if dice.random() < 0.3:
            follower.look(now)
        else:
            follower.hear(now, dice.choice([60, 64, 67, 69, 71, 72, 74, dice.randrange(128)]), dice.randrange(1, 128))
        if follower.crowd is not None and follower.lead is not None:
            sound(follower.crowd, follower.manner)
            lead = follower.lead
            assert 0 <= lead.mass <= 1 + 1e-9 and 0 <= lead.stopped <= 1 and 0 <= lead.free <= 1 + 1e-9
            assert follower.manner.slowest * 0.9 <= lead.speed <= follower.manner.fastest * 1.1 and lead.spread > 0


def test_an_hour_of_silence_breaks_nothing_and_the_next_note_is_heard(stand: Any) -> None:
    follower = Follower(stand.tune().unfold(), frozenset({"melody"}), tempo=120.0, start=2.0)
    for note in (n for n in stand.tune().unfold().melody if n.beat < 16):
        follower.hear(2.0 + float(note.beat) / 2, note.pitch.midi)
    follower.look(3600.0)
    for note in (n for n in stand.tune().unfold().melody if 16 <= n.beat < 32):
        follower.hear(3600.0 + float(note.beat - 16) / 2, note.pitch.midi)
    assert follower.crowd is not None and follower.lead is not None
    sound(follower.crowd, follower.manner)
    assert follower.lead.beat % 64 == pytest.approx(28.0, abs=0.1)


def test_moving_on_keeps_the_odds_and_widens_the_doubt(tune_places: Places) -> None:
    sieve = Filter(Readings.of(tune_places), Manner())
    before = crowd([4.0, 8.0], [2.0, 1.5], [0.7, 0.3])
    after = sieve.moved(before, 0.5)
    assert list(after.rows[X]) == pytest.approx([5.0, 8.75]) and list(after.rows[V]) == pytest.approx([2.0, 1.5])
    assert (after.rows[XX] > before.rows[XX]).all() and list(after.weight) == pytest.approx(list(before.weight))
    assert sieve.moved(before, 0.0) is before


def test_moving_in_two_steps_is_moving_in_one(tune_places: Places) -> None:
    sieve = Filter(Readings.of(tune_places), Manner())
    before = crowd([4.0, 8.0], [2.0, 1.5], [0.7, 0.3])
    once, twice = sieve.moved(before, 0.8), sieve.moved(sieve.moved(before, 0.3), 0.5)
    assert twice.rows == pytest.approx(once.rows, rel=1e-9)


def test_what_means_the_same_is_joined_by_its_moments(tune_places: Places) -> None:
    sieve = Filter(Readings.of(tune_places), Manner())
    made = sieve.merged(crowd([4.00, 4.02, 40.0], [2.0, 2.01, 2.0], [0.6, 0.2, 0.2]))
    assert len(made) == 2
    joined = made.pick(np.argsort(made.rows[X])[:1])
    mean = (0.6 * 4.00 + 0.2 * 4.02) / 0.8
    assert joined.rows[X][0] == pytest.approx(mean)
    spread = 0.05**2 + (0.6 * (4.00 - mean) ** 2 + 0.2 * (4.02 - mean) ** 2) / 0.8
    assert joined.rows[XX][0] == pytest.approx(spread) and np.exp(joined.weight[0]) == pytest.approx(0.8)


def test_the_right_note_tells_one_place_from_another(tune_places: Places) -> None:
    """At beat 4 the tune has B4, at beat 8 F4."""
    sieve = Filter(Readings.of(tune_places), Manner())
    doubt = Crowd.of(
        np.array([4.0, 8.0]), 2.0, 0.05**2, 0.0, 0.1**2, np.array([3.0, 6.0]), 0.0, 0.0, np.log([0.5, 0.5])
    )
    told = sieve.merged(sieve.heard(doubt, 71, Habits(), 1.0)[0])
    near = np.exp(told.weight[np.abs(told.rows[X] - 4.0) < 0.3]).sum()
    assert near > 0.9


def test_a_note_behind_its_beat_slows_the_pulse_down_and_a_note_ahead_speeds_it_up(tune_places: Places) -> None:
    sieve = Filter(Readings.of(tune_places), Manner())
    for early, slower in ((-0.1, False), (0.1, True)):
        here = Crowd.of(np.array([4.0 + early]), 2.0, 0.1**2, 0.9 * 0.1 * 0.2, 0.2**2, 3.0, 0.0, 0.0, 0.0)
        told = sieve.merged(sieve.heard(here, 71, Habits(), 1.0)[0]).likeliest(1)
        assert bool(told.rows[V][0] < 2.0) is slower and abs(told.rows[X][0] - 4.0) < 0.1
