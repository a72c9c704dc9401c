"""Where a note may have been played if not where it was expected: leaps, hesitations, new starts, entrances.

That rehearsing players take up at phrases and sections, and that a leap keeps the pulse, is common practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from companion.follow import elsewhere
from companion.follow.belief import HEARD, HELD, JUST_HELD, VV, WEIGHT, XX, Crowd, Filter, Manner, V, X
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
