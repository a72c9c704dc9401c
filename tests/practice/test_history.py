"""How it went with a tune: what a section has reached, what is learnt, which bars are clean and which are weak."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest

from companion.chart.model import Chart
from companion.practice.history import TuneHistory, monday, tune_history, weak_bars
from companion.practice.records import BarRecord, RoundRecord, TakeRecord
from companion.preferences import preferences
from companion.preferences.repertoire import RepertoirePreferences
from tests.practice.days import MELODY, a_bar, a_round, a_take, evening

DAY = date(2026, 11, 2)
"""A Monday."""
RULES = preferences(RepertoirePreferences)


def day(number: int) -> date:
    return DAY + timedelta(days=number)


def history(
    chart: Chart | None,
    rounds: Sequence[RoundRecord] = (),
    takes: Sequence[TakeRecord] = (),
    bars: Iterable[BarRecord] = (),
) -> TuneHistory:
    form = chart.unfold() if chart else None
    return tune_history(rounds, takes, list(bars), form, evening(day(30)), RULES)


def test_a_section_has_reached_the_tempo_of_its_slowest_bar(ferry: Chart) -> None:
    rounds = [a_round(evening(day(0)), (1, 4), 100, True), a_round(evening(day(1)), (5, 8), 80, True)]
    (section,) = history(ferry, rounds).sections
    assert (section.name, section.first, section.last, section.you) == ("A1", 1, 8, MELODY)
    assert (section.reached, section.covered) == (80, 8)


def test_a_section_with_a_bar_that_was_never_good_has_reached_nothing_yet(ferry: Chart) -> None:
    rounds = [a_round(evening(day(0)), (1, 4), 100, True), a_round(evening(day(0)), (5, 8), 80, False)]
    (section,) = history(ferry, rounds).sections
    assert (section.reached, section.covered, section.good, section.rounds) == (None, 4, 1, 2)


def test_each_hand_has_its_own_progress(ferry: Chart) -> None:
    rounds = [
        a_round(evening(day(0)), (1, 8), 100, True),
        a_round(evening(day(1)), (1, 8), 60, True, you=("bass",)),
    ]
    assert [(one.you, one.reached) for one in history(ferry, rounds).sections] == [(MELODY, 100), (("bass",), 60)]


def test_a_section_is_learnt_when_all_its_bars_lie_in_passages_that_are(ferry: Chart) -> None:
    halves = [((1, 4), 96), ((5, 8), 88)]
    rounds = [a_round(evening(day(n)), bars, tempo, True) for n in range(3) for bars, tempo in halves]
    assert history(ferry, rounds[:5]).sections[0].learnt is None, "the second half was good on two days"
    assert history(ferry, rounds).sections[0].learnt == 88


def test_rounds_in_other_keys_and_from_any_bar_tell_nothing_of_a_section(ferry: Chart) -> None:
    at = evening(day(0))
    rounds = [a_round(at, (1, 8), 100, True, own_key=False), a_round(at, (3, 3), 100, True, kind="anywhere")]
    found = history(ferry, rounds)
    assert found.sections == () and found.rounds == ()
    assert found.days == (day(0),), "but they were practice"


def test_without_its_chart_a_tune_still_has_weeks(ferry: Chart) -> None:
    found = history(None, [a_round(evening(day(0)), (1, 8), 100, True)])
    assert found.sections == () and [week.good for week in found.weeks] == [1]


def test_rounds_are_told_by_tempo() -> None:
    rounds = [a_round(evening(day(0)), (1, 4), tempo, good) for tempo, good in ((61, True), (79, False), (80, True))]
    assert [(b.low, b.high, b.good, b.rounds) for b in history(None, rounds).bands] == [(60, 79, 1, 2), (80, 99, 1, 1)]


def test_the_weakest_bars_of_each_week_come_first(ferry: Chart) -> None:
    first, later = (a_take(evening(day(n)), folder=f"take-{n}") for n in (1, 8))
    bars = [
        a_bar(first, 1),
        a_bar(first, 2, 1),
        a_bar(first, 3, 3),
        a_bar(first, 3, 1, chorus=2),
        a_bar(later, 1),
        a_bar(later, 2),
    ]
    found = history(ferry, takes=[first, later], bars=bars)
    assert [(week.monday, week.clean, week.played) for week in found.weeks] == [(day(0), 1, 4), (day(7), 2, 2)]
    assert [(one.bar, one.faults, one.times) for one in found.weeks[0].weak] == [(3, 2.0, 2), (2, 1.0, 1)]
    assert found.weeks[1].weak == ()
    assert [week.clean_bars for week in found.weeks] == [(1,), (1, 2)]
    assert found.weeks[0].tempi == (120.0,)
    assert [(one.clean, one.played) for one in found.takes] == [(1, 4), (2, 2)]


def test_a_clean_time_through_a_section_counts_as_reached_and_one_with_a_fault_does_not(ferry: Chart) -> None:
    take = a_take(evening(day(1)), folder="take")
    bars = [a_bar(take, n) for n in range(1, 9)] + [a_bar(take, n, int(n == 12)) for n in range(9, 17)]
    first, second = history(ferry, takes=[take], bars=bars).sections
    assert (first.name, first.reached, first.rounds) == ("A1", 100, 0)
    assert [one.clean for one in first.passes + second.passes] == [True, False]
    assert second.reached is None
    slower = [a_round(evening(day(0)), (1, 8), 90, True)]
    assert history(ferry, slower, [take], bars).sections[0].reached == 100
    assert history(ferry, slower, [take], bars).sections[0].learnt is None, "what is learnt, rounds tell"


def test_who_leaves_a_bar_out_has_not_gone_through_the_section(ferry: Chart) -> None:
    whole, short = (a_take(evening(day(n)), folder=f"take-{n}") for n in (1, 2))
    bars = [a_bar(whole, n) for n in range(1, 9)] + [a_bar(short, n) for n in range(1, 8)]
    (section,) = history(ferry, takes=[whole, short], bars=bars).sections
    assert [one.at for one in section.passes] == [whole.started]


def test_a_bar_in_which_nothing_is_to_be_played_is_not_missed(ferry: Chart) -> None:
    take = a_take(evening(day(1)), folder="take")
    (section,) = history(ferry, takes=[take], bars=[a_bar(take, n) for n in range(1, 8)]).sections
    assert section.reached == 100


def test_a_take_that_nobody_judged_is_no_clean_take(ferry: Chart) -> None:
    found = history(ferry, takes=[a_take(evening(day(1)))])
    assert found.takes == () and found.standing.takes == 1


def test_past_midnight_it_is_still_the_week_before() -> None:
    """The day of practice begins at four."""
    late = replace(a_round(evening(day(0)), (1, 4), 90, True), at=evening(day(7), hour=2))
    assert [week.monday for week in history(None, [late]).weeks] == [day(0)]


def test_a_week_begins_on_monday() -> None:
    assert {monday(day(n)) for n in range(7)} == {DAY} and monday(day(7)) == day(7)


def test_a_clean_bar_is_not_weak() -> None:
    take = a_take(evening(day(0)))
    assert weak_bars([a_bar(take, 1), a_bar(take, 1)]) == []


@pytest.mark.parametrize(
    ("bars", "touches"), [((1, 1), True), ((8, 9), True), ((9, 16), False), ((1, 32), True), ((4, 5), True)]
)
def test_a_round_touches_a_section_with_one_bar_in_common(ferry: Chart, bars: tuple[int, int], touches: bool) -> None:
    rounds = [a_round(evening(day(0)), (1, 8), 100, True), a_round(evening(day(1)), bars, 90, False)]
    found = history(ferry, rounds).sections[0]
    assert found.touches(rounds[1]) == touches and found.rounds == 1 + touches
    later = replace(found, first=9, last=16)
    assert later.touches(rounds[1]) == (bars[1] >= 9)


def test_a_section_is_learnt_at_the_tempo_of_its_slowest_bar_and_only_when_every_bar_is(ferry: Chart) -> None:
    first = [a_round(evening(day(n)), (1, 4), 100, True) for n in range(3)]
    second = [a_round(evening(day(n)), (5, 8), 90, True) for n in range(3)]
    assert history(ferry, first).sections[0].learnt is None
    assert history(ferry, [*first, *second]).sections[0].learnt == 90
    other = [replace(one, you=("bass",)) for one in second]
    assert history(ferry, [*first, *other]).sections[0].learnt is None, "each hand learns for itself"


@pytest.mark.parametrize(("tempo", "band"), [(79.9, (60, 79)), (80, (80, 99)), (99.9, (80, 99)), (100, (100, 119))])
def test_rounds_are_told_by_bands_of_twenty(ferry: Chart, tempo: float, band: tuple[int, int]) -> None:
    found = history(ferry, [a_round(evening(day(0)), (1, 4), tempo, good) for good in (True, True, False)]).bands
    assert [(one.low, one.high, one.rounds, one.good) for one in found] == [(*band, 3, 2)]
