"""Places: numbered over all repetitions of the form, found by beat, and passed over at a cost."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.follow.places import Places
from companion.follow.roles import places_for

ROLES = ("melody", "chords", "bass", "solo", "melody,chords")


@pytest.fixture(scope="session")
def melody(stand: Any) -> Places:
    return places_for(stand.tune().unfold(), frozenset({"melody"}))


def one(places: Places, beat: float) -> int:
    return int(places.next_after(np.array([beat]))[0])


def passing(places: Places, first: int, last: int) -> float:
    return float(places.passing(np.array([first]), np.array([last]))[0])


@pytest.mark.parametrize("role", ROLES)
def test_places_go_on_through_the_choruses_and_back_before_the_first_downbeat(stand: Any, role: str) -> None:
    places = places_for(stand.tune().unfold(), frozenset(role.split(",")))
    k = np.arange(-places.count, 2 * places.count)
    beats = places.at(k)
    assert (np.diff(beats) >= 0).all()
    assert beats[0] == places.beat[0] - 64 and beats[-1] == places.beat[-1] + 64


@given(beat=st.floats(-200, 500))
def test_the_next_place_is_the_first_at_or_after_a_beat(melody: Places, beat: float) -> None:
    k = one(melody, beat)
    before, after = melody.at(np.array([k - 1, k]))
    assert before < beat + 1e-9 and after >= beat - 1e-9


def test_a_beat_with_a_place_on_it_finds_that_place(melody: Places) -> None:
    for chorus in (-1, 0, 3):
        for n, beat in enumerate(melody.beat):
            assert one(melody, float(beat) + 64 * chorus) == n + chorus * melody.count


@given(first=st.integers(-60, 200), steps=st.integers(0, 3))
def test_a_note_left_out_costs_its_chance_of_being_left_out(melody: Places, first: int, steps: int) -> None:
    passed = [melody.strike[k % melody.count] for k in range(first, first + steps)]
    cost = sum(math.log(1 - strike) for strike in passed)
    assert passing(melody, first, first + steps) == pytest.approx(max(cost, math.log(melody.rest)), abs=1e-9)


def test_no_silence_is_less_likely_than_a_rest_on_purpose(melody: Places) -> None:
    assert passing(melody, 5, 500) == pytest.approx(math.log(melody.rest))
    assert passing(melody, 5, 5) == 0.0 and passing(melody, 9, 5) <= 0.0


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("by", [0.0, 4.0, 92.0, 30.5])
def test_bars_that_lie_later_have_the_same_places_later(stand: Any, role: str, by: float) -> None:
    places = places_for(stand.tune().unfold(), frozenset(role.split(",")))
    later = places.moved(by)
    first, there = one(places, 0.0), one(later, by)
    for n in range(places.count):
        assert later.place_at(there + n) == pytest.approx(places.place_at(first + n) + by)
        at, moved = (first + n) % places.count, (there + n) % places.count
        assert later.strike[moved] == places.strike[at] and later.opening[moved] == places.opening[at]
        assert (later.pitch[later.row[moved]] == places.pitch[places.row[at]]).all()
