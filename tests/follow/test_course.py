"""What is remembered of the way that a player took: returns, stops, notes left out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from companion.follow.course import Course
from companion.follow.habits import Habits
from companion.follow.lead import Lead
from companion.follow.readings import Readings
from companion.follow.roles import places_for

SPEED = 2.0
"""Quarters a second."""


@pytest.fixture
def lead(stand: Any) -> Lead:
    reading = Readings.of(places_for(stand.tune().unfold(), frozenset({"melody"}))).each[0]
    return Lead(10.0, 16.0, SPEED, 1.0, 0.01, 0.01, 0.0, 0.0, reading.next_place(13.0), reading)


def on(lead: Lead, beats: float, elsewhere: float = 0.0, mass: float = 1.0) -> Lead:
    """The lead some beats later, having gone elsewhere by so many."""
    return replace(lead, seconds=lead.seconds + beats / SPEED, beat=lead.beat + beats + elsewhere, mass=mass)


def test_a_leap_is_remembered_from_the_beat_where_the_player_left_not_from_their_last_note(lead: Lead) -> None:
    """The melody held a note for three beats before they went back four bars."""
    course, habits = Course(1.0, 4.0), Habits()
    before = lead
    for beats, elsewhere in ((4.0, -16.0), (1.0, 0.0), (1.0, 0.0), (1.0, 0.0), (1.0, 0.0)):
        assert habits.returns == (), "until they have been there for four notes"
        now = on(before, beats, elsewhere)
        habits, before = course.gone(habits, before, now), now
    [(left, by)] = habits.returns
    assert left == pytest.approx(20.0) and by == pytest.approx(-16.0)


def test_a_place_where_nobody_stays_is_no_return(lead: Lead) -> None:
    course, habits = Course(1.0, 4.0), Habits()
    there = on(lead, 1.0, 8.0)
    back = on(there, 1.0, -8.0)
    for before, now in ((lead, there), (there, back), *((on(back, n), on(back, n + 1.0)) for n in range(5))):
        habits = course.gone(habits, before, now)
    assert habits.returns == ()


def test_while_a_new_place_isnt_settled_the_player_came_from_where_they_left(lead: Lead) -> None:
    course = Course(1.0, 4.0)
    there = on(lead, 1.0, 40.0)
    course.gone(Habits(), lead, there)
    assert course.came_from(there, anew=False) == pytest.approx(17.0)


def test_after_a_stop_the_player_came_from_where_they_stopped_for_two_bars(lead: Lead) -> None:
    course = Course(1.0, 4.0)
    course.resume(12.0, lead)
    assert course.anew(12.0 + 7.9 / SPEED, lead) and not course.anew(12.0 + 8.1 / SPEED, lead)
    assert course.came_from(lead, anew=True) == lead.reading.place_at(lead.heard)
    assert course.heard_since(15.0, lead) == pytest.approx(5.0), "a beat less: where they began is known no better"


@pytest.mark.parametrize(("on_from_there", "is_return"), [(-13.0, True), (0.0, False), (7.9, False), (8.1, True)])
def test_beginning_again_elsewhere_than_within_two_bars_from_the_stop_is_a_return(
    lead: Lead, on_from_there: float, is_return: bool
) -> None:
    """They stop, rest for three seconds, and go on; two seconds later it is clear where."""
    course, habits = Course(1.0, 4.0), Habits()
    stopped = lead.reading.place_at(lead.heard)
    again = replace(lead, seconds=13.0, beat=stopped + on_from_there)
    course.resume(13.0, lead)
    before = lead
    for now in (again, *(on(again, beats) for beats in (1.0, 2.0, 3.0, 4.0))):
        habits, before = course.gone(habits, before, now), now
    assert habits.returns == (((stopped, pytest.approx(on_from_there)),) if is_return else ())


def test_who_leaves_notes_out_is_expected_to_again_and_a_leap_leaves_none_out(lead: Lead) -> None:
    course = Course(1.0, 4.0)
    usual = course.omits
    assert usual == pytest.approx(0.05), "of an unknown player, one note in twenty"
    for leap in (-2, 0, 4, 40):
        course.count_omissions(lead, replace(lead, heard=lead.heard + leap))
    assert course.omits == usual
    for _ in range(5):
        course.count_omissions(lead, replace(lead, heard=lead.heard + 2))
    assert course.omits > 2 * usual
