"""A drill whose minutes are over ends with the round that is on; where nobody plays, at once."""

from __future__ import annotations

from companion.chart.model import Chart
from companion.messages import Wish
from companion.practice.drill import Drill
from companion.practice.request import Said, drill_request
from tests.practice.conftest import RoundPlayer, go_through


def a_drill(chart: Chart) -> Drill:
    return Drill(chart, drill_request(chart, (9, 12), Said(you=frozenset({"melody"}), start=120.0, goal=120.0)))


def test_the_round_that_is_on_is_the_last(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry)
    heard = round_player.plays(drill.round)
    drill.advance(heard[0].seconds, [heard[0]])
    drill.advance(heard[0].seconds, [Wish(heard[0].seconds, "last time", True)])
    go_through(drill, heard[1:])
    assert drill.ended == "player" and not drill.stopped
    assert len(drill.rounds) == 1 and drill.rounds[0].verdict


def test_whoever_said_the_last_time_before_is_not_taken_back(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry)
    heard = round_player.plays(drill.round)
    drill.advance(0.5, [Wish(0.5, "last time")])
    drill.advance(0.6, [Wish(0.6, "last time", True)])
    go_through(drill, heard)
    assert drill.ended == "player"


def test_where_it_waits_for_a_player_who_has_gone_it_ends_at_once(ferry: Chart) -> None:
    drill = a_drill(ferry)
    step = drill.advance(0.0, [])
    while step.wake is not None and not drill.silent:
        step = drill.advance(step.wake, [])
    assert drill.silent and not drill.ended
    now = drill.rounds[-1].start + 100.0
    drill.advance(now, [Wish(now, "last time", True)])
    assert drill.ended == "player"


def test_the_wish_to_stop_is_told_from_the_wish_for_the_next(ferry: Chart) -> None:
    for name, stopped in (("stop", True), ("next", False)):
        request = drill_request(ferry, (9, 12), Said(you=frozenset({"melody"})))
        drill = Drill(ferry, request, moves_on=False)
        drill.advance(1.0, [Wish(1.0, name)])  # type: ignore[arg-type]
        assert (drill.ended, drill.stopped) == ("player", stopped)
