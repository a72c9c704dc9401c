"""What is proposed for a day: something to keep, to mend and to begin, in time, with pauses, ready to start."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.practice.day_plan import PlanItem, Stand, by_ease, day_plan, days_ago
from companion.practice.records import RoundRecord, TakeRecord
from companion.practice.recurring import RecurringSlip
from companion.practice.repertoire import standings
from companion.preferences import preferences
from companion.preferences.care import CarePreferences, PauseRules
from companion.preferences.drills import DrillPreferences
from companion.preferences.repertoire import RepertoirePreferences
from companion.resources import chart_names, chart_path
from tests.practice.days import MELODY, Bars, PlayerOfDays, a_round, a_take, evening

RULES, DRILLS = preferences(RepertoirePreferences), preferences(DrillPreferences)
PAUSE = preferences(CarePreferences).pause
TODAY = date(2026, 11, 28)
NOW = evening(TODAY)
FERRY, SPOONS = "ferry-without-lights", "two-spoons-short"


@cache
def charts() -> dict[str, Chart]:
    return {name: load(chart_path(name)) for name in chart_names()}


def ago(days: int, minutes: int = 0):
    return NOW - timedelta(days=days) + timedelta(minutes=minutes)


def rounds(bars: Bars, *days: int, tempo: float = 132.0, good: bool = True, chart: str = FERRY) -> list[RoundRecord]:
    """Rounds so many days ago."""
    return [a_round(ago(n), bars, tempo, good, chart=chart, tune_tempo=132.0) for n in days]


def planned(
    played: Iterable[RoundRecord | TakeRecord], minutes: int | None = 40, pause: PauseRules = PAUSE, known: bool = True
) -> list[PlanItem]:
    drilled = [one for one in played if isinstance(one, RoundRecord)]
    takes = [one for one in played if isinstance(one, TakeRecord)]
    tunes = standings(drilled, takes, NOW, RULES)
    there = charts() if known else {}
    unplayed = [word for word in by_ease(there, lambda _: False) if word not in {tune.chart for tune in tunes}]
    return day_plan(Stand(tunes, there, unplayed), NOW, RULES, pause, DRILLS, minutes)


def commands(items: Iterable[PlanItem], purpose: str) -> list[str]:
    return [" ".join(item.command) for item in items if item.purpose == purpose]


# What is proposed


def test_a_day_has_something_to_keep_to_mend_and_to_begin() -> None:
    played = [*rounds((1, 4), 9, 8, 6, 2), *rounds((5, 8), 3, tempo=90, good=False)]
    items = planned(played)
    assert [item.purpose for item in items] == ["warm up", "keep", "mend", "pause", "new"]
    assert commands(items, "keep")[0].startswith(f"drill {FERRY} --bars 1-4 --from 112 --to 132 --minutes")
    assert commands(items, "mend")[0].startswith(f"drill {FERRY} --bars 5-8 --kind notes")
    assert commands(items, "new")[0].startswith(f"drill {FERRY} --bars 9-12 --kind notes")


def test_what_went_wrong_is_said() -> None:
    (mend,) = (i for i in planned([*rounds((1, 4), 9), *rounds((5, 8), 3, good=False)]) if i.purpose == "mend")
    assert mend.what.endswith("bars 5-8") and "F♯ missed" in mend.why


def test_what_failed_comes_before_what_is_only_slow() -> None:
    slow, failed = rounds((1, 4), 30, tempo=80), [*rounds((5, 8), 9), *rounds((5, 8), 1, good=False)]
    mend = commands(planned([*slow, *failed]), "mend")
    assert "--bars 5-8" in mend[0] and "--bars 1-4" in mend[1]


def test_what_failed_begins_slower_than_it_went_and_ends_no_faster() -> None:
    mend = commands(planned([*rounds((5, 8), 9, tempo=100), *rounds((5, 8), 1, good=False)]), "mend")[0]
    assert "--from 70 --to 100" in mend


def test_a_slow_passage_is_led_from_a_little_slower_to_a_little_faster() -> None:
    assert "--from 68 --to 88" in commands(planned(rounds((5, 8), 3, tempo=80)), "mend")[0]
    assert "--from 100 --to 130" in commands(planned(rounds((5, 8), 2, tempo=118)), "mend")[0]


def test_the_longest_overdue_is_kept_first() -> None:
    long_ago, lately = rounds((1, 4), 40, 39), rounds((5, 8), 40, 39, 37, 33, 25, 9)
    keep = commands(planned([*long_ago, *lately]), "keep")
    assert "--bars 1-4" in keep[0]


def test_what_was_played_today_is_not_proposed_again() -> None:
    again = [*rounds((1, 4), 9, 8, 0), *rounds((5, 8), 9, 8, 0, good=False)]
    items = planned(again)
    assert not commands(items, "keep") and not commands(items, "mend")


def test_passages_over_each_other_are_not_proposed_together() -> None:
    items = planned([*rounds((1, 4), 3, good=False), *rounds((1, 8), 3, good=False)])
    assert len(commands(items, "mend")) == 1


@pytest.mark.parametrize(
    ("first", "second", "both"),
    [
        ((1, 4), (4, 8), False),
        ((4, 8), (1, 4), False),
        ((1, 4), (5, 8), True),
        ((5, 8), (1, 4), True),
    ],
)
def test_of_passages_with_a_bar_in_common_the_longer_overdue_is_mended(first: Bars, second: Bars, both: bool) -> None:
    mend = commands(planned([*rounds(first, 9, good=False), *rounds(second, 3, good=False)]), "mend")
    named = [f"--bars {a}-{b} " for a, b in (first, second)]
    assert len(mend) == 1 + both and all(name in words for name, words in zip(named, mend, strict=False))


def test_where_there_is_time_for_all_each_thing_has_ten_minutes() -> None:
    """Ten to keep, forty to mend, and thirty for the last eight bars, of which two pieces are put together."""
    held = [*rounds((1, 4), 9, 8, 6, 2), *rounds((21, 24), 0)]
    failed = [one for first in (5, 9, 13, 17) for one in rounds((first, first + 3), 3, good=False)]
    items = planned([*held, *failed], 90, replace(PAUSE, after=0))
    assert [(item.purpose, item.minutes) for item in items[1:]] == [
        ("keep", 10), *[("mend", 10)] * 4, *[("new", 10)] * 3
    ]  # fmt: skip


def test_a_tune_kept_whole_is_played_not_drilled() -> None:
    keep = commands(planned([a_take(ago(20), chart=FERRY, tempo=120.0)]), "keep")
    assert keep == [f"play {FERRY} --tempo 120 --count-in 2"]


def test_the_hand_that_was_drilled_is_proposed() -> None:
    played = [a_round(ago(3), (1, 4), 60, True, chart=FERRY, you=("bass",))]
    items = planned(played)
    assert all("--you bass" in command for command in [*commands(items, "mend"), *commands(items, "new")])


def test_enough_on_the_stand_is_enough() -> None:
    many = [one for n in range(8) for one in rounds((4 * n + 1, 4 * n + 4), 3, tempo=70)]
    assert commands(planned(many[:-1]), "new")
    assert not commands(planned(many), "new")


def test_new_bars_end_with_their_section_and_two_pieces_are_put_together() -> None:
    new = commands(planned(rounds((1, 6), 4), minutes=90), "new")
    bars = [command.split("--bars ")[1].split()[0] for command in new]
    assert bars == ["7-8", "9-12", "7-12", "13-16", "17-20", "13-20"]


def test_a_tune_not_played_for_months_is_kept_and_not_added_to() -> None:
    assert FERRY not in " ".join(commands(planned(rounds((1, 4), 200)), "new"))


def test_a_chart_that_has_gone_is_not_proposed() -> None:
    assert planned(rounds((1, 4), 9), known=False) == []


def lines(items: Iterable[PlanItem], purpose: str = "") -> list[str]:
    """What is proposed, and why, for one purpose or all."""
    return [f"{item.what}; {item.why}" for item in items if purpose in ("", item.purpose)]


def bars_of(items: Iterable[PlanItem], purpose: str) -> list[str]:
    return [command.split("--bars ")[1].split()[0] for command in commands(items, purpose)]


@pytest.mark.parametrize(
    ("played", "bars"),
    [
        ([*rounds((1, 4), 9, 5), *rounds((5, 8), 9, 7)], "1-4"),  # of what holds the latest
        ([*rounds((1, 4), 9), *rounds((5, 8), 5, tempo=70)], "1-4"),  # what holds before what doesn't
        ([*rounds((1, 4), 9, 8, good=False), *rounds((5, 8), 5, tempo=70)], "5-8"),  # then what hasn't failed
        ([*rounds((1, 4), 9, tempo=70), *rounds((5, 8), 8, 7, tempo=70)], "5-8"),  # then what was played most often
        ([*rounds((1, 4), 9, 8, good=False), *rounds((5, 8), 5, good=False)], "1-4"),
    ],
)
def test_one_warms_up_with_what_sits_best(played: list[RoundRecord], bars: str) -> None:
    warm_up = planned(played, 40)[0]
    assert (warm_up.what, warm_up.why) == (f"Ferry Without Lights, bars {bars}", "slower than you think")
    assert " ".join(warm_up.command) == f"drill {FERRY} --bars {bars} --kind warm-up --minutes 5"


@pytest.mark.parametrize(
    ("played", "bars"),
    [
        ([*rounds((1, 4), 3, 2), *rounds((5, 8), 3, 2)], ["1-4", "5-8"]),  # due today, both
        ([*rounds((1, 4), 2, 1), *rounds((5, 8), 3, 2)], ["5-8"]),
        ([*rounds((1, 4), 9, 5, 2), *rounds((5, 8), 9, 3)], ["1-4"]),  # none is due: the first to be
        ([*rounds((1, 4), 9), *rounds((5, 8), 1)], ["1-4", "5-8"]),
    ],
)
def test_what_is_due_is_kept_and_where_nothing_is_what_will_be_first(
    played: list[RoundRecord], bars: list[str]
) -> None:
    assert bars_of(planned(played, 180), "keep") == bars


@pytest.mark.parametrize(
    ("played", "purpose", "line"),
    [
        (rounds((1, 4), 12), "keep", "bars 1-4; held; last played 12 days ago"),
        (rounds((2, 2), 4, 3, 1), "keep", "bar 2; learnt at 132; last played yesterday"),
        (rounds((1, 4), 3, tempo=80), "mend", "bars 1-4; 80 of 132"),
        (rounds((1, 4), 3, good=False), "mend", "bars 1-4; bar 1: F♯ missed"),
        ([replace(one, why="") for one in rounds((1, 4), 3, good=False)], "mend", "bars 1-4; it didn't hold"),
    ],
)
def test_each_thing_says_why(played: list[RoundRecord], purpose: str, line: str) -> None:
    assert lines(planned(played), purpose) == [f"Ferry Without Lights, {line}"]


def test_a_passage_that_was_never_good_begins_with_its_notes() -> None:
    (mend,) = commands(planned(rounds((5, 8), 3, good=False), 20), "mend")
    assert mend == f"drill {FERRY} --bars 5-8 --kind notes --minutes 9"


def test_no_ladder_begins_or_ends_below_the_slowest_tempo() -> None:
    (mend,) = commands(planned(rounds((5, 8), 3, tempo=22), 20), "mend")
    assert "--from 20 --to 24" in mend
    (mend,) = commands(planned(rounds((5, 8), 3, tempo=17), 20), "mend")
    assert "--from 20 --to 20" in mend


@pytest.mark.parametrize(
    ("other", "together"),
    [
        (rounds((4, 8), 3, good=False), False),
        (rounds((2, 3), 3, good=False), False),
        (rounds((5, 8), 3, good=False), True),
        ([a_round(ago(3), (1, 4), 132, False, chart=FERRY, you=("bass",))], True),
        (rounds((1, 4), 3, good=False, chart=SPOONS), True),
    ],
)
def test_only_passages_with_a_bar_in_common_stand_in_each_others_way(other: list[RoundRecord], together: bool) -> None:
    mended = commands(planned([*rounds((1, 4), 4, good=False), *other], 60), "mend")
    assert len(mended) == 1 + together


@pytest.mark.parametrize(("days", "goes_on"), [(59, True), (60, False)])
def test_new_bars_are_of_tunes_drilled_in_the_last_two_months(days: int, goes_on: bool) -> None:
    new = lines(planned(rounds((1, 4), days)), "new")
    ours = ["Ferry Without Lights, bars 5-8; the next bars", "Ferry Without Lights, bars 9-12; the next bars"]
    another = ["Two Spoons Short, bars 1-4; a new tune: the notes first, slowly"]
    assert new[:2] == ours if goes_on else new[:1] == another


def test_a_tune_that_was_only_played_through_is_not_added_to() -> None:
    assert lines(planned([a_take(ago(3), chart=FERRY)]), "new")[0].startswith("Two Spoons Short")


def test_two_short_pieces_are_put_together_as_well() -> None:
    new = lines(planned([*rounds((1, 6), 4), *rounds((9, 30), 4)], 90), "new")
    assert [line.partition(", ")[2] for line in new] == ["bars 7-8; the next bars", "bars 31-32; the next bars"]
    new = lines(planned([*rounds((1, 6), 4), *rounds((11, 32), 4)], 90), "new")
    assert new[-1] == "Ferry Without Lights, bars 7-10; now together"


# Whoever has played nothing yet


def test_a_newcomer_finds_a_way_through_an_easy_tune_and_then_its_first_bars() -> None:
    items = planned([])
    warm_up, first = items[0], items[1]
    assert warm_up.command[:2] == ("play", SPOONS) and "patient" in warm_up.command
    assert first.command[:4] == ("drill", SPOONS, "--bars", "1-4")
    assert sum(item.minutes for item in items) == 40


BARE = parse_toml("""
format = 1
title = "Only Chords"
key = "C major"
metre = "4/4"
tempo = 38
feel = "straight"
form = "A"
[section.A]
chords = "| Dm7 | G7 | Cmaj7 | C6 |"
""")


def test_of_a_chart_without_a_melody_it_is_the_bass_and_half_as_fast_is_no_slower_than_the_slowest() -> None:
    items = day_plan(Stand([], {"bare": BARE}, ["gone", "bare"]), NOW, RULES, PAUSE, DRILLS, 40)
    assert commands(items, "warm up") == ["play bare --you bass --time patient --tempo 20 --choruses 1"]
    assert commands(items, "new") == ["drill bare --bars 1-4 --you bass --kind notes --minutes 10"]
    faster = {"bare": replace(BARE, tempo=42.0)}
    items = day_plan(Stand([], faster, ["bare"]), NOW, RULES, PAUSE, DRILLS, 40)
    assert "--tempo 21" in commands(items, "warm up")[0]


def test_where_there_is_no_chart_there_is_nothing_to_do() -> None:
    assert day_plan(Stand([], {}, ["gone"]), NOW, RULES, PAUSE, DRILLS, 40) == []


def test_charts_without_a_melody_come_last_and_equal_ones_by_their_names() -> None:
    there = {"bare": BARE, "b": charts()[SPOONS], "a": charts()[SPOONS], FERRY: charts()[FERRY]}
    assert by_ease(there, lambda _: False) == ["a", "b", FERRY, "bare"]


def test_a_players_own_tunes_come_before_ours_and_short_ones_before_long_ones() -> None:
    order = by_ease(charts(), lambda word: word == "ovens-at-five")
    assert order[0] == "ovens-at-five" and order[1] == SPOONS
    notes = [len(charts()[word].unfold().melody) for word in order[1:]]
    assert notes == sorted(notes)


# Time


@given(
    minutes=st.integers(5, 180),
    after=st.sampled_from([0, 10, 25, 45]),
    days=st.integers(0, 40),
    seed=st.integers(0, 3),
)
def test_whatever_was_played_the_plan_fits_and_no_one_plays_on_without_a_pause(
    minutes: int, after: int, days: int, seed: int
) -> None:
    player = PlayerOfDays({(1, 4): 0.1, (5, 8): 0.4, (9, 12): 0.8, (9, 16): 0.6}, seed=seed, chart=FERRY)
    for number in range(days, 0, -1):
        if player.comes():
            player.drills(list(player.memory)[number % 4], ago(number))
    pause = replace(PAUSE, after=after)
    items = planned(player.rounds, minutes, pause)
    assert sum(item.minutes for item in items) <= minutes
    assert all(item.minutes >= 1 for item in items)
    playing = 0
    for item in items:
        playing = 0 if item.purpose == "pause" else playing + item.minutes
        assert not after or playing <= max(after, item.minutes)
    assert items[0].purpose == "warm up" and items[-1].purpose != "pause"
    if not after:
        assert "pause" not in {item.purpose for item in items}


def test_there_is_no_pause_within_twenty_five_minutes_and_one_within_forty() -> None:
    assert not [item for item in planned([], 25) if item.purpose == "pause"]
    assert len([item for item in planned([], 40) if item.purpose == "pause"]) == 1


def test_with_little_time_it_is_one_thing_that_is_mended() -> None:
    played = [*rounds((1, 4), 9, 8, 6, 2), *rounds((5, 8), 3, good=False)]
    assert [item.purpose for item in planned(played, 6)] == ["warm up", "mend"]


def test_nothing_takes_longer_than_its_most() -> None:
    items = planned([*rounds((1, 4), 9, 8), *rounds((5, 8), 3, good=False)], 120)
    assert max(item.minutes for item in items) <= RULES.proposal.most


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        (0, "5 9 9 9 8"),
        (4, "5 p 10 p 10"),
        (13, "5 p 10 p 10"),
        (14, "5 9 p 8 p 8"),
        (20, "5 10 p 10 10"),
        (24, "5 10 p 10 10"),
        (25, "5 10 10 p 10"),  # up to its minutes, and not beyond
        (34, "5 10 10 p 10"),
        (35, "5 10 10 10"),
    ],
)
def test_a_pause_comes_before_what_would_be_more_than_its_minutes_and_the_rest_is_played(
    after: int, expected: str
) -> None:
    items = planned([], 40, replace(PAUSE, after=after))
    assert " ".join("p" if item.purpose == "pause" else str(item.minutes) for item in items) == expected
    assert {item.minutes for item in items if item.purpose == "pause"} <= {5}


@pytest.mark.parametrize(("minutes", "warm_up"), [(3, 0), (4, 1), (16, 4), (19, 4), (20, 5), (90, 5)])
def test_a_quarter_of_the_time_at_most_is_for_warming_up(minutes: int, warm_up: int) -> None:
    items = planned([], minutes)
    assert sum(item.minutes for item in items if item.purpose == "warm up") == warm_up
    assert sum(item.minutes for item in items) <= minutes


def test_unless_minutes_are_given_it_is_those_of_the_preferences() -> None:
    assert planned([], None) == planned([], RULES.proposal.minutes)


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (4, "mend 3"),
        (8, "mend 6"),
        (14, "keep 5 mend 6"),  # 11 minutes; something new would get less than four
        (20, "keep 5 mend 6 new 4"),  # 15 minutes by 35, 40 and 25 in a hundred
        (30, "keep 9 mend 10 new 6"),
        (36, "keep 10 mend 10 new 6 new 5"),  # what is too much for one thing goes to the others
        (60, "keep 10 mend 10 new 9 new 9 new 9 new 8"),
    ],
)
def test_the_minutes_after_the_warm_up_are_shared_out(minutes: int, expected: str) -> None:
    played = [*rounds((1, 4), 9, 8, 6, 2), *rounds((5, 8), 3, tempo=90, good=False)]
    items = planned(played, minutes, replace(PAUSE, after=0))
    assert " ".join(f"{item.purpose} {item.minutes}" for item in items if item.purpose != "warm up") == expected


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (0, "today"), (1, "yesterday"), (2, "2 days ago"), (20, "20 days ago"), (21, "3 weeks ago"),
        (24, "3 weeks ago"), (25, "4 weeks ago"), (300, "43 weeks ago"),
    ],
)  # fmt: skip
def test_how_long_ago_is_said_in_plain_words(days: int, words: str) -> None:
    assert days_ago(days) == words


# What recurs in takes


def slip(bar: int, *made: bool, at: int = 1) -> RecurringSlip:
    return RecurringSlip(("note", 4.0 * bar, 4), "missed-note", bar, bar, "A missed", made, True, MELODY, ago(at))


def planned_with(
    slips: list[RecurringSlip], played: Iterable[RoundRecord] = (), takes: Iterable[TakeRecord] = ()
) -> list[PlanItem]:
    tunes = standings(list(played), list(takes), NOW, RULES)
    return day_plan(Stand(tunes, charts(), [], {FERRY: slips}), NOW, RULES, PAUSE, DRILLS, 40)


def test_a_slip_that_recurs_in_takes_is_mended_though_nothing_of_it_was_drilled() -> None:
    items = planned_with([slip(7, True, False, True), slip(22, True, True, True)], takes=[a_take(ago(1), chart=FERRY)])
    (mend,) = (item for item in items if item.purpose == "mend")
    assert " ".join(mend.command).startswith(f"drill {FERRY} --bars 21-24 --from 84 --to 120")
    assert mend.why == "bar 22: A missed in each of three takes"


def test_a_slip_that_is_gone_or_was_drilled_since_is_left_in_peace() -> None:
    takes = [a_take(ago(1), chart=FERRY)]
    assert not commands(planned_with([slip(7, True, True, True, False, False, False)], takes=takes), "mend")
    drilled = rounds((5, 8), 2, 1)
    assert not any("A missed" in item.why for item in planned_with([slip(7, True, True)], drilled, takes))


def test_a_slip_in_a_passage_that_failed_is_drilled_once() -> None:
    failed = rounds((5, 8), 3, good=False)
    mend = commands(planned_with([slip(7, True, True)], failed, [a_take(ago(1), chart=FERRY)]), "mend")
    assert sum("--bars 5-8" in command for command in mend) == 1


@pytest.mark.parametrize(
    ("bar", "bars"),
    [(0, "1-4"), (1, "1-4"), (4, "1-4"), (5, "5-8"), (8, "5-8"), (9, "9-12"), (32, "29-32")],
)
def test_the_bars_about_a_slip_are_drilled_up_to_the_tunes_tempo(bar: int, bars: str) -> None:
    """A pickup belongs to bar 1."""
    items = planned_with([slip(bar, True, True)], takes=[a_take(ago(1), chart=FERRY)])
    (mend,) = commands(items, "mend")
    assert mend == f"drill {FERRY} --bars {bars} --from 84 --to 120 --minutes 10"
    (line,) = lines(items, "mend")
    assert line.startswith(f"Ferry Without Lights, bars {bars}; ")


def test_where_no_tempo_is_recorded_a_slip_is_drilled_up_to_the_charts() -> None:
    take = replace(a_take(ago(1), chart=FERRY), tune_tempo=None)
    (mend,) = commands(planned_with([slip(2, True, True)], takes=[take]), "mend")
    assert "--from 92 --to 132" in mend


@pytest.mark.parametrize(
    ("made", "mended"),
    [((True, True, False), True), ((True, False), True), ((True, True, False, False), False), ((False, True), True)],
)
def test_a_slip_is_worth_a_drill_while_half_of_the_last_three_takes_have_it(
    made: tuple[bool, ...], mended: bool
) -> None:
    items = planned_with([slip(7, *made)], takes=[a_take(ago(1), chart=FERRY)])
    assert bool(commands(items, "mend")) == mended


def test_of_slips_that_as_many_of_the_last_takes_have_the_one_of_most_takes_is_mended() -> None:
    slips = [slip(3, False, True, True, True), slip(7, True, True, True, True), slip(11, True, True, True, False)]
    assert bars_of(planned_with(slips, takes=[a_take(ago(1), chart=FERRY)]), "mend") == ["5-8"]


def test_slips_of_a_tune_without_a_chart_are_left_out() -> None:
    assert not commands(planned_with([slip(7, True, True)]), "mend")


@pytest.mark.parametrize(
    ("drilled", "left"),
    [
        (rounds((5, 8), 1), True),  # on the day of the take
        (rounds((7, 7), 1), True),
        (rounds((5, 8), 2), False),  # before it
        (rounds((4, 6), 1), False),
        (rounds((8, 9), 1), False),
        ([a_round(ago(1), (5, 8), 132, True, chart=FERRY, you=("bass",))], False),
        ([a_take(ago(1), chart=FERRY)], False),  # the whole tune: no drill of these bars
    ],
)
def test_a_slip_is_left_in_peace_where_its_bars_were_drilled_by_the_same_hand_since(
    drilled: list[RoundRecord | TakeRecord], left: bool
) -> None:
    played = [one for one in drilled if isinstance(one, RoundRecord)]
    takes = [a_take(ago(1), chart=FERRY), *(one for one in drilled if isinstance(one, TakeRecord))]
    said = lines(planned_with([slip(7, True, True)], played, takes), "mend")
    assert any("A missed" in line for line in said) == (not left)
