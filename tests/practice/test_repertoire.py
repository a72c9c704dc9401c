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


@pytest.mark.parametrize("fails", [1, 2, 5])
def test_however_often_it_failed_a_quarter_of_the_wait_is_left_when_it_holds_again(fails: int) -> None:
    """It had come to stay away for 16 days."""
    failed = [bad(31 + n) for n in range(fails)]
    assert passage([*held(0, 1, 3, 7, 15), *failed]).wait == 1
    assert passage([*held(0, 1, 3, 7, 15), *failed, *held(31 + fails)]).wait == 4


def test_days_away_count_only_once_it_has_held() -> None:
    assert passage([bad(0), *held(14)]).wait == 1
    assert passage([bad(0), *held(14, 17)]).wait == 6


@pytest.mark.parametrize(
    ("tempo", "wait", "reached"),
    [(91.9, 1, 100), (92, 6, 100), (100, 6, 100), (104, 6, 104)],
)
def test_a_good_round_counts_as_held_from_about_the_tempo_reached(tempo: float, wait: float, reached: float) -> None:
    """From 92 in a hundred of it; slower, and three days later, it says nothing."""
    rounds = [a_round(day(n), (9, 12), at, True, tune_tempo=100.0) for n, at in ((0, 100), (3, tempo))]
    found = passage(rounds)
    assert (found.wait, found.reached, found.holds) == (wait, reached, True)


@pytest.mark.parametrize(
    ("tempo", "tunes", "up", "wait"),
    [(107.9, 120.0, False, 2), (108, 120.0, True, 20), (40, None, True, 20), (130, 120.0, True, 20)],
)
def test_a_passage_is_up_to_tempo_from_nine_tenths_of_the_tunes(
    tempo: float, tunes: float | None, up: bool, wait: float
) -> None:
    rounds = [a_round(day(n), (9, 12), tempo, True, tune_tempo=tunes) for n in (0, 10)]
    found = passage(rounds)
    assert (found.up_to_tempo, found.holds, found.wait) == (up, up, wait)


def test_of_a_day_the_fastest_good_round_counts() -> None:
    found = passage([*held(0, tempo=100), *held(0, tempo=120), *held(0, tempo=110)])
    assert found.reached == 120
    assert passage([*held(0, tempo=100), *held(0, tempo=120), *held(1, 2, tempo=120)]).learnt == 120


@pytest.mark.parametrize(
    ("wait", "days", "share"), [(4.0, 0, 0.0), (4.0, 2, 0.5), (4.0, -2, -0.5), (1.0, 3, 3.0), (0.5, 3, 3.0)]
)
def test_how_far_it_is_overdue_is_told_in_its_own_waits(wait: float, days: int, share: float) -> None:
    """Of waits below a day, in days."""
    one = replace(passage(held(0)), wait=wait)
    assert one.overdue(one.due + timedelta(days=days)) == share


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


@pytest.mark.parametrize(
    ("bars", "counts"),
    [((9, 12), True), ((5, 12), True), ((9, 16), True), ((1, 32), True), ((10, 16), False), ((5, 11), False)],
)
def test_only_a_round_over_all_of_its_bars_counts_for_a_passage(bars: Bars, counts: bool) -> None:
    found = passage([*held(0), a_round(day(2), bars, 120, True)])
    assert (found.days, found.wait) == ((2, 4) if counts else (1, 1))


def test_going_through_the_whole_tune_counts_for_no_passage_of_it() -> None:
    assert passage(held(0), [a_take(day(2))]).days == 1


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


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({}, True),
        ({"choruses": 1}, True),
        ({"choruses": 0}, False),
        ({"bars": 0}, False),  # its chart can't be read any more
        ({"bars": 1}, True),
        ({"tempo": None}, False),
        ({"time": "patient"}, False),
        ({"time": "steady"}, True),
    ],
)
def test_a_take_says_something_of_the_tune_where_it_was_gone_through_in_time(
    change: dict[str, object], says: bool
) -> None:
    (tune,) = standings([], [replace(a_take(day(0)), **change)], day(2), RULES)  # type: ignore[arg-type]
    assert bool(tune.passages) == says and (tune.through == 120.0) == says


@pytest.mark.parametrize(("stops", "why"), [(1, "once"), (2, "twice"), (3, "3 times")])
def test_how_often_one_stopped_is_said(stops: int, why: str) -> None:
    found = passage([], [a_take(day(0), stops=stops)], (1, 32))
    assert (found.failed, found.why, found.reached) == (True, f"you stopped {why}", None)


def test_a_tune_stands_at_its_fastest_time_through_without_a_stop() -> None:
    takes = [a_take(day(n), tempo=tempo, stops=stops) for n, tempo, stops in ((0, 90, 0), (1, 100, 0), (2, 130, 1))]
    (tune,) = standings([], takes, day(2), RULES)
    assert tune.through == 100
    assert standings([], takes[2:], day(2), RULES)[0].through is None


def test_a_tunes_own_tempo_is_the_last_that_was_told() -> None:
    tempi = [110.0, 120.0, 132.0, None]
    rounds = [a_round(day(n), (9, 12), 100, True, tune_tempo=tempo) for n, tempo in enumerate(tempi)]
    assert standings(rounds, [], day(4), RULES)[0].tempo == 132
    assert standings(rounds[3:], [], day(4), RULES)[0].tempo is None
    assert standings(rounds, [replace(a_take(day(5)), tune_tempo=140.0)], day(6), RULES)[0].tempo == 140


@pytest.mark.parametrize(
    ("you", "mostly"),
    [("mmb", "melody"), ("bbm", "bass"), ("mb", "bass"), ("bm", "melody"), ("mbbm", "melody"), ("mmbbb", "bass")],
)
def test_the_parts_of_a_tune_are_those_taken_most_often_and_of_several_the_latest(you: str, mostly: str) -> None:
    parts = {"m": ("melody",), "b": ("bass",)}
    played = [a_round(day(n), (9, 12), 100, True, you=parts[one]) for n, one in enumerate(you)]
    assert standings(played, [], day(9), RULES)[0].you == (mostly,)


def test_passages_are_due_from_their_day_on() -> None:
    (tune,) = standings([*held(0), a_round(day(4), (1, 4), 120, True)], [], day(9), RULES)
    due = {n: [one.first for one in tune.due(day(n).date())] for n in (0, 1, 4, 5)}
    assert due == {0: [], 1: [9], 4: [9], 5: [1, 9]}


def test_the_tune_played_last_comes_first() -> None:
    played = [a_round(day(n), (9, 12), 100, True, chart=name) for n, name in ((1, "b"), (3, "c"), (2, "a"))]
    assert [tune.chart for tune in standings(played, [], day(9), RULES)] == ["c", "a", "b"]


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
