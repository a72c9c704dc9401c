"""Where a note may have been played if not where it was expected: leaps, hesitations, new starts, entrances.

That rehearsing players take up at phrases and sections, and that a leap keeps the pulse, is common practice.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from companion.follow import elsewhere
from companion.follow.belief import HEARD, HELD, JUST_HELD, VV, WAY, WEIGHT, XX, Crowd, Filter, Manner, V, X
from companion.follow.habits import Habits
from companion.follow.places import Places
from companion.follow.readings import Readings
from companion.follow.roles import places_for, readings_for

SPEED = 2.0
"""Quarters a second: 120 a minute."""


@pytest.fixture(scope="module")
def sieve(stand: Any) -> Filter:
    return Filter(Readings.of(places_for(stand.tune().unfold(), frozenset({"melody"}))), Manner())


def at(places: Places, beat: float) -> Crowd:
    """A crowd that is nearly sure to be at a beat, all before it heard."""
    heard = places.next_place(beat - 0.3) - 1
    return Crowd.of(np.array([beat]), SPEED, 0.03**2, 0.0, 0.02**2, float(heard), 0.0, 0.0, 0.0)


def pitch_of(places: Places, k: int) -> int:
    return int(places.pitch[places.row[k]].argmax())


def test_a_leap_lands_on_a_place_of_that_pitch_and_keeps_the_pulse(sieve: Filter) -> None:
    places = sieve.places
    goal = int(np.flatnonzero(places.first)[-1])
    found = elsewhere.leaps(sieve, at(places, 4.1), pitch_of(places, goal), Habits(), 1.0)
    assert len(found)
    for column in range(len(found)):
        k = int(found.rows[HEARD, column]) % places.count
        assert places.pitch[places.row[k], pitch_of(places, goal)] > np.log(0.5)
        whole = (found.rows[X, column] - 4.1) / places.pulse
        assert abs(whole - round(whole)) < 0.15, "the pulse goes on"


def test_a_leap_to_a_section_is_likelier_than_one_into_the_middle_of_nowhere(sieve: Filter) -> None:
    places = sieve.places
    fits = np.arange(places.count)
    share = elsewhere._landing(places, fits, np.ones((1, places.count)), np.zeros((1, 1)), Habits())[0]
    assert share[places.first].min() > share[~places.first & ~places.opening].max() + 2


def test_a_hesitation_takes_the_pulse_along_and_goes_back_to_a_place_that_has_gone_by(sieve: Filter) -> None:
    places = sieve.places
    due = places.next_place(3.0)
    beat = places.place_at(due)
    late = at(places, beat + 0.6)
    late.rows[HEARD] = due - 1
    found = elsewhere.hesitations(sieve, late, pitch_of(places, due % places.count), Habits(), 1.0)
    best = int(np.argmax(found.rows[WEIGHT]))
    assert found.rows[X, best] == pytest.approx(beat)
    assert int(found.rows[HEARD, best]) == due
    assert found.rows[V, best] == SPEED, "they hesitated; they did not slow down"


def test_who_has_held_beats_back_before_does_so_again_the_more_readily(sieve: Filter) -> None:
    places = sieve.places
    due = places.next_place(3.0)
    beat, weights = places.place_at(due), []
    for held, just_held in ((0.0, 0.0), (3.0, 0.0), (3.0, 1.0)):
        late = at(places, beat + 0.6)
        late.rows[[HEARD, HELD, JUST_HELD], 0] = due - 1, held, just_held
        found = elsewhere.hesitations(sieve, late, pitch_of(places, due % places.count), Habits(notes=30.0), 1.0)
        best = int(np.argmax(found.rows[WEIGHT]))
        assert found.rows[HELD, best] == held + 1 and found.rows[JUST_HELD, best] == 1.0
        weights.append(float(found.rows[WEIGHT, best]))
    assert weights[0] + 1 < weights[1] < weights[2]


def test_whoever_is_in_time_has_not_hesitated(sieve: Filter) -> None:
    places = sieve.places
    due = places.next_place(3.0)
    found = elsewhere.hesitations(
        sieve, at(places, places.place_at(due)), pitch_of(places, due % places.count), Habits(), 1.0
    )
    assert due not in found.rows[HEARD]


def test_a_new_start_takes_up_the_note_that_was_due_above_all(sieve: Filter) -> None:
    places = sieve.places
    due = places.next_place(6.0)
    kept = at(places, places.place_at(due))
    kept.rows[HEARD] = due - 1
    found = elsewhere.starts(sieve, kept, pitch_of(places, due % places.count), Habits())
    best = int(np.argmax(found.rows[WEIGHT]))
    assert int(found.rows[HEARD, best]) == due
    assert found.rows[XX, best] < 0.1**2, "the note is where it is written"


def test_the_ways_to_take_up_again_are_all_the_new_starts_there_are(sieve: Filter) -> None:
    shares = elsewhere.DUE, elsewhere.OPENING, elsewhere.FROM_THE_TOP, elsewhere.ANYWHERE
    assert sum(shares) == pytest.approx(1.0)


def test_an_entrance_is_at_the_top_before_anywhere_else(sieve: Filter) -> None:
    places = sieve.places
    found = elsewhere.entrance(sieve, pitch_of(places, 0), None, Habits())
    by_place = {k: found.rows[WEIGHT][found.rows[HEARD] == k].max() for k in set(found.rows[HEARD])}
    assert max(by_place, key=lambda k: by_place[k]) == 0
    assert len(set(found.rows[V])) == len(elsewhere.TEMPI), "at any tempo"


def test_a_tempo_that_was_said_is_the_only_one_tried(sieve: Filter) -> None:
    found = elsewhere.entrance(sieve, pitch_of(sieve.places, 0), 90.0, Habits())
    assert set(found.rows[V]) == {1.5}


# Coming in, counted in or not


def test_who_comes_in_at_another_tempo_than_counted_is_where_they_were_told_to_be(sieve: Filter) -> None:
    found = elsewhere.other_tempi(sieve, at(sieve.places, 0.0))
    assert set(found.rows[X]) == {0.0} and len(found) == 6
    ratios = found.rows[V] / SPEED
    assert ratios.min() == 0.5 and ratios.max() == 2.0, "half and double time"
    likeliest = ratios[found.rows[WEIGHT] == found.rows[WEIGHT].max()]
    assert set(likeliest) == {0.82, 1.2}, "somewhat slower or faster, above all"
    assert found.rows[WEIGHT].max() < np.log(0.1), "mostly people come in as they were counted in"
    spread = np.sqrt(found.rows[VV]) / found.rows[V]
    assert spread == pytest.approx(np.full(6, spread[0])) and 0.05 < spread[0] < 0.12


def test_who_comes_in_much_slower_than_counted_is_taken_to_be_reading(sieve: Filter) -> None:
    found = elsewhere.other_tempi(sieve, at(sieve.places, 0.0))
    reading = found.rows[HELD] > 0
    assert set(found.rows[V][reading] / SPEED) == {0.5, 0.67}


def test_without_a_melody_to_tell_it_nobody_is_believed_at_half_or_double_time(stand: Any) -> None:
    chords = Filter(readings_for(stand.tune().unfold(), frozenset({"chords"})), Manner())
    ratios = elsewhere.other_tempi(chords, at(chords.places, 0.0)).rows[V] / SPEED
    assert set(np.round(ratios, 2)) == {0.82, 1.2}


def test_who_comes_in_late_or_early_keeps_the_pulse_counted_in(sieve: Filter) -> None:
    found = elsewhere.late_entrances(sieve, at(sieve.places, 0.0))
    assert set(found.rows[V]) == {SPEED}
    by_place = dict(zip(found.rows[X], found.rows[WEIGHT], strict=True))
    # A beat or two late or early, half a beat, or a whole bar late (common practice).
    assert set(by_place) == {-4.0, -2.0, -1.0, -0.5, 0.5, 1.0}
    assert max(by_place.values()) < np.log(0.1)


def test_who_comes_in_a_bar_late_plays_the_first_note_there(sieve: Filter) -> None:
    """They heard the count-in a bar too long: at their first note the form begins."""
    found = elsewhere.late_entrances(sieve, at(sieve.places, 4.0))
    late = int(np.flatnonzero(found.rows[X] == 0.0)[0])
    assert found.rows[HEARD, late] == -1, "nothing has been played yet: the next place is the first"


def test_uncounted_without_a_tempo_the_top_is_likelier_than_a_phrase_and_a_phrase_than_any_place(
    sieve: Filter,
) -> None:
    places = sieve.places
    weights: dict[str, list[float]] = {"top": [], "opening": [], "middle": []}
    for pitch in {pitch_of(places, k) for k in range(places.count)}:
        found = elsewhere.entrance(sieve, pitch, None, Habits())
        heard = found.rows[HEARD].astype(int) % places.count
        for k in set(heard):
            if pitch_of(places, k) == pitch:
                kind = "top" if places.top[k] else "opening" if places.opening[k] else "middle"
                weights[kind].append(float(found.rows[WEIGHT][heard == k].max()))
    assert all(weights.values())
    assert min(weights["top"]) > max(weights["opening"]) + 0.5
    assert min(weights["opening"]) > max(weights["middle"]) + 0.5


def test_who_begins_with_the_pickup_has_the_first_chorus_before_them(stand: Any) -> None:
    chart = stand.chart((stand.TEN[0], "GA" + stand.TEN[1]))
    sieve = Filter(Readings.of(places_for(chart.unfold(), frozenset({"melody"}))), Manner())
    found = elsewhere.entrance(sieve, 67, 120.0, Habits())  # G4, the first note of the pickup
    best = int(np.argmax(found.rows[WEIGHT]))
    assert found.rows[X, best] == pytest.approx(-1.0, abs=0.01) and found.rows[HEARD, best] == -2


def test_a_tempo_said_beforehand_is_held_to_more_closely_than_a_guess(sieve: Filter) -> None:
    said, guessed = (elsewhere.entrance(sieve, pitch_of(sieve.places, 0), tempo, Habits()) for tempo in (90.0, None))
    spreads = [np.sqrt(found.rows[VV]) / found.rows[V] for found in (said, guessed)]
    assert spreads[0].max() < 0.1 < 0.15 < spreads[1].min()


# Going back again


def test_a_leap_that_was_made_before_is_made_again_from_there_above_all(sieve: Filter) -> None:
    places = sieve.places
    fits = np.arange(places.count)
    back = np.full((1, places.count), -8.0)

    def share(left: float, returns: tuple[tuple[float, float], ...]) -> float:
        landing = elsewhere._landing(places, fits, back, np.array([[left]]), Habits(returns=returns))
        return float(landing[0, places.count // 2])

    never, elsewhere_before, here_before = share(14.0, ()), share(14.0, ((28.0, -8.0),)), share(14.0, ((14.5, -8.0),))
    assert here_before > elsewhere_before + 1 > never + 1
    assert share(14.0, ((14.5, -4.0),)) == never, "another leap says nothing"
    assert share(63.5, ((0.5, -8.0),)) == here_before, "round the end of the form, too"


def test_leaps_are_of_four_or_eight_bars_first_then_back_then_of_whole_bars_and_least_of_beats(sieve: Filter) -> None:
    places = sieve.places
    middle = np.array([int(np.flatnonzero(~places.opening & ~places.first)[3])])

    def share(bars: float) -> float:
        whole = np.array([[bars * places.bar]])
        return float(elsewhere._landing(places, middle, whole, np.zeros((1, 1)), Habits())[0, 0])

    for phrase in (4, 8):
        assert share(-phrase) > share(phrase) > share(-3)
    assert share(-1) == share(-7) > share(-9) == share(3) == share(9) > share(0.25)
    assert share(0.25) == share(-0.5) == share(7.75)


# By hand: eight places in a form of sixteen bars, two sections, each note of a pitch of its own


PITCHES = np.full((8, 128), 0.001)
PITCHES[np.arange(8), 60 + np.arange(8)] = 0.873
HAND = Places(
    period=64.0, beat=np.array([0.0, 4.0, 9.5, 16.0, 32.0, 36.0, 47.0, 60.0]),
    swung=np.array([0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0]), strike=np.full(8, 0.9), again=np.full(8, 0.1),
    scatter=np.array([0.0, 0.0, 0.02, 0.0, 0.04, 0.0, 0.0, 0.0]), row=np.arange(8), pitch=np.log(PITCHES),
    other=np.log(np.full((64, 128), 1 / 128)), others=0.2, late=np.array([0.0, 0.0, 0.0, 0.0, 0.01, 0.0, 0.0, 0.0]),
    opening=np.array([True, False, False, True, True, False, False, False]), bar=4.0, pulse=1.0,
    first=np.array([True, False, False, False, True, False, False, False]), top=np.arange(8) == 0,
)  # fmt: skip
AS_HEARD = Habits(octaves=(0.0, 1.0, 0.0))
ALL_WAYS = 64 + 5 * 16 + 4 * 40 + 8 * 10 + 60 * 2 + 12 * 3
"""Weights of all leaps: of each beat 1, of each bar 5, of four times 4 and 8 bars 40, of eight bars back 10; of two
sections 60, of three phrases 12."""


@pytest.fixture(scope="module")
def small() -> Filter:
    return Filter(Readings.of(HAND), Manner())


def here(x: float, heard: int = 0, **more: Any) -> Crowd:
    way, weight = more.pop("way", 0.0), more.pop("weight", 0.0)
    return Crowd.of(np.array([x]), SPEED, 0.01, 0.002, 0.03, float(heard), way, 0.0, weight, **more)


@pytest.mark.parametrize(
    ("place", "bars", "weight"),
    [
        (1, 0.25, 1),
        (1, 3, 1 + 5),
        (1, 4, 1 + 5 + 40),
        (1, 8, 1 + 5 + 40),
        (1, -1, 1 + 5 + 10),
        (1, -8, 1 + 5 + 10 + 40),
        (1, -9, 1 + 5),
        (3, 3, 1 + 12 + 5),
        (4, 3, 1 + 60 + 12 + 5),
        (0, 0.5, 1 + 60 + 12),
    ],
)
def test_the_prior_of_a_leap_is_its_weight_among_those_of_all(place: int, bars: float, weight: float) -> None:
    found = elsewhere._landing(HAND, np.array([place]), np.array([[4.0 * bars]]), np.array([[10.0]]), Habits())
    assert np.exp(found[0, 0]) == pytest.approx(weight / ALL_WAYS)


@pytest.mark.parametrize(
    ("left", "by", "from_here", "more"),
    [(10.0, -12.0, 13.9, 600), (10.0, -12.0, 14.1, 30), (10.0, -12.0, 6.1, 600), (10.0, -11.95, 10.0, 600),
     (10.0, -11.8, 10.0, 0), (63.0, -12.0, 2.0, 600), (10.0, 52.0, 10.0, 600)],
)  # fmt: skip
def test_a_leap_made_before_weighs_more_by_far_and_from_the_same_bar_most(
    left: float, by: float, from_here: float, more: float
) -> None:
    habits = Habits(returns=((left, by),))
    found = elsewhere._landing(HAND, np.array([1]), np.array([[-12.0]]), np.array([[from_here]]), habits)
    assert np.exp(found[0, 0]) == pytest.approx((1 + 5 + 10 + more) / ALL_WAYS)


def test_a_leap_by_hand(small: Filter) -> None:
    """From beat 20.1 to the second section's first note, sixteen bars from the top, laid back by a hundredth of a
    second: twelve beats on, and 0.08 beats late; six leaps in a thousand beats."""
    found = elsewhere.leaps(small, here(20.1, 3), 64, AS_HEARD, 1.5)
    off, total = 12 + 0.01 * SPEED - 0.1 - 12, 0.01 + 0.04**2 + 0.03**2 + (0.02 * SPEED) ** 2
    near = -0.5 * (off**2 / total + np.log(total) + np.log(2 * np.pi))
    chance = np.log(0.006 * 1.5 * (1 + 60 + 12 + 5) / ALL_WAYS * 0.873 * SPEED)
    assert len(found) == 1
    assert [float(found.rows[row, 0]) for row in (X, V, XX, VV, HEARD, WEIGHT)] == [
        pytest.approx(value) for value in (
            20.1 + 12 + 0.01 / total * off, SPEED + 0.002 / total * off, 0.01 * (1 - 0.01 / total),
            0.03 - 0.002**2 / total, 4.0, near + chance,
        )
    ]  # fmt: skip


@pytest.mark.parametrize(("beats", "counted"), [(0.1, 0.25), (1.0, 1.0), (5.0, 2.0)])
def test_leaps_and_hesitations_are_as_many_as_beats_went_by_a_quarter_at_least_and_two_at_most(
    small: Filter, beats: float, counted: float
) -> None:
    once, so = (elsewhere.leaps(small, here(20.1, 3), 64, AS_HEARD, n).weight[0] for n in (1.0, beats))
    assert np.exp(so - once) == pytest.approx(counted)
    once, so = (elsewhere.hesitations(small, here(4.6), 61, AS_HEARD, n).weight[0] for n in (1.0, beats))
    assert np.exp(so - once) == pytest.approx(counted)
    thrice = elsewhere.leaps(small, here(20.1, 3), 64, AS_HEARD, 1.0, 0, 3.0).weight[0]
    assert np.exp(thrice - elsewhere.leaps(small, here(20.1, 3), 64, AS_HEARD, 1.0).weight[0]) == pytest.approx(3.0)


@pytest.mark.parametrize(("back", "found"), [(0.14, False), (0.16, True), (2.99, True), (3.01, False)])
def test_a_beat_is_held_back_by_a_seventh_of_it_at_least_and_three_at_most(
    small: Filter, back: float, found: bool
) -> None:
    assert (len(elsewhere.hesitations(small, here(4.0 + back), 61, AS_HEARD, 1.0)) == 1) == found


def test_a_hesitation_by_hand(small: Filter) -> None:
    """Six tenths of a beat behind the second place: four in a thousand beats, anywhere in three beats."""
    found = elsewhere.hesitations(small, here(4.6, weight=-0.2), 61, AS_HEARD, 1.0)
    assert [float(found.rows[row, 0]) for row in (X, V, XX, VV, HEARD, HELD, JUST_HELD)] == [
        4.0, SPEED, pytest.approx(0.03**2 + 0.04**2), pytest.approx(0.03 + (0.03 * SPEED) ** 2), 1.0, 1.0, 1.0
    ]  # fmt: skip
    assert found.weight[0] == pytest.approx(-0.2 + np.log(0.004 / 3 * SPEED * 0.9 * 0.873))
    again = elsewhere.hesitations(small, here(4.6, just_held=1.0), 61, AS_HEARD, 1.0)
    assert again.weight[0] == pytest.approx(np.log(0.3 / 3 * SPEED * 0.9 * 0.873)), "three in ten after another one"


def test_a_new_start_by_hand(small: Filter) -> None:
    """Of all new starts 48 in a hundred take up the note that was due, 32 a phrase, seven tenths of these the one that
    was being played; 8 the top, 12 anywhere."""
    share = np.exp(elsewhere._taken_up(HAND, 6))
    anywhere, phrase = 0.12 / 8, 0.32 * 0.3 / 3
    assert share == pytest.approx([anywhere + phrase + 0.08, anywhere, anywhere, anywhere + phrase,
                                   anywhere + phrase + 0.32 * 0.7, anywhere, anywhere + 0.48, anywhere])  # fmt: skip
    found = elsewhere.starts(small, here(46.0, 5, weight=-0.4), 66, AS_HEARD)
    assert [float(found.rows[row, 0]) for row in (X, V, XX, VV, HEARD)] == [
        47.0, SPEED, pytest.approx(0.03**2 + 0.04**2), pytest.approx(0.03 + (0.03 * SPEED) ** 2), 6.0
    ]  # fmt: skip
    assert found.weight[0] == pytest.approx(-0.4 + np.log(0.02 * 0.2 * (anywhere + 0.48) * 0.873))


def test_where_no_stroke_is_promised_the_next_two_bars_are_taken_up_alike() -> None:
    loose = replace(HAND, strike=np.array([0.3, 0.2, 0.1, 0.4, 0.3, 0.2, 0.1, 0.4]))
    share = np.exp(elsewhere._taken_up(loose, 4)) - np.exp(elsewhere._taken_up(loose, 1))
    assert share[5] == pytest.approx(0.48 * 0.2 / 0.5) and share[6] == pytest.approx(0.0)
    assert share[4] == pytest.approx(0.48 * 0.3 / 0.5 + 0.32 * 0.7)
    assert share[1] == pytest.approx(-0.48 * 0.2 / 0.3) and share[2] == pytest.approx(-0.48 * 0.1 / 0.3)


@pytest.mark.parametrize(("count", "left"), [(1, 45.0), (2, 45.0), (1, 30.0)])
def test_who_went_back_before_takes_up_there_three_times_in_ten(small: Filter, count: int, left: float) -> None:
    """Within a bar of where they went then: 2 beats before the fourth place."""
    habits = Habits(octaves=(0.0, 1.0, 0.0), returns=((left, 14.0 - left), *[(0.0, 40.0)] * (count - 1)))
    found = elsewhere.starts(small, here(46.0, 5), 63, habits)
    share = np.exp(elsewhere._taken_up(HAND, 6))[3] + 0.3 / count / 4
    assert found.weight[0] == pytest.approx(np.log(0.02 * 0.2 * share * 0.873))


def test_an_entrance_by_hand(small: Filter) -> None:
    """Uncounted, 55 in a hundred come in at the top, 30 at a phrase, the rest anywhere; at one of five tempi."""
    found = elsewhere.entrance(small, 60, None, AS_HEARD)
    top = found.rows[HEARD] == 0
    share = 0.55 + 0.30 / 3 + 0.15 / 8
    for way, chance in enumerate((0.5, 0.2, 0.3)):
        mine = top & (found.rows[WAY] == way)
        assert sorted(60 * found.rows[V][mine]) == pytest.approx([52, 76, 110, 160, 230])
        assert np.exp(found.weight[mine]) == pytest.approx(np.full(5, share * 0.873 * chance / 5))
    assert found.rows[XX] == pytest.approx(0.03**2 + (0.02 * found.rows[V]) ** 2)
    assert found.rows[VV] == pytest.approx((0.22 * found.rows[V]) ** 2)
    said = elsewhere.entrance(small, 60, 120.0, AS_HEARD)
    assert said.rows[VV] == pytest.approx((0.08 * said.rows[V]) ** 2)
    assert len(found) == 15, "where its pitch is four times e less likely nobody comes in"


@pytest.mark.parametrize(
    ("beats", "bars", "chance"),
    [
        (0.5, 0, 0.02),
        (1.0, 0, 0.03),
        (-1.0, 0, 0.03),
        (2.0, 0, 0.01),
        (0.0, 1, 0.03),
        (-0.5, 0, 0.005),
    ],
)
def test_who_was_counted_in_comes_in_so_much_late_or_early(
    small: Filter, beats: float, bars: int, chance: float
) -> None:
    found = elsewhere.late_entrances(small, here(17.0, 3))
    at = int(np.argmin(np.abs(found.rows[X] - (17.0 - beats - 4 * bars))))
    assert found.rows[X, at] == 17.0 - beats - 4 * bars and np.exp(found.weight[at]) == pytest.approx(chance)
    assert found.rows[HEARD, at] == HAND.next_place(17.0 - beats - 4 * bars - 0.5) - 1


@pytest.mark.parametrize(
    ("ratio", "chance"), [(0.5, 0.015), (0.67, 0.02), (0.82, 0.04), (1.2, 0.04), (1.5, 0.015), (2.0, 0.01)]
)
def test_who_was_counted_in_plays_at_another_tempo(small: Filter, ratio: float, chance: float) -> None:
    found = elsewhere.other_tempi(small, here(0.0))
    at = int(np.argmin(np.abs(found.rows[V] - ratio * SPEED)))
    assert found.rows[V, at] == ratio * SPEED and np.exp(found.weight[at]) == pytest.approx(chance)
    assert found.rows[VV, at] == pytest.approx((0.08 * ratio * SPEED) ** 2)
    assert found.rows[HELD, at] == (ratio < 0.75)


def test_of_places_close_together_two_dozen_may_go_by_in_a_hesitation() -> None:
    """Twelve a beat: the first two dozen of the three beats back."""
    count = 12 * 64
    flat = np.zeros(count)
    dense = replace(
        HAND, beat=np.arange(count) / 12, row=np.zeros(count, int), strike=flat + 0.01, again=flat + 0.1, scatter=flat,
        swung=flat, late=flat, opening=flat > 0, first=flat > 0, top=flat > 0,
    )  # fmt: skip
    found = elsewhere.hesitations(Filter(Readings.of(dense), Manner()), here(8.01), 60, AS_HEARD, 1.0)
    assert (found.rows[HEARD].min(), found.rows[HEARD].max()) == (61, 61 + 23)
