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


@pytest.mark.parametrize(
    ("step", "notes", "omitted"), [(-1, 20, 1), (0, 20, 1), (1, 21, 1), (2, 22, 2), (3, 23, 3), (4, 20, 1)]
)
def test_of_a_few_places_passed_over_each_is_a_note_left_out(
    lead: Lead, step: int, notes: float, omitted: float
) -> None:
    """Weighed against one note in twenty; to go on to the next place leaves none out, to go on by four is a leap."""
    course = Course(1.0, 4.0)
    course.count_omissions(lead, replace(lead, heard=lead.heard + step))
    assert course.omits == pytest.approx(omitted / notes)


def test_notes_of_another_part_are_no_notes_left_out(lead: Lead, stand: Any) -> None:
    course = Course(1.0, 4.0)
    other = Readings.of(places_for(stand.tune().unfold(), frozenset({"bass"}))).each[0]
    course.count_omissions(lead, replace(lead, heard=lead.heard + 2, reading=other))
    assert course.omits == 1 / 20


@pytest.mark.parametrize(
    ("pulse", "elsewhere", "gone"),
    [(1.0, 1.5, False), (1.0, 1.7, True), (1.0, -1.7, True), (1.5, 2.3, False), (1.5, 2.5, True)],
)
def test_to_be_more_than_a_beat_and_a_half_off_is_to_have_gone_elsewhere(
    lead: Lead, pulse: float, elsewhere: float, gone: bool
) -> None:
    """In beats of the metre, which are dotted quarters in 6/8; early or late alike."""
    course, habits, before = Course(pulse, 4.0), Habits(), lead
    for beats, by in ((1.0, elsewhere), (1.0, 0.0), (1.0, 0.0), (1.0, 0.0), (1.0, 0.0)):
        now = on(before, beats, by)
        habits, before = course.gone(habits, before, now), now
    assert habits.returns == (((17.0, pytest.approx(elsewhere)),) if gone else ())


@pytest.mark.parametrize(
    ("notes", "mass", "settled"), [(3, 1.0, False), (4, 1.0, True), (4, 0.15, False), (4, 0.16, True)]
)
def test_four_likely_notes_at_a_new_place_settle_it(lead: Lead, notes: int, mass: float, settled: bool) -> None:
    course, habits, before = Course(1.0, 4.0), Habits(), lead
    for by in (16.0, *[0.0] * notes):
        now = on(before, 1.0, by, mass)
        habits, before = course.gone(habits, before, now), now
    assert (habits.returns != ()) == settled


def test_a_way_in_two_leaps_is_one_way_from_where_the_player_left(lead: Lead) -> None:
    course, habits, before = Course(1.0, 4.0), Habits(), lead
    for by in (8.0, 0.0, 8.0, *[0.0] * 4):
        now = on(before, 1.0, by)
        habits, before = course.gone(habits, before, now), now
    assert habits.returns == ((17.0, pytest.approx(16.0)),)


def test_of_a_player_who_never_stopped_nothing_is_anew(lead: Lead) -> None:
    course = Course(1.0, 4.0)
    assert not course.anew(0.0, lead) and course.heard_since(0.0, lead) == float("inf")
    assert course.came_from(lead, anew=False) == lead.reading.place_at(lead.heard)
