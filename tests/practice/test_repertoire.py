"""How tunes and passages stand: what holds comes back less and less often, what failed comes back soon."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from companion.practice.records import RoundRecord, TakeRecord
from companion.practice.repertoire import PassageStanding, practice_day, standings
from companion.preferences import preferences
from companion.preferences.repertoire import RepertoirePreferences
from tests.practice.days import Bars, PlayerOfDays, a_round, a_take, evening

RULES = preferences(RepertoirePreferences)
FIRST = date(2026, 3, 2)


def day(number: int, hour: int = 19) -> datetime:
    """An evening, so many days after the first."""
    return evening(FIRST + timedelta(days=number), hour)


def passage(rounds: Iterable[RoundRecord], takes: Iterable[TakeRecord] = (), bars: Bars = (9, 12)) -> PassageStanding:
    """How one passage of the only tune stands."""
    (tune,) = standings(rounds, takes, day(90), RULES)
    return next(one for one in tune.passages if (one.first, one.last) == bars)


def held(*days: int, tempo: float = 120.0) -> list[RoundRecord]:
    """A good round up to tempo on each of some days."""
    return [a_round(day(number), (9, 12), tempo, True) for number in days]


def bad(number: int, tempo: float = 112.0) -> RoundRecord:
    return a_round(day(number), (9, 12), tempo, False, why="bar 11: F♯ missed")


# When a passage comes back


def test_what_has_just_begun_to_hold_comes_back_the_next_day() -> None:
    assert passage(held(0)).due == FIRST + timedelta(days=1)


def test_each_time_that_it_holds_it_stays_away_longer() -> None:
    waits = [passage(held(*days)).wait for days in ([0], [0, 1], [0, 1, 3], [0, 1, 3, 7], [0, 1, 3, 7, 15])]
    assert waits == [1, 2, 4, 8, 16]


def test_the_same_every_day_does_not_put_it_off() -> None:
    """Ten evenings in a row show less than one after a fortnight."""
    assert passage(held(*range(10))).wait == 2
    assert passage(held(0, 14)).wait == 28


def test_what_held_after_a_long_absence_may_stay_away_as_long_again_but_not_for_ever() -> None:
    assert passage(held(0, 50)).wait == 60
    assert passage(held(0, 200)).wait == 60


def test_what_failed_comes_back_the_next_day_and_then_sooner_than_before() -> None:
    before = held(0, 1, 3, 7, 15)
    failed = passage([*before, bad(31)])
    assert failed.failed and not failed.holds
    assert failed.due == day(32).date()
    assert failed.why == "bar 11: F♯ missed"
    mended = passage([*before, bad(31), *held(32)])
    assert mended.holds
    assert 1 < mended.wait < 16


def test_a_slip_on_the_way_to_a_good_round_is_no_failure() -> None:
    assert passage([*held(0), bad(1), *held(1)]).holds


def test_good_but_slow_rounds_on_purpose_are_no_failure_and_no_success() -> None:
    before = passage(held(0, 1, 3))
    slowly = passage([*held(0, 1, 3), *held(5, tempo=60)])
    assert slowly.holds and slowly.reached == 120
    assert slowly.wait == before.wait and slowly.played == day(5).date()


def test_a_passage_below_its_tempo_stays_in_work_however_well_it_goes() -> None:
    slow = passage(held(0, 1, 3, 7, 15, tempo=70))
    assert not slow.holds and not slow.failed
    assert slow.wait <= RULES.again.working


def test_an_evening_that_lasts_past_midnight_is_one_day() -> None:
    late = [a_round(day(0, 23), (9, 12), 120, True), a_round(day(1, 2), (9, 12), 120, True)]
    assert passage(late).days == 1
    zone = day(0).tzinfo
    assert practice_day(day(1, 3), zone, 4) == FIRST
    assert practice_day(day(1, 4), zone, 4) == FIRST + timedelta(days=1)


# When it is learnt


def test_a_passage_is_learnt_at_a_tempo_after_good_rounds_on_three_days() -> None:
    assert passage(held(0, 1)).learnt is None
    assert passage([*held(0), *held(0), *held(0)]).learnt is None, "three rounds on one day are one day"
    assert passage(held(0, 1, 2)).learnt == 120
    mixed = [*held(0, tempo=100), *held(1, tempo=120), *held(2, tempo=110), *held(3, tempo=96)]
    assert passage(mixed).learnt == 100


# What counts for what


def test_a_good_round_over_more_bars_counts_for_those_within_and_a_bad_one_does_not() -> None:
    inner = held(0)
    good = a_round(day(1), (9, 16), 120, True)
    assert passage([*inner, good]).wait == 2
    assert passage([*inner, replace(good, good=False, why="bar 15: stopped")]).holds


def test_other_hands_are_another_passage() -> None:
    (tune,) = standings([*held(0), a_round(day(1), (9, 12), 80, False, you=("bass",))], [], day(2), RULES)
    assert [one.holds for one in sorted(tune.passages, key=lambda one: one.you)] == [False, True]


def test_rounds_in_other_keys_and_from_any_bar_neither_hold_nor_fail() -> None:
    around = [
        a_round(day(1), (9, 12), 60, False, own_key=False),
        a_round(day(1), (11, 12), 60, False, kind="anywhere"),
    ]
    (tune,) = standings([*held(0), *around], [], day(2), RULES)
    assert len(tune.passages) == 1 and tune.passages[0].holds
    assert tune.played == around[0].at and tune.rounds == 3


def test_a_tune_played_through_without_a_stop_holds_and_with_stops_does_not() -> None:
    whole = passage([], [a_take(day(0))], (1, 32))
    assert whole.holds and whole.whole and whole.learnt is None
    assert passage([], [a_take(day(0)), a_take(day(1), stops=3)], (1, 32)).why == "you stopped 3 times"


def test_a_take_that_is_broken_off_or_waited_for_says_only_when_the_tune_was_played() -> None:
    takes = [a_take(day(0), choruses=0), a_take(day(1), time="patient", stops=40), a_take(day(2), tempo=None)]
    (tune,) = standings([], takes, day(3), RULES)
    assert tune.passages == () and tune.played == day(2) and tune.takes == 3


def test_bars_stand_where_their_best_good_round_was() -> None:
    rounds = [*held(0, tempo=90), a_round(day(1), (11, 16), 100, True), a_round(day(1), (1, 32), 130, False)]
    (tune,) = standings(rounds, [], day(2), RULES)
    assert dict(tune.by_bar) == {9: 90, 10: 90, 11: 100, 12: 100, 13: 100, 14: 100, 15: 100, 16: 100}


def test_a_clock_that_was_wrong_stops_nothing() -> None:
    assert passage(held(500, 3, 0)).holds
    assert passage([*held(0), *held(0)]).holds


# Sixty days


def sixty_days(player: PlayerOfDays, often: float) -> Counter[Bars]:
    """Practise what is due for sixty days; on how many of the last thirty each passage came."""
    came: Counter[Bars] = Counter()
    for number in range(60):
        now = day(number)
        if not player.comes(often):
            continue
        tunes = standings(player.rounds, [], now, RULES)
        known = {(one.first, one.last): one for tune in tunes for one in tune.passages}
        today = [bars for bars, one in known.items() if one.due <= now.date()]
        today += [bars for bars in player.memory if bars not in known][:1]
        for n, bars in enumerate(today):
            player.drills(bars, now + timedelta(minutes=6 * n))
            came[bars] += number >= 30
    return came


@pytest.mark.parametrize("often", [0.4, 0.75, 1.0])
@pytest.mark.parametrize("seed", range(5))
def test_over_sixty_days_what_holds_comes_back_less_often_and_what_is_hard_more(seed: int, often: float) -> None:
    easy, middling, hard = (1, 4), (5, 8), (9, 12)
    player = PlayerOfDays({easy: 0.05, middling: 0.3, hard: 0.85}, seed=seed)
    came = sixty_days(player, often)
    assert 2 * came[easy] <= came[hard]
    assert came[easy] <= came[middling] + 1 <= came[hard] + 2
    (tune,) = standings(player.rounds, [], day(60), RULES)
    stand = next(one for one in tune.passages if (one.first, one.last) == easy)
    assert stand.holds and stand.wait >= 14
    assert stand.learnt == pytest.approx(player.tune_tempo, rel=0.1)


def test_the_same_seed_gives_the_same_sixty_days() -> None:
    runs = [sixty_days(PlayerOfDays({(1, 4): 0.2, (5, 8): 0.6}, seed=3), 0.75) for _ in range(2)]
    assert runs[0] == runs[1]
