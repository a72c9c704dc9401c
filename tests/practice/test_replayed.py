"""A recording played into a drill, and its rounds as a table."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.chart.model import Chart
from companion.messages import Heard, Wish
from companion.practice.replayed import replay_drill, rounds_table
from tests.practice.conftest import RoundPlayer, Slips
from tests.practice.test_drill import SECONDS, a_drill


def test_rounds_are_tabled_with_what_became_of_them(ferry: Chart, round_player: RoundPlayer) -> None:
    drill = a_drill(ferry, replace(SECONDS, rounds=2))
    heard = round_player.plays(drill.round, Slips(wrong=frozenset({2}), missing=frozenset({5})))
    moments: list[float] = []
    replay_drill(drill, heard, 24.5, watch=moments.append)
    assert moments == [event.seconds for event in heard]
    first, second = rounds_table(drill)
    why = first.pop("why")
    assert "not" in why and "missed" in why
    assert first == {
        "round": 1, "bars": [9, 12], "you": ["melody"], "key": "G minor", "tempo": 60.0, "start_s": 8.0, "end_s": 24.0,
        "good": False, "right": 9, "wrong": 1, "missing": 1, "extra": 0,
    }  # fmt: skip
    assert second == {
        "round": 2, "bars": [9, 12], "you": ["melody"], "key": "G minor", "tempo": 60.0, "start_s": 36.0, "end_s": None,
        "good": None, "why": "", "right": 0, "wrong": 0, "missing": 0, "extra": 0,
    }  # fmt: skip


@pytest.mark.parametrize(("length", "rounds", "judged"), [(-5.0, 1, False), (20.0, 1, False), (25.0, 2, True)])
def test_a_recording_without_notes_goes_on_to_its_end_and_no_farther(
    ferry: Chart, length: float, rounds: int, judged: bool
) -> None:
    drill = a_drill(ferry, SECONDS)
    replay_drill(drill, [], length)
    assert (len(drill.rounds), drill.rounds[0].verdict is not None) == (rounds, judged)


def test_after_the_last_note_its_round_is_judged_however_short_the_recording_is(
    ferry: Chart, round_player: RoundPlayer
) -> None:
    drill = a_drill(ferry, SECONDS)
    orders = replay_drill(drill, round_player.plays(drill.round), 0.0)
    assert drill.rounds[0].verdict is not None and drill.rounds[0].verdict.good
    assert [order.data1 for order in orders if order.seconds > 24.5 and order.status == 0x90][:2] == [81, 81]


@pytest.mark.parametrize(("at", "judged"), [(7.99, False), (8.0, True), (8.01, True)])
def test_the_last_key_belongs_to_the_round_that_has_begun_and_a_wish_is_no_key(
    ferry: Chart, at: float, judged: bool
) -> None:
    """The passage's first downbeat is due after eight seconds."""
    drill = a_drill(ferry, SECONDS)
    replay_drill(drill, [Heard(at, 0x90, 67, 80), Heard(at, 0x80, 67, 0), Wish(9.0, "stay")], 9.0)
    assert (drill.rounds[0].verdict is not None) is judged
