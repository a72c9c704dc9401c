"""Whoever practises is stayed with: guards, with a margin below what is reached.

The players are made up, kind by kind, in ``tests/benchmarks/practising_players.py``, and practise our own charts. A
beat is held when it is sounded within 70 ms of the player's own at its place of the chart, as in ``beat_scores.py``.
"""

from __future__ import annotations

import statistics
from functools import cache

import pytest
from beat_scores import errors, held, recoveries, share
from practising_players import Practised, perform

from companion.chart.model import Chart
from companion.load import load
from companion.messages import Beat
from companion.resources import chart_path
from companion.stage.replay import replay
from companion.stage.settings import Settings

STEPS, BLUES, TUNE = "staircase-on-loan", "two-spoons-short", "ferry-without-lights"
COUNTED, FREE = True, False


@cache
def tune(name: str) -> Chart:
    return load(chart_path(name))


@cache
def practised(kind: str, name: str, seed: int, counted: bool = COUNTED) -> tuple[Practised, tuple[bool, ...]]:
    """A performance, and which of its beats the companion held; it plays nothing itself, which is faster."""
    player = perform(tune(name).unfold(), kind, seed)
    told = {"tempo": player.tempo, "start": player.start} if counted else {}
    settings = Settings(you=frozenset(player.you.split(",")), parts=(), **told)
    recording = replay(tune(name), player.heard, settings, until=player.until)
    said = [report for report in recording.reports if isinstance(report, Beat)]
    return player, tuple(held(errors(player.truth, said)))


def hold(kind: str, name: str, seed: int, counted: bool = COUNTED) -> float:
    return share(practised(kind, name, seed, counted)[1])


def returns(kind: str, name: str, seed: int, counted: bool = COUNTED) -> list[float]:
    """Beats after each leap and each stop until the companion is back."""
    player, together = practised(kind, name, seed, counted)
    return recoveries(player.truth, together)


def test_the_beat_goes_on_under_a_head_that_is_phrased_ahead_of_it_and_behind_it() -> None:
    assert sum(hold("phrased", TUNE, seed) for seed in range(3)) / 3 >= 0.86, "three phrasings; one may be hard to tell"


def test_a_phrased_head_is_found_without_a_count_in() -> None:
    assert hold("phrased", TUNE, 1, FREE) >= 0.70


@pytest.mark.parametrize(("counted", "at_least"), [(COUNTED, 0.92), (FREE, 0.82)])
def test_a_player_who_improvises_where_the_melody_was_told_is_followed(counted: bool, at_least: float) -> None:
    assert hold("improvised", BLUES, 2, counted) >= at_least


@pytest.mark.parametrize("counted", [COUNTED, FREE])
def test_a_head_that_turns_into_a_solo_is_followed_through(counted: bool) -> None:
    assert hold("half-head", TUNE, 1, counted) >= 0.88


def test_the_head_after_a_solo_is_followed_without_a_word() -> None:
    assert hold("there-and-back", BLUES, 1) >= 0.88


def test_who_stops_and_begins_again_from_the_top_is_met_there_within_a_bar() -> None:
    back = returns("again", BLUES, 1) + returns("again", TUNE, 2)
    assert len(back) >= 5 and statistics.median(back) <= 3 and max(back) <= 8
    assert hold("again", BLUES, 1) >= 0.84


def test_who_stops_in_mid_phrase_is_met_where_they_go_on() -> None:
    back = returns("stops", TUNE, 1) + returns("stops", BLUES, 1)
    assert len(back) >= 6 and statistics.median(back) <= 4


def test_bars_that_are_played_over_and_over_are_followed_round() -> None:
    assert hold("loop", TUNE, 1) >= 0.86


def test_a_sight_reader_at_half_the_tempo_told_isnt_lost() -> None:
    assert hold("reading", BLUES, 1) >= 0.76
    assert hold("reading", STEPS, 3) >= 0.85, "and every pause is waited for"


def test_a_player_slower_than_they_counted_in_is_followed_at_their_own_tempo() -> None:
    assert hold("slower", TUNE, 1) >= 0.86
    assert hold("tempo-off", TUNE, 2) >= 0.86


@pytest.mark.parametrize("kind", ["half-late", "beat-late", "bar-late", "beat-early"])
def test_a_count_in_is_advice_and_who_comes_in_beside_it_is_followed(kind: str) -> None:
    assert hold(kind, BLUES, 2) >= 0.86


def test_a_head_begun_out_of_time_is_followed_into_time() -> None:
    assert hold("free-start", STEPS, 1) >= 0.88


def test_a_melody_in_another_octave_is_the_melody() -> None:
    assert hold("octave", BLUES, 2) >= 0.84


def test_a_left_hand_that_nobody_spoke_of_disturbs_nothing() -> None:
    assert hold("both-hands", BLUES, 1) >= 0.88
