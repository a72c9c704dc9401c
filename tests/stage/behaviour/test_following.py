"""How closely the built-in player is followed, in every manner and role: guards, with a margin below what is reached.

A beat is held when it is sounded within 70 ms of the player's own at its place of the chart (a common tolerance for
beats in music information retrieval; mir_eval's ``beat.f_measure``).
"""

from __future__ import annotations

import statistics
from functools import cache
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.load import load
from companion.pianist.player import SimulatedPerformance, simulate
from companion.resources import chart_path
from companion.stage.demo import closeness, returns
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

TUNE, BLUES = "ferry-without-lights", "two-spoons-short"


@cache
def tune(name: str) -> Chart:
    return load(chart_path(name))


def followed(name: str, role: str, manner: str, seed: int = 1, **more: Any) -> tuple[SimulatedPerformance, Recording]:
    """A performance, and what the companion made of it; counted in unless told otherwise."""
    chart = tune(name)
    choruses = max(1, 24 // len(chart.unfold().bars))
    tempo, counted_in, begin = more.get("tempo"), more.get("counted_in", True), more.get("begin", 0.0)
    player = simulate(chart.unfold(), role, manner=manner, tempo=tempo, seed=seed, choruses=choruses, begin=begin)
    you = frozenset(role.split(","))
    rest = tuple(p for p in ("melody", "chords", "bass") if p not in you and (p != "melody" or "solo" not in you))
    given = {"tempo": player.tempo, "start": player.start} if counted_in else {}
    settings = Settings(you=you, parts=rest, **given)
    return player, replay(chart, player.heard, settings, until=player.truth[-1].seconds + 0.2)


@pytest.mark.parametrize(
    ("role", "manner", "tempo", "at_least"),
    [
        ("melody", "clean", None, 0.95),
        ("melody", "human", None, 0.95),
        ("melody", "messy", None, 0.90),
        ("melody", "leaping", None, 0.88),
        ("melody", "stopping", None, 0.88),
        ("melody", "speeding", None, 0.90),
        ("melody", "slow", 50.0, 0.90),
        ("melody", "free", 80.0, 0.50),
        ("melody,chords", "right-hand", None, 0.95),
        ("chords", "clean", None, 0.80),
        ("solo", "clean", None, 0.95),
        ("solo", "loose", None, 0.55),
        ("bass", "clean", None, 0.95),
    ],
)
def test_a_player_of_every_kind_is_followed(role: str, manner: str, tempo: float | None, at_least: float) -> None:
    player, recording = followed(TUNE if "melody" in role else BLUES, role, manner, tempo=tempo)
    close = closeness(player, recording.reports)
    assert close.held / close.beats >= at_least


def test_after_a_stop_the_companion_is_back_within_a_bar() -> None:
    lost = []
    for seed in range(2):
        player, recording = followed(TUNE, "melody", "stopping", seed)
        lost += [beats for _, beats in returns(player, recording.reports)]
    assert lost and statistics.median(lost) <= 3 and max(lost) <= 8


@pytest.mark.parametrize("begin", [0.0, 64.0])  # the bridge; nobody can tell the second eight from the first at once
def test_it_comes_in_by_itself_from_the_top_or_from_the_middle(begin: float) -> None:
    player, recording = followed(TUNE, "melody", "human", counted_in=False, begin=begin)
    from_third_bar = SimulatedPerformance(player.heard, player.beats[8:], player.tempo, player.start)
    close = closeness(from_third_bar, recording.reports)
    assert close.held / close.beats >= 0.80
