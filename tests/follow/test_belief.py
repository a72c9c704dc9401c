"""The belief stays a belief whatever is played: probabilities that sum to 1, spreads that can be, and no growth.

The moments of a crowd are checked against those of the mixture that it stands for, written out.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.follow.belief import (
    HEARD,
    HELD,
    JUST_HELD,
    READ,
    SHIFTED,
    VV,
    WAY,
    WEIGHT,
    XV,
    XX,
    Crowd,
    Filter,
    Freedom,
    Manner,
    V,
    X,
    _changes,
)  # fmt: skip
from companion.follow.follower import Follower
from companion.follow.habits import Habits
from companion.follow.places import Places
from companion.follow.readings import Reading, Readings
from companion.follow.roles import places_for
from companion.follow.shape import TempoShape


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


# Worked by hand: four places in a form of eight bars, one hypothesis or two, one note

PITCHES = np.full((2, 128), 0.001)
PITCHES[0, 60], PITCHES[1, 62] = 0.873, 0.873
"""C4, then D4, or one note in a thousand."""
HAND = Places(
    period=32.0, beat=np.array([0.0, 4.0, 5.5, 12.0]), swung=np.array([0.0, 0.0, 1.0, 0.0]),
    strike=np.array([0.9, 0.8, 0.7, 0.95]), again=np.array([0.02, 0.3, 0.02, 0.1]),
    scatter=np.array([0.0, 0.05, 0.02, 0.0]), row=np.array([0, 0, 1, 1]), pitch=np.log(PITCHES),
    other=np.log(np.tile(np.linspace(1, 2, 32)[:, None] / 200, (1, 128))), others=0.15,
    late=np.array([0.0, 0.01, 0.03, 0.0]), opening=np.array([True, False, False, True]), bar=4.0, pulse=1.0,
    first=np.array([True, False, False, False]), top=np.array([True, False, False, False]),
)  # fmt: skip
AS_HEARD = Habits(octaves=(0.0, 1.0, 0.0))
"""Of a player who has only ever played as it is written."""


def one(x: float, v: float = 2.0, xx: float = 0.01, xv: float = 0.006, vv: float = 0.04, **more: Any) -> Crowd:
    """One hypothesis, of weight 1 unless another is given; its last note was the place ``heard``."""
    heard, way, read, weight = (more.pop(name, 0) for name in ("heard", "way", "read", "weight"))
    return Crowd.of(np.array([x]), v, xx, xv, vv, heard, way, read, weight, **more)


def rows(found: Crowd, *names: int) -> list[list[float]]:
    return [[float(value) for value in found.rows[name]] for name in names]


@pytest.mark.parametrize(
    ("way", "xx", "xv", "vv"),
    [
        (0, 0.01 + 0.006 + 0.25 * (0.04 + 1.6e-5 / 3), 0.006 + 0.5 * (0.04 + 0.8e-5), 0.04 + 1.6e-5),
        (1, 0.01 + 0.006 + 0.25 * (0.04 + 2.56e-4 / 3), 0.006 + 0.5 * (0.04 + 1.28e-4), 0.04 + 2.56e-4),
        (2, 0.01 + 0.006 + 0.25 * (0.04 + 0.0144 / 3) + 0.0049, 0.006 + 0.5 * (0.04 + 0.0072), 0.04 + 0.0144),
    ],
)
def test_the_tempo_walks_at_random_and_the_place_with_it(way: int, xx: float, xv: float, vv: float) -> None:
    """Half a second at two beats a second is a beat: (drift · speed)² is added to the variance of the speed, a half of
    it times the time to the covariance, a third of it times the time squared to the variance of the place (the
    integrated random walk), and there what a beat sways."""
    found = Filter(Readings.of(HAND), Manner()).moved(one(4.0, way=way), 0.5)
    assert rows(found, X, V, XX, XV, VV) == [
        [5.0], [2.0], [pytest.approx(xx)], [pytest.approx(xv)], [pytest.approx(vv)]
    ]  # fmt: skip


def test_a_note_is_one_step_of_the_kalman_filter() -> None:
    """A C struck 0.1 beat behind the second place, at two beats a second, after the first."""
    manner = Manner()
    found, surprise = Filter(Readings.of(HAND), manner).heard(one(4.1), 60, AS_HEARD, 0.5)
    off = 4.0 + 0.01 * 2.0 - 4.1
    total = 0.01 + 0.05**2 + 0.03**2 + (0.02 * 2.0) ** 2
    evidence = math.log(0.8 * 0.873 * 2.0 / math.sqrt(2 * math.pi * total)) - 0.5 * off**2 / total
    assert rows(found, X, V, XX, XV, VV, HEARD, WEIGHT) == [
        [pytest.approx(4.1 + 0.01 / total * off), 4.1],
        [pytest.approx(2.0 + 0.006 / total * off), 2.0],
        [pytest.approx(0.01 * (1 - 0.01 / total)), 0.01],
        [pytest.approx(0.006 * (1 - 0.01 / total)), 0.006],
        [pytest.approx(0.04 - 0.006**2 / total), 0.04],
        [1.0, 0.0],
        [pytest.approx(evidence), pytest.approx(math.log(0.15 * 2.0 * (1 + 4 / 31) / 200))],
    ], "the place, or a note of none in the fifth quarter"
    assert surprise == pytest.approx(0.5 * off**2 / total), "its pitch is the likeliest there is"


def test_places_passed_over_cost_that_they_were_not_struck_and_a_wrong_pitch_that_it_is_rare() -> None:
    found, surprise = Filter(Readings.of(HAND), Manner()).heard(one(11.9, xx=0.02), 60, AS_HEARD, 0.5)
    total = 0.02 + 0.03**2 + 0.04**2
    passed = max(math.log(0.2) + math.log(0.3), math.log(0.004))
    evidence = math.log(0.95 * 0.001 * 2.0 / math.sqrt(2 * math.pi * total)) - 0.5 * 0.1**2 / total + passed
    assert rows(found, HEARD, WEIGHT)[0][0] == 3.0
    assert found.weight[0] == pytest.approx(evidence)
    assert surprise == pytest.approx(math.log(873) + 0.5 * 0.1**2 / total)


def test_an_off_beat_quaver_is_looked_for_where_it_swings_and_lies_back_the_more_the_faster() -> None:
    for swing, v in ((0.0, 2.0), (0.15, 2.0), (0.15, 3.0)):
        habits = Habits(swing=swing, octaves=(0.0, 1.0, 0.0))
        found, _ = Filter(Readings.of(HAND), Manner()).heard(one(5.6, v, 0.002, heard=1), 62, habits, 0.5)
        off = 5.5 + swing + 0.03 * v - 5.6
        total = 0.002 + 0.02**2 + 0.03**2 + (0.02 * v) ** 2
        assert found.rows[X][0] == pytest.approx(5.6 + 0.002 / total * off)


def test_another_note_of_the_same_stroke_tells_only_of_its_pitch() -> None:
    """Within 35 ms: that there is a further note at once, of a density over those 35 ms."""
    sieve = Filter(Readings.of(HAND), Manner())
    found, surprise = sieve.heard(one(4.1, heard=1, weight=-0.3), 60, AS_HEARD, 0.035)
    assert [row[0] for row in rows(found, X, V, XX, XV, VV, HEARD)] == [4.1, 2.0, 0.01, 0.006, 0.04, 1.0]
    assert found.weight[0] == pytest.approx(-0.3 + math.log(0.3 / 0.035 * 0.873)) and surprise == 0.0
    assert len(found) == 2
    assert len(sieve.heard(one(4.1, heard=1), 60, AS_HEARD, 0.0351)[0]) == 1, "later it would be another stroke"


def test_a_hypothesis_that_fits_is_a_surprise_by_how_much_likelier_another_was() -> None:
    two = Crowd.of(np.array([4.0, 20.0]), 2.0, 0.01, 0.006, 0.04, [0.0, 3.0], 0.0, 0.0, np.array([-3.0, -0.05]))
    _, surprise = Filter(Readings.of(HAND), Manner()).heard(two, 60, AS_HEARD, 0.5)
    total = 0.01 + 0.05**2 + 0.03**2 + 0.04**2
    assert surprise == pytest.approx(2.95 + 0.5 * 0.02**2 / total)


def test_an_octave_lower_is_as_likely_as_the_player_has_made_it() -> None:
    sieve = Filter(Readings.of(HAND), Manner())
    habits = Habits(octaves=(1.0, 2.0, 1.0))
    assert sieve.pitch_likelihood(48, habits) == pytest.approx(np.log([0.219, 0.219, 0.001, 0.001]))
    assert sieve.pitch_likelihood(60, habits) == pytest.approx(np.log([0.437, 0.437, 0.001, 0.001]))
    assert sieve.pitch_likelihood(72, habits) == pytest.approx(np.log([0.219, 0.219, 0.001, 0.001]))
    fits, said = sieve.fits(62, AS_HEARD)
    assert list(fits) == [2, 3] and said == pytest.approx(np.log([0.873, 0.873]))
    assert list(sieve.likeliest_pitch(np.array([0, 3]))) == [60, 62]


@pytest.mark.parametrize(("x", "due"), [(4.29, 1), (4.31, 2), (36.31, 6)])
def test_a_promised_note_is_overdue_a_spread_and_a_half_and_two_touches_behind_its_beat(x: float, due: int) -> None:
    """Spread 0.15 beats, a touch of 0.02 s at two beats a second: 0.225 + 0.08 beats."""
    owed = Filter(Readings.of(HAND), Manner()).current_weights(one(x, xx=0.0225, heard=due - 1 - (x > 4.3)))
    assert owed[0] == pytest.approx(math.log(0.2) if x > 4.3 else 0.0)
    sure = Filter(Readings.of(HAND), Manner()).current_weights(
        Crowd.of(np.array([4.09, 4.11]), 1.0, 1e-6, 0.0, 0.01, 0.0, 0.0, 0.0, 0.0)
    )
    assert list(sure) == [0.0, pytest.approx(math.log(0.2))], "and a tenth of a beat at least"


def test_who_may_play_the_other_way_is_held_possible_as_often_as_it_happens() -> None:
    """Once in a thousand beats, of a beat's tenth at least; the two other ways each."""
    sieve = Filter(Readings.of(HAND), Manner())
    for seconds, beats in ((0.5, 1.0), (0.01, 0.1)):
        found = sieve.loosened(one(4.0, way=1), one(4.0, way=1), seconds)
        assert rows(found, WAY) == [[1.0, 2.0, 0.0]]
        assert found.weight == pytest.approx([0.0, math.log(0.001 * beats), math.log(0.001 * beats)])


def phrased(**more: Any) -> Readings:
    """As it is written, and a quaver early, taken up one time in fifty and given up one in four."""
    first = Reading("melody", HAND)
    return Readings((first, Reading("melody", HAND, -0.5, None, 0.02, 0.02, 0.25, False), *more.values()))


@pytest.mark.parametrize(("v", "far"), [(2.0, 1.0), (1.0, 1.0), (0.5 / 0.6, 0.5), (0.5 / 0.7, 0.05), (0.5, 0.05)])
def test_a_phrase_may_be_displaced_by_half_a_second_and_hardly_by_more(v: float, far: float) -> None:
    """Half a beat at this speed; from half a second to seven tenths it is the less likely, to one time in twenty."""
    found = Filter(phrased(), Manner()).reread(one(4.0, v), one(4.0, v), Habits())
    assert rows(found, READ, HEARD, SHIFTED) == [[0.0, 1.0], [0.0, 0.0], [0.0, 1.0]]
    assert found.weight == pytest.approx([math.log(0.98), math.log(0.02 * far)])


def test_a_displaced_phrase_comes_back_and_counts_once() -> None:
    early = one(4.0, read=1, shifted=2.0)
    found = Filter(phrased(), Manner()).reread(early, early, Habits())
    assert rows(found, READ, SHIFTED) == [[1.0, 0.0], [2.0, 2.0]]
    assert found.weight == pytest.approx([math.log(0.75), math.log(0.25)])
    free = one(4.0, way=2)
    assert len(Filter(phrased(), Manner()).reread(free, free, Habits())) == 1, "displaced against a beat that is kept"


def test_between_other_places_what_lies_well_behind_is_gone() -> None:
    """A solo's own places: the one a quarter of a beat back may still have been meant."""
    other = Reading("solo", replace(HAND, strike=HAND.strike / 2), share=0.01, taken_up=0.01, given_up=0.1, free=True)
    sieve = Filter(Readings((Reading("melody", HAND), other)), Manner())
    for x, heard in ((4.2, 0.0), (4.3, 1.0)):
        found = sieve.reread(one(x, heard=0), one(x, heard=0), Habits())
        assert rows(found, READ, HEARD)[1] == [0.0, heard]


def test_from_one_phrasing_to_another_the_way_leads_by_the_melody_as_written() -> None:
    late = Reading("melody", HAND, 0.5, None, 0.05, 0.05, 0.4, False)
    stays, goes = _changes(phrased(late=late))
    assert np.exp(goes) == pytest.approx(
        np.array([[0, 0.02, 0.05], [0.25, 0, 0.25 * 0.05], [0.4, 0.4 * 0.02, 0]]), abs=1e-8
    )
    assert np.exp(stays) == pytest.approx([0.93, 1 - 0.2625, 1 - 0.408])


def filled() -> Filter:
    """The melody, and the melody with two and a half more notes a beat."""
    return Filter(Readings((Reading("melody", HAND), Reading("melody", HAND, share=0.1, others=2.65))), Manner())


def test_who_fills_the_gaps_is_missed_in_the_first_beat_of_one_and_no_more() -> None:
    for seconds, beats in ((0.2, 0.4), (0.5, 1.0), (2.0, 1.0)):
        assert filled().moved(one(4.0, read=1), seconds).weight == pytest.approx([-2.5 * beats])
        assert filled().moved(one(4.0), seconds).weight == pytest.approx([0.0])


@pytest.mark.parametrize(("x", "heard", "cost"), [(4.59, 0.0, 0.0), (4.61, 1.0, math.log(0.2))])
def test_who_fills_the_gaps_plays_the_melody_too(x: float, heard: float, cost: float) -> None:
    """Its note that is six tenths of a beat behind was left out."""
    found, _ = filled().heard(one(x, xx=1e-4, read=1), 61, AS_HEARD, 0.5)
    none = found.rows[:, -1]
    assert none[HEARD] == heard
    assert none[WEIGHT] == pytest.approx(math.log(2.65 * 2.0 * (1 + 4 / 31) / 200) + cost)


@pytest.mark.parametrize(
    ("x", "swing", "first", "many"),
    [
        (4.0, 0.0, 1, 1),
        (3.0, 0.0, 1, 1),  # none is within reach: the next one is looked at all the same
        (5.5, 0.0, 2, 1),
        (5.96, 0.0, 3, 1),
        (5.96, 0.2, 2, 1),
        (4.9, 0.0, 2, 1),
        (12.5, 0.0, 4, 1),
    ],
)
def test_a_place_within_three_spreads_and_a_bit_may_be_what_was_heard(
    x: float, swing: float, first: int, many: int
) -> None:
    """3.2 times a spread of 0.05, a jitter of 0.03 and a touch of 0.04 beats; behind it 0.06 beats more."""
    found = Filter(Readings.of(HAND), Manner())._window(one(x, xx=0.0025, heard=0), np.array([0]), np.array([0]), swing)
    assert (int(found[0][0]), found[1]) == (first, many)


def many(x: list[float], v: Any = 2.0, **more: Any) -> Crowd:
    heard, way, read, weight = (more.pop(name, 0.0) for name in ("heard", "way", "read", "weight"))
    return Crowd.of(np.array(x), v, 0.01, 0.002, 0.04, heard, way, read, weight, **more)


def test_two_that_mean_the_same_have_the_moments_of_both_and_their_counts() -> None:
    both = many([4.05, 36.07], [2.0, 2.02], heard=[1.0, 5.0], weight=np.log([0.6, 0.4]), held=[1.0, 0.0],
                shifted=[0.0, 2.0], just_held=[1.0, 0.0])  # fmt: skip
    found = Filter(Readings.of(HAND), Manner()).merged(both)
    x, v = 4.05 + 0.4 * 0.02, 2.0 + 0.4 * 0.02
    dx, dv = (-0.4 * 0.02, 0.6 * 0.02), (-0.4 * 0.02, 0.6 * 0.02)
    spread = [0.6 * a[0] * b[0] + 0.4 * a[1] * b[1] for a, b in ((dx, dx), (dx, dv), (dv, dv))]
    assert rows(found, X, V, XX, XV, VV, HELD, SHIFTED, JUST_HELD, WEIGHT, HEARD) == [
        [pytest.approx(value)]
        for value in (x, v, 0.01 + spread[0], 0.002 + spread[1], 0.04 + spread[2], 0.6, 0.8, 0.6, 0.0, 1.0)
    ]


@pytest.mark.parametrize(
    ("second", "alike"),
    [
        ({"x": [4.05, 4.06]}, True),
        ({"x": [4.05, 4.2]}, False),
        ({"v": [2.0, 2.2]}, False),
        ({"heard": [1.0, 2.0]}, False),
        ({"way": [0.0, 1.0]}, False),
        ({"read": [0.0, 1.0]}, False),
    ],
)
def test_what_differs_in_place_tempo_last_note_way_or_reading_is_kept_apart(
    second: dict[str, Any], alike: bool
) -> None:
    told = {"x": [4.05, 4.05], "heard": [1.0, 1.0]} | second
    assert len(Filter(phrased(), Manner()).merged(many(**told))) == (1 if alike else 2)


def test_who_is_slower_or_faster_than_anybody_plays_or_hopeless_is_dropped() -> None:
    speeds = [0.44, 0.46, 5.9, 6.1, 2.0, 2.0]
    weight = [0.0, 0.0, 0.0, 0.0, -10.9, -11.1]
    found = Filter(Readings.of(HAND), Manner()).merged(many([0.0, 2.0, 4.0, 6.0, 8.0, 10.0], speeds, weight=weight))
    assert sorted(found.rows[V]) == [0.46, 2.0, 5.9]
    assert np.exp(found.weight).sum() == pytest.approx(1.0)
    slow = Filter(Readings.of(HAND), Manner()).merged(many([0.0, 2.0], [0.3, 0.2], weight=[0.0, -1.0]))
    assert list(slow.rows[V]) == [0.3], "of nobody else the likeliest is kept"


def test_of_a_crowd_the_likeliest_are_kept_those_of_each_part_by_themselves() -> None:
    """Five of the melody, and three quarters of that of what else may be played."""
    solo = Reading("solo", replace(HAND), share=0.01, taken_up=0.01, given_up=0.1)
    sieve = Filter(Readings((Reading("melody", HAND), solo)), Manner(crowd=5))
    x = [1.5 * n for n in range(16)]
    read = [0.0] * 8 + [1.0] * 8
    found = sieve.merged(many(x, read=read, weight=[-0.5 * (n % 8) for n in range(16)]))
    assert sorted(found.rows[X]) == pytest.approx([1.5 * n for n in (0, 1, 2, 3, 4, 8, 9, 10)])


def test_a_way_as_before_is_put_before_the_free_one_and_the_strict_ones_stay() -> None:
    manner = Manner()
    shape = TempoShape(32.0, (0.0,), (0.0,), (0.05,))
    shaped = manner.shaped_by(shape, 0.25)
    assert (manner.first_free, manner.strict) == (2, 2) and (shaped.first_free, shaped.strict) == (2, 2)
    assert [way.share for way in shaped.freedoms] == pytest.approx([0.5, 0.2, 1 / 3, 0.3])
    assert [way.shaped for way in shaped.freedoms] == [False, False, True, False]
    half = Manner(freedoms=(Freedom(0.002, 0.0, 0.3), Freedom(0.06, 0.07, 0.2))).shaped_by(shape, 0.25)
    assert [way.share for way in half.freedoms] == pytest.approx([0.3, 0.5 / 3, 0.2]), "a quarter of all"
    alone = Manner(freedoms=manner.freedoms[-1:])
    assert (alone.first_free, alone.strict) == (0, 1)
