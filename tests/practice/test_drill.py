"""A drill: rounds that follow each other, faster as they come right, and what the player can ask for meanwhile."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from companion.chart.model import Chart
from companion.messages import Beat, Heard, Order, Round, State, Wish
from companion.practice.drill import Drill
from companion.practice.replayed import replay_drill
from companion.practice.request import Said, drill_request
from companion.practice.rounds import RoundPlayed
from tests.practice.conftest import CLEAN, RoundPlayer, Slips, drilled, go_through

BARS = (9, 12)
MELODY = Said(you=frozenset({"melody"}))


def a_drill(chart: Chart, said: Said = MELODY, kind: str = "usual", bars: tuple[int, int] = BARS) -> Drill:
    return Drill(chart, drill_request(chart, bars, said, kind))


def play(drill: Drill, until: float, *events: Heard | Wish) -> tuple[list[Order], list[object]]:
    """Orders and reports up to a moment."""
    orders, reports = [], []
    for event in events:
        step = drill.advance(event.seconds, [event])
        orders += step.orders
        reports += step.reports
    step = drill.advance(until, [])
    return [*orders, *step.orders], [*reports, *step.reports]


def key(seconds: float, midi: int = 60) -> Heard:
    return Heard(seconds, 0x90, midi, 70)


# How rounds follow each other


def test_the_first_click_falls_on_second_0_and_the_passage_begins_after_count_in_and_way_in(ferry: Chart) -> None:
    said = replace(MELODY, start=60.0, goal=60.0)
    drill = a_drill(ferry, said)
    orders, _ = play(drill, 7.9)
    clicks = [order.seconds for order in orders if order.part == "click" and order.status == 0x90]
    assert clicks == pytest.approx([0, 1, 2, 3])
    assert drill.round.start == pytest.approx(8.0)


def test_a_clean_player_climbs_to_the_goal(ferry: Chart, round_player: RoundPlayer) -> None:
    said = replace(MELODY, start=100.0, goal=108.0, step=4.0)
    drill = drilled(ferry, BARS, round_player.plays, said=said)
    assert [played.tempo for played in drill.rounds] == [100, 100, 104, 104, 108, 108]
    assert drill.ended == "goal"
    assert all(played.verdict and played.verdict.why == "clean" for played in drill.rounds)


def test_a_hopeless_player_comes_down_to_where_they_began_and_ends_with_the_rounds(
    ferry: Chart, round_player: RoundPlayer
) -> None:
    def plays(told: RoundPlayed) -> list[Heard]:
        bad = Slips(wrong=frozenset({2}), missing=frozenset({5}))
        return round_player.plays(told, CLEAN if told.number < 3 else bad)

    drill = drilled(ferry, BARS, plays, said=replace(MELODY, start=80.0, goal=120.0, step=10.0, rounds=7))
    assert [played.tempo for played in drill.rounds] == [80, 80, 90, 90, 80, 80, 80]
    assert drill.ended == "rounds"


def test_the_next_round_is_clicked_in_a_bar_after_the_end_of_the_one_before(
    ferry: Chart, round_player: RoundPlayer
) -> None:
    drill = drilled(ferry, BARS, round_player.plays, said=replace(MELODY, start=100.0, goal=120.0), rounds=3)
    for before, after in pairwise(drill.rounds):
        assert before.end is not None
        assert after.first_click - before.end == pytest.approx(4 * 60 / before.tempo, abs=0.02)


def test_what_comes_next_depends_on_nothing_but_what_was_played_before(ferry: Chart, round_player: RoundPlayer) -> None:
    heard: list[Heard] = []
    told: list[tuple[float, float]] = []
    for _ in range(4):
        drill = a_drill(ferry)
        replay_drill(drill, heard, max((event.seconds for event in heard), default=0.0))
        told.append((drill.round.start, drill.round.tempo))
        heard += round_player.plays(drill.round, Slips(wrong=frozenset({drill.round.number})))
    drill = a_drill(ferry)
    replay_drill(drill, heard, heard[-1].seconds)
    assert [(played.start, played.tempo) for played in drill.rounds[:4]] == told


def test_one_call_or_many_give_the_same(ferry: Chart, round_player: RoundPlayer) -> None:
    whole, cut = a_drill(ferry), a_drill(ferry)
    notes = round_player.plays(whole.round, Slips(hesitates={3: 0.8}))
    orders, reports = play(whole, 60.0, *notes)
    cut_orders: list[Order] = []
    cut_reports: list[object] = []
    moment, events = 0.0, list(notes)
    while moment < 60.0:
        moment += 0.37
        now = min(moment, 60.0)
        step = cut.advance(now, [event for event in events if event.seconds <= now])
        events = [event for event in events if event.seconds > now]
        cut_orders += step.orders
        cut_reports += step.reports
    assert sorted(map(str, cut_orders)) == sorted(map(str, orders))
    assert list(map(str, cut_reports)) == list(map(str, reports))


def test_no_note_of_the_companions_is_left_sounding(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry, kind="time")
    notes = round_player.plays(drill.round)
    for cut in (5.0, 9.3, 12.1):
        drill = a_drill(ferry, kind="time")
        orders, _ = play(drill, cut, *[n for n in notes if n.seconds < cut])
        orders += list(drill.finish(cut + 0.5).orders)
        down: dict[tuple[str, int], int] = {}
        for order in orders:
            down[order.part, order.data1] = down.get((order.part, order.data1), 0) + (1 if order.status == 0x90 else -1)
        assert set(down.values()) <= {0}


# Silence


def test_a_player_who_stops_is_given_the_round_again(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry)
    notes = round_player.plays(drill.round, Slips(stops_at=4))
    play(drill, 60.0, *notes)
    first = drill.rounds[0]
    assert first.verdict is not None and not first.verdict.good
    assert "stopped" in first.verdict.why
    assert len(drill.rounds) > 1


def test_after_two_rounds_without_a_note_it_waits_until_a_key_is_touched(ferry: Chart) -> None:
    drill = a_drill(ferry)
    _, reports = play(drill, 300.0)
    assert drill.silent and len(drill.rounds) == 2
    assert [r.name for r in reports if isinstance(r, State)][-1] == "waiting"
    assert drill.advance(400.0, []).wake is None
    drill.advance(401.0, [key(401.0)])
    assert drill.round.number == 3
    assert 401.5 < drill.round.first_click < 403.0


def test_silent_rounds_count_neither_up_nor_down(ferry: Chart, round_player: RoundPlayer) -> None:
    def plays(told: RoundPlayed) -> list[Heard]:
        return round_player.plays(told, Slips(silent=told.number == 2))

    drill = drilled(ferry, BARS, plays, said=replace(MELODY, start=100.0, goal=120.0), rounds=3)
    assert [played.tempo for played in drill.rounds] == [100, 100, 100, 104]


def test_patient_waits_long_for_a_note_and_then_lets_the_round_go(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry, kind="notes")
    notes = [event for event in round_player.plays(drill.round, Slips(stops_at=4)) if event.is_note_on]
    play(drill, notes[-1].seconds + 15.0, *notes)
    assert drill.round.number == 1 and drill.round.verdict is None
    play(drill, notes[-1].seconds + 40.0)
    assert drill.rounds[0].verdict is not None


# What the player asks for


def test_stop_ends_it(ferry: Chart) -> None:
    drill = a_drill(ferry)
    _, reports = play(drill, 10.0, Wish(9.0, "stop"))
    assert drill.ended == "player"
    assert [r.name for r in reports if isinstance(r, State)][-1] == "ended"
    assert drill.advance(20.0, [key(15.0)]).orders == ()


def test_again_breaks_the_round_off_and_counts_it_in_at_once(ferry: Chart) -> None:
    drill = a_drill(ferry)
    play(drill, 10.0, Wish(9.0, "again"))
    assert [played.verdict for played in drill.rounds] == [None, None]
    assert 9.5 < drill.round.first_click < 11.0


def test_faster_and_slower_move_the_next_round_by_a_step(ferry: Chart) -> None:
    drill = a_drill(ferry, replace(MELODY, start=100.0, goal=120.0, step=5.0))
    play(drill, 9.0, Wish(7.0, "faster"), Wish(8.0, "faster"), Wish(8.5, "slower"))
    assert drill.round.tempo == 100
    play(drill, 10.0, Wish(9.5, "again"))
    assert drill.round.tempo == 105


def test_in_the_rest_faster_holds_for_the_round_that_comes(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry, replace(MELODY, start=100.0, goal=120.0, step=5.0))
    go_through(drill, round_player.plays(drill.round))
    rest = drill.round.first_click - 1.0
    play(drill, rest + 0.1, Wish(rest, "faster"))
    assert (drill.round.number, drill.round.tempo) == (2, 105)
    assert drill.round.first_click == pytest.approx(rest + 1.0)


def test_next_goes_on_to_as_many_bars_after_these(ferry: Chart) -> None:
    drill = a_drill(ferry)
    play(drill, 10.0, Wish(9.0, "next"))
    assert drill.round.bars == (13, 16)


def test_last_time_makes_this_round_the_last_and_can_be_taken_back(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry)
    play(drill, 60.0, Wish(1.0, "last time"), *round_player.plays(drill.round))
    assert (drill.ended, len(drill.rounds)) == ("player", 1)
    drill = a_drill(ferry)
    notes = round_player.plays(drill.round)
    play(drill, notes[-1].seconds + 4, Wish(1.0, "last time"), Wish(2.0, "last time"), *notes)
    assert drill.ended is None


# Hands, keys, memory, and where it begins


def test_hands_are_swapped_after_so_many_rounds(ferry: Chart) -> None:
    request = drill_request(ferry, BARS, replace(MELODY, swap=2))
    assert [sorted(request.hands(number)[0]) for number in range(1, 6)] == [
        ["melody"], ["melody"], ["bass"], ["bass"], ["melody"]
    ]  # fmt: skip
    assert request.hands(3)[1] == ("melody", "chords")


def test_round_the_keys_by_fourths_each_key_is_a_fourth_above_the_one_before(ferry: Chart) -> None:
    drill = a_drill(ferry, replace(MELODY, rounds=13), kind="keys")
    for _ in range(12):
        play(drill, drill.round.first_click, Wish(drill.round.first_click, "again"))
    tonics = [played.passage.chart.fifths for played in drill.rounds]
    assert len(set(tonics[:12])) == 12 and tonics[12] == tonics[0]
    assert {(b - a) % 12 for a, b in pairwise(tonics)} == {11}  # a fifth down, which is a fourth up


def test_from_memory_companion_and_screen_are_withheld_step_by_step(ferry: Chart, round_player: RoundPlayer) -> None:
    said = replace(MELODY, start=100.0, goal=100.0)
    drill = drilled(ferry, BARS, round_player.plays, kind="memory", said=said, rounds=14)
    steps = list(dict.fromkeys(played.withheld for played in drill.rounds))
    assert steps == ["companion", "hidden", "roots", "click", "alone"]
    assert drill.ended == "goal"
    assert not drill.rounds[0].hidden and all(played.hidden for played in drill.rounds[2:])


def test_from_any_bar_rounds_begin_in_several_bars_and_end_in_the_same(ferry: Chart) -> None:
    drill = a_drill(ferry, kind="anywhere", bars=(1, 8))
    for _ in range(12):
        play(drill, drill.round.first_click, Wish(drill.round.first_click, "again"))
    firsts = {played.bars[0] for played in drill.rounds}
    assert len(firsts) > 3
    assert {played.bars[1] for played in drill.rounds} == {8}


# What is reported


def test_beats_are_told_where_they_lie_in_the_tune(ferry: Chart) -> None:
    drill = a_drill(ferry, replace(MELODY, start=60.0, goal=60.0, time="steady"))
    _, reports = play(drill, 12.0)
    beats = [report.chart_beat for report in reports if isinstance(report, Beat)]
    assert beats[0] == float(ferry.unfold().bars[7])
    rounds = [report for report in reports if isinstance(report, Round)]
    assert (rounds[0].first, rounds[0].last, rounds[0].tempo, rounds[0].good) == (9, 12, 60, None)
