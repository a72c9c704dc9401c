"""When a slip is said to recur: the same place, in takes enough, and more than chance would show."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from companion.load import load
from companion.practice.findings import Finding, Recurrence
from companion.practice.records import BarRecord, SlipRecord, TakeRecord
from companion.practice.recurring import RecurringSlip, recurring_slips, recurs_words, slips_of, trend, with_recurrences
from companion.preferences import preferences
from companion.preferences.review import RecurringRules, ReviewPreferences
from companion.resources import chart_path
from tests.practice.days import a_take, evening

RULES: RecurringRules = preferences(ReviewPreferences).recurring
BARS, NOTES = 16, 4
"""Of a tune, and in each of its bars."""


def takes(many: int) -> list[TakeRecord]:
    return [a_take(evening(date(2026, 11, 1) + timedelta(days=n)), folder=f"take-{n}") for n in range(many)]


def went_over(folders: list[str], choruses: int = 1) -> list[BarRecord]:
    return [
        BarRecord(folder, bar, chorus, NOTES, 0, 0, 0, 120.0, 0.0, 8.0)
        for folder in folders
        for chorus in range(1, choruses + 1)
        for bar in range(1, BARS + 1)
    ]


def missed(take: int, beat: float = 25.0, *, what: str = "missed-note", chorus: int = 1, degree: int = 4) -> SlipRecord:
    bar = int(beat // 4) + 1
    return SlipRecord(f"take-{take}", bar, bar, chorus, what, beat, degree, f"bar {bar}: A missed")


def hesitated(take: int, bar: int, last: int | None = None) -> SlipRecord:
    return SlipRecord(f"take-{take}", bar, last or bar, 1, "hesitated", None, None, f"bar {bar}: hesitated for 0.9 s")


def found(slips: list[SlipRecord], many: int = 4, now: int | None = None, choruses: int = 1) -> list[RecurringSlip]:
    played = takes(many)
    bars = went_over([take.folder for take in played], choruses)
    return recurring_slips(played, bars, slips, RULES, now=None if now is None else f"take-{now}")


def test_a_note_left_out_in_two_takes_before_and_again_recurs() -> None:
    (slip,) = found([missed(0), missed(2), missed(3)], now=3)
    assert (slip.bar, slip.times, slip.takes, slip.words) == (7, 3, 4, "bar 7: A missed")


def test_once_before_may_have_been_chance() -> None:
    assert not found([missed(1), missed(3)], now=3)


def test_a_note_now_left_out_now_played_wrong_is_one_slip_and_said_so() -> None:
    (slip,) = found([missed(0), missed(1, what="wrong-note"), missed(3)], now=3)
    assert not slip.same and slip.times == 3
    assert recurs_words(Recurrence(3, 4, slip.same)) == "not right for the third time in four takes"


def test_another_note_of_the_same_bar_is_another_place() -> None:
    assert not found([missed(0, 24.0), missed(1, 25.0), missed(2, 26.0)])


def test_holding_back_before_one_bar_is_found_where_two_stretches_meet() -> None:
    slips = [hesitated(0, 5), hesitated(1, 4, 5), hesitated(2, 5)]
    (slip,) = found(slips, 3)
    assert (slip.bar, slip.times) == (5, 3)


def test_bars_that_are_dragged_together_each_time_are_one_slip() -> None:
    (slip,) = found([hesitated(n, 5, 8) for n in range(3)], 3)
    assert (slip.bar, slip.last, slip.words) == (5, 8, "bars 5 to 8: hesitated for 0.9 s")


def test_takes_that_left_the_bar_out_dont_count_against_it() -> None:
    played = takes(4)
    bars = [one for one in went_over([t.folder for t in played]) if (one.take, one.bar) != ("take-1", 7)]
    (slip,) = recurring_slips(played, bars, [missed(0), missed(2), missed(3)], RULES)
    assert slip.made == (True, True, True)


def test_what_lies_farther_back_than_the_takes_looked_at_is_forgotten() -> None:
    assert not found([missed(0), missed(1), missed(2)], 3 + RULES.takes)


def test_whoever_slips_everywhere_has_no_place_where_it_recurs() -> None:
    """A fifth of all notes left out at random, in four takes: many places have two, and that says nothing."""
    chance = random.Random(3)
    slips = [missed(n, float(b)) for n in range(4) for b in range(4 * BARS) if chance.random() < 0.2]
    assert len({slip.beat for slip in slips}) < len(slips) - 8
    assert not found(slips)


@pytest.mark.parametrize("rate", [0.01, 0.03, 0.08])
def test_slips_at_random_are_seldom_said_to_recur(rate: float) -> None:
    """Over 60 tunes of four takes, each two times through, no more than the share that the preferences allow."""
    chance = random.Random(round(1000 * rate))
    told = 0
    for _ in range(60):
        slips = [
            missed(n, float(b), chorus=chorus)
            for n in range(4)
            for chorus in (1, 2)
            for b in range(4 * BARS)
            if chance.random() < rate
        ]
        told += len(found(slips, choruses=2))
    assert told <= 2 * 60 * RULES.by_chance


def test_a_slip_that_is_gone_from_the_last_takes_gets_rarer() -> None:
    (slip,) = found([missed(0), missed(1), missed(2)], 6)
    assert trend(slip.made) == "getting rarer" and slip.lately == 0
    (slip,) = found([missed(3), missed(4), missed(5)], 6)
    assert trend(slip.made) == "more often of late" and slip.lately == 1


def test_a_tune_in_another_key_has_its_slips_at_the_same_places() -> None:
    form = load(chart_path("ferry-without-lights")).unfold()
    fourth_up = replace(form, fifths=form.fifths - 1)
    here = Finding(7, 1, "missed-note", 1.0, "bar 7: A missed", beat=25.0, midi=69)
    there = replace(here, midi=74)
    (one,), (other,) = slips_of("a", form, [here]), slips_of("b", fourth_up, [there])
    assert one.degree == other.degree


def test_a_finding_has_how_often_it_was_there_and_one_at_a_new_place_has_not() -> None:
    form = load(chart_path("ferry-without-lights")).unfold()
    degree = (69 - 7 * form.fifths) % 12
    recurring = found([missed(n, degree=degree) for n in range(4)])
    again = Finding(7, 1, "missed-note", 1.0, "bar 7: A missed", beat=25.0, midi=69)
    new = replace(again, bar=8, beat=29.0)
    marked = with_recurrences([again, new], list(slips_of("take-3", form, [again, new])), recurring)
    assert [one.recurs for one in marked] == [Recurrence(4, 4), None]
