"""A drill: rounds that follow each other, faster as they come right, and what the player can ask for meanwhile."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.messages import Beat, Heard, Order, Part, Round, State, Wish
from companion.practice.drill import Drill
from companion.practice.passage import arranged_chart
from companion.practice.replayed import replay_drill
from companion.practice.request import Said, drill_request
from companion.practice.rounds import RoundPlayed
from companion.resources import DATA_VARIABLE
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


SECONDS = replace(MELODY, start=60.0, goal=60.0, time="steady")
"""A beat a second, whatever is played."""


def told(reports: list[object], name: str = "") -> list[tuple[float, str]]:
    """When the drill said what it does, to a millisecond; by ``name`` only that."""
    return [(round(one.seconds, 3), one.name) for one in reports if isinstance(one, State) and name in ("", one.name)]


def rounds_told(reports: list[object]) -> list[Round]:
    return [one for one in reports if isinstance(one, Round)]


def test_a_round_goes_by_its_bars_and_a_bar_after_its_end_the_next_is_clicked_in(ferry: Chart) -> None:
    """Count-in and way in a bar each, four bars, a quarter for late notes, a bar from the end to the next click."""
    drill = a_drill(ferry, SECONDS)
    assert drill.advance(-1.0, []).wake == pytest.approx(-0.01), "ten milliseconds ahead, unless it is said"
    drill = Drill(ferry, drill_request(ferry, BARS, SECONDS), latency=0.05)
    _, reports = play(drill, 27.9, key(9.0))
    assert told(reports) == [(0, "counting"), (1, "counting"), (2, "counting"), (3, "counting"),
                                     (4, "playing"), (24.95, "resting")]  # fmt: skip
    before, judged, after = rounds_told(reports)
    assert (before.seconds, before.number, before.start, before.good, before.then) == (0, 1, 8, None, None)
    assert (judged.seconds, judged.good, judged.missing, judged.then) == (pytest.approx(24.95), False, 11, 60)
    assert (after.seconds, after.number, after.start, after.good) == (pytest.approx(24.95), 2, 36, None)
    assert drill.rounds[0].end == pytest.approx(24) and drill.round.first_click == pytest.approx(28)
    places = [one.chart_beat for one in reports if isinstance(one, State)]
    assert places == [44, 45, 46, 47, 28, 28], "in the tune: way in and passage begin with its bars 8 and 9"


@pytest.mark.parametrize(("bars", "start"), [((1, 4), 4.0), ((2, 4), 8.0), ((9, 12), 8.0)])
def test_where_no_bar_lies_before_the_passage_there_is_no_way_in(
    ferry: Chart, bars: tuple[int, int], start: float
) -> None:
    assert a_drill(ferry, SECONDS, bars=bars).round.start == start


@pytest.mark.parametrize(("metre", "bar", "start"), [("6/8", 3, 6.0), ("3/4", 3, 6.0), ("12/8", 6, 12.0)])
def test_a_bar_is_counted_in_and_one_leads_in_whatever_the_metre(metre: str, bar: int, start: float) -> None:
    """At 60 quarters a minute a bar of 6/8 takes three seconds."""
    text = 'format = 1\ntitle = "Four"\nmetre = "{}"\n[section.A]\nchords = "| C | F | G7 | C |"\nmelody = "| {} |"\n'
    chart = parse_toml(text.format(metre, " | ".join([f"c{2 * bar}"] * 4)))
    drill = a_drill(chart, SECONDS, bars=(2, 3))
    assert (drill.round.first_click, drill.round.start) == (0.0, start)


def test_good_and_bad_rounds_are_heard(ferry: Chart, round_player: RoundPlayer) -> None:
    """Two strokes of a triangle or one of a wood block, a tenth of a second each."""
    drill = Drill(ferry, drill_request(ferry, BARS, SECONDS), latency=0.05)
    orders, _ = play(drill, 27.0, *round_player.plays(drill.round))
    after = [(order.seconds, order.status, order.data1, order.data2) for order in orders if order.seconds > 24.5]
    expected = [(25.0, 0x90, 81, 60), (25.1, 0x80, 81, 0), (25.16, 0x90, 81, 60), (25.26, 0x80, 81, 0)]
    assert after == [pytest.approx(one) for one in expected]
    drill = a_drill(ferry, SECONDS)
    orders, _ = play(drill, 27.0, *round_player.plays(drill.round, Slips(wrong=frozenset({2}))))
    after = [(order.seconds, order.status, order.data1, order.data2) for order in orders if order.seconds > 24.5]
    assert after == [pytest.approx(one) for one in [(25.0, 0x90, 77, 60), (25.1, 0x80, 77, 0)]]
    assert {order.part for order in orders if order.seconds > 24.5} == {"click"}


def test_who_goes_back_again_and_again_is_given_the_round_anew_after_four_times_its_length(
    ferry: Chart, round_player: RoundPlayer
) -> None:
    """Way in and passage take 10 s at 120 quarters a minute."""
    drill = a_drill(ferry, replace(MELODY, start=120.0, goal=120.0))
    first = [event for event in round_player.plays(drill.round) if event.seconds < 6.0]
    again = [replace(event, seconds=event.seconds + 4.0 * n) for n in range(10) for event in first]
    again.sort(key=lambda event: event.seconds)
    _, reports = play(drill, 40.5, *(event for event in again if event.seconds < 40.5))
    assert drill.rounds[0].end == pytest.approx(40.0)
    assert told(reports, "resting") == [(40.0, "resting")]


@pytest.mark.parametrize(
    ("bars", "then"), [((9, 12), (13, 16)), ((28, 31), (32, 32)), ((25, 30), (31, 32)), ((29, 32), (1, 4))]
)
def test_next_goes_on_through_the_form_and_round_to_its_beginning(
    ferry: Chart, bars: tuple[int, int], then: tuple[int, int]
) -> None:
    drill = a_drill(ferry, replace(MELODY, start=100.0, goal=120.0, step=5.0), bars=bars)
    play(drill, 3.0, Wish(1.0, "faster"), Wish(2.0, "next"))
    assert (drill.round.bars, drill.round.tempo) == (then, 100), "at the first tempo"
    assert drill.round.first_click == pytest.approx(2.8)


def test_where_only_these_bars_are_wanted_next_is_the_end(ferry: Chart) -> None:
    drill = Drill(ferry, drill_request(ferry, BARS, MELODY), moves_on=False)
    _, reports = play(drill, 3.0, Wish(2.0, "next"))
    assert (drill.ended, drill.stopped, told(reports)[-1]) == ("player", False, (2.0, "ended"))


@pytest.mark.parametrize(
    ("steps", "you", "parts"),
    [
        ("companion", "melody", {"click", "chords", "bass"}),
        ("hidden", "melody", {"click", "chords", "bass"}),
        ("roots", "melody", {"click", "bass"}),
        ("click", "melody", {"click"}),
        ("alone", "melody", {"click"}),
        ("companion", "bass", {"click", "melody", "chords"}),
        ("roots", "bass", {"click"}),
    ],
)
@pytest.mark.parametrize("clicked", [True, False])
def test_from_memory_it_plays_what_is_left_and_counts_in_whatever_is(
    ferry: Chart, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, steps: str, you: Part, parts: set[str], clicked: bool
) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (tmp_path / "configs").mkdir()
    text = f'[rounds.memory]\nsteps = ["{steps}"]\n'
    (tmp_path / "configs" / "drills.toml").write_text(text, encoding="utf-8")
    said = replace(SECONDS, you=frozenset({you}), click="all" if clicked else "")
    drill = a_drill(ferry, said, kind="memory")
    orders, _ = play(drill, 23.9)
    assert {order.part for order in orders} == parts
    clicks = {order.seconds for order in orders if order.part == "click" and order.status == 0x90}
    through = steps == "click" or (steps == "roots" and you == "bass") or (clicked and steps != "alone")
    assert (max(clicks) > 20) == through
    bass = sum(order.part == "bass" and order.status == 0x90 for order in orders)
    if "bass" in parts:
        chords = len(drill.round.passage.chart.unfold().chords)
        assert bass == chords if steps == "roots" else bass > chords, "roots alone, or a bass as in the tune"
    assert drill.round.hidden == (steps != "companion")


def test_what_was_arranged_ahead_is_what_is_played(ferry: Chart) -> None:
    drill = a_drill(ferry, replace(SECONDS, swap=1, rounds=9), kind="keys")
    arranged_chart.cache_clear()
    for number in (1, 2, 3):
        work = drill.prepare(number)
        assert work is not None
        work()
    arranged = arranged_chart.cache_info().misses
    assert arranged == 3
    for now in (0.5, 2.0):
        play(drill, now, Wish(now, "again"))
    assert (drill.round.number, arranged_chart.cache_info().misses) == (3, arranged)
    drill.finish(9.0)
    assert drill.prepare(4) is None


def test_at_its_end_the_last_round_is_told_with_nothing_after_it(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry, replace(SECONDS, rounds=1))
    _, reports = play(drill, 40.0, *round_player.plays(drill.round))
    last = rounds_told(reports)[-1]
    assert (last.good, last.why, last.then, last.right, last.missing) == (True, "clean", None, 11, 0)
    assert last.spread_ms is not None and 0 < last.spread_ms < 20
    assert (drill.ended, len(drill.rounds)) == ("rounds", 1)
    assert told(reports)[-1] == (24.99, "ended")


# Silence


def test_it_waits_for_a_key_or_the_wish_to_start_and_again_after_two_more_silent_rounds(ferry: Chart) -> None:
    drill = a_drill(ferry, SECONDS)
    _, reports = play(drill, 100.0, Wish(5.0, "start"))
    assert told(reports, "waiting") == [(52.99, "waiting")], "there was nothing to start"
    assert drill.silent and not a_drill(ferry).silent
    drill.advance(101.0, [key(101.0)])
    assert (drill.round.number, drill.round.first_click) == (3, pytest.approx(101.8))
    _, reports = play(drill, 200.0)
    assert drill.silent and drill.round.number == 4
    drill.advance(201.0, [Wish(201.0, "start")])
    assert (drill.round.number, drill.round.first_click) == (5, pytest.approx(201.8))


def test_a_last_time_while_it_waits_is_the_end(ferry: Chart) -> None:
    drill = a_drill(ferry, SECONDS)
    play(drill, 100.0)
    drill.advance(101.0, [Wish(101.0, "last time")])
    assert drill.ended is None, "that could have been to take it back"
    _, reports = play(drill, 102.0, Wish(102.0, "last time", True))
    assert (drill.ended, told(reports)) == ("player", [(102.0, "ended")])


@pytest.mark.parametrize(("notes", "over"), [(0, 29.057), (1, None)])
def test_patient_waits_twenty_seconds_from_the_last_note_or_the_downbeat(
    ferry: Chart, round_player: RoundPlayer, notes: int, over: float | None
) -> None:
    """At 53 quarters a minute the passage begins after 9.057 s."""
    drill = a_drill(ferry, kind="notes")
    played = [event for event in round_player.plays(drill.round) if event.is_note_on and event.seconds > 9.1][:notes]
    _, reports = play(drill, 45.0, *played)
    expected = over or played[-1].seconds + 20.0
    assert told(reports, "resting")[0][0] == pytest.approx(expected, abs=0.001)


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


def test_after_a_round_that_was_played_two_silent_ones_are_waited_for(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry, replace(MELODY, start=100.0, goal=120.0))
    go_through(drill, round_player.plays(drill.round))
    play(drill, 300.0)
    assert drill.silent and [one.verdict and one.verdict.nothing for one in drill.rounds] == [False, True, True]


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


def test_what_was_asked_for_is_said(ferry: Chart) -> None:
    drill = a_drill(ferry, replace(MELODY, start=100.0, goal=120.0, step=5.0))
    wishes = [(3.0, "faster", None), (3.5, "slower", None), (4.0, "stay", None), (4.5, "stay", None),
              (5.0, "last time", None), (5.5, "last time", None), (6.0, "last time", True),
              (6.5, "last time", True)]  # fmt: skip
    _, reports = play(drill, 7.0, *(Wish(*wish) for wish in wishes))  # type: ignore[arg-type]
    taken_back = "taken back: it goes on as before"
    assert [(one.seconds, one.why) for one in rounds_told(reports)[1:]] == [
        (3.0, "next at 105"), (3.5, "next at 100"), (4.0, "stays at 100"), (4.5, "goes on as before"),
        (5.0, "the last round"), (5.5, taken_back), (6.0, "the last round"), (6.5, "the last round"),
    ]  # fmt: skip


@pytest.mark.parametrize(("before", "tempo"), [(0.07, 105), (0.05, 100)])
def test_faster_holds_for_a_round_until_its_first_click_is_about_to_go_out(
    ferry: Chart, before: float, tempo: float
) -> None:
    """Its order goes out 10 ms before it sounds, and 50 ms are needed to lay it out."""
    drill = Drill(
        ferry, drill_request(ferry, BARS, replace(MELODY, start=100.0, goal=120.0, step=5.0)), first_click=2.0
    )
    play(drill, 2.0 - before, Wish(2.0 - before, "faster"))
    assert (len(drill.rounds), drill.round.tempo, drill.round.first_click) == (1, tempo, 2.0)


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
    drill = a_drill(ferry, replace(MELODY, parts=(), rounds=13), kind="keys")
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
