"""Where a note may have been played if not where it was expected: leaps, hesitations, new starts, entrances.

That rehearsing players take up at phrases and sections, and that a leap keeps the pulse, is common practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from companion.follow import elsewhere
from companion.follow.belief import HEARD, HELD, JUST_HELD, WEIGHT, XX, Crowd, Filter, Manner, V, X
from companion.follow.habits import Habits
from companion.follow.places import Places
from companion.follow.readings import Readings
from companion.follow.roles import places_for

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


def test_an_entrance_is_at_the_top_before_anywhere_else(sieve: Filter) -> None:
    places = sieve.places
    found = elsewhere.entrance(sieve, pitch_of(places, 0), None, Habits())
    by_place = {k: found.rows[WEIGHT][found.rows[HEARD] == k].max() for k in set(found.rows[HEARD])}
    assert max(by_place, key=lambda k: by_place[k]) == 0
    assert len(set(found.rows[V])) == len(elsewhere.TEMPI), "at any tempo"


def test_a_tempo_that_was_said_is_the_only_one_tried(sieve: Filter) -> None:
    found = elsewhere.entrance(sieve, pitch_of(sieve.places, 0), 90.0, Habits())
    assert set(found.rows[V]) == {1.5}
