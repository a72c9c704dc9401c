"""Places: numbered over all repetitions of the form, found by beat, and passed over at a cost."""

from __future__ import annotations

import math
from dataclasses import replace
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


def alike_places(melody: Places, differ: int, beats: int = 16) -> Places:
    """Quavers over two times eight bars, each with a pitch of its own; in the second eight so many of the last sixteen
    before beat 16 differ."""
    count = 4 * beats
    row = np.array([k % (2 * beats) for k in range(count)])
    row[4 * beats - differ :] = 2 * beats
    pitch = np.full((2 * beats + 1, 128), -9.0)
    pitch[np.arange(2 * beats + 1), 40 + np.arange(2 * beats + 1)] = -0.01
    flat = np.zeros(count)
    return replace(
        melody, period=2.0 * beats, beat=np.arange(count) / 2, row=row, pitch=pitch, strike=flat + 0.9, swung=flat,
        again=flat, scatter=flat, late=flat, opening=flat > 0, first=flat > 0, top=flat > 0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("differ", "heard", "alike"), [(0, 8.0, True), (1, 8.0, False), (1, 0.3, True), (1, 0.5, False)]
)
def test_places_are_alike_where_hardly_one_in_ten_of_the_last_strokes_differs(
    melody: Places, differ: int, heard: float, alike: bool
) -> None:
    """Of eighteen strokes two differ: the one that was and the one that is there instead. Of a player who began again
    less than half a beat ago the last one doesn't count."""
    places = alike_places(melody, differ)
    assert places.alike(0.0, 16.0, heard) == alike


def test_of_one_stroke_places_are_alike_only_for_who_has_just_begun_again(melody: Places) -> None:
    silent = replace(
        melody, beat=np.array([0.0, 20.0]), row=np.array([0, 0]), strike=np.array([0.9, 0.9]),
        **{name: getattr(melody, name)[:2] for name in
           ("swung", "again", "scatter", "late", "opening", "first", "top")},
    )  # fmt: skip
    assert not silent.alike(40.0, 50.0) and not silent.alike(40.0, 50.0, 3.0)
    assert not silent.alike(1.0, 21.0) and not silent.alike(1.0, 21.0, 8.0), "one stroke tells too little"
    assert silent.alike(1.0, 21.0, 7.9), "but of who has just begun again"
    assert not silent.alike(1.0, 22.0, 7.9) and not silent.alike(1.0, 40.0, 7.9)
    assert silent.alike(7.75, 27.75, 7.9) and not silent.alike(8.25, 28.25, 7.9), "eight beats back at most"
    assert silent.alike(2.0, 22.0, 2.0) and not silent.alike(2.25, 22.25, 2.0), "and no further than was heard"


def test_a_stroke_that_is_certain_costs_no_more_than_one_in_a_thousand_to_pass(melody: Places) -> None:
    places = replace(melody, strike=np.ones(melody.count), rest=1e-9)
    assert passing(places, 0, 2) == pytest.approx(2 * math.log(0.001))


def test_who_plays_otherwise_than_as_said_here_is_a_melody_player(melody: Places) -> None:
    """Where nothing is said: a leap as a melody's, silence as of something missed, cells of a quarter."""
    made = Places(**{name: getattr(melody, name) for name in (
        "period", "beat", "swung", "strike", "again", "scatter", "row", "pitch", "other", "others", "late", "opening",
        "bar", "pulse", "first", "top",
    )})  # fmt: skip
    assert (made.cell, made.leap, made.rest, made.resume, made.rhythm) == (1.0, 1.0, 0.004, 1.0, None)


def test_notes_of_no_place_move_with_the_bars(melody: Places) -> None:
    other = np.arange(64.0)[:, None] * np.ones(128)
    assert list(replace(melody, other=other).moved(4.0).other[:6, 0]) == [60, 61, 62, 63, 0, 1]
    coarse = replace(melody, other=other[::2], cell=2.0)
    assert list(coarse.moved(4.0).other[:3, 0]) == [60, 62, 0]


@pytest.mark.parametrize(("back", "counts"), [(1.18, True), (1.22, False), (1.0, True), (1.3, False)])
def test_a_stroke_counts_that_lies_a_fifth_of_a_beat_beyond_what_was_heard(
    melody: Places, back: float, counts: bool
) -> None:
    """A place is taken a tenth of a beat later than it is, so that it is in what comes before it."""
    names = ("swung", "again", "scatter", "late", "opening", "first", "top", "row", "strike")
    here = replace(melody, beat=np.array([2.1 - back, 20.0]), **{name: getattr(melody, name)[:2] for name in names})
    assert (len(here._before(2.0, 1.0)) == 1) == counts
