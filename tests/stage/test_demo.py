"""The demo: a player with human timing is followed, in real time as at once, and a take is kept of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.load import load
from companion.messages import Beat, State
from companion.pianist.player import SimulatedPerformance, simulate
from companion.resources import chart_path
from companion.stage import demo
from companion.stage.demo import closeness, perform, returns
from companion.stage.performance import read_performance
from companion.stage.settings import Settings
from companion.stage.take import read_take


@pytest.fixture(scope="module")
def blues() -> Chart:
    return load(chart_path("two-spoons-short"))


@pytest.fixture(autouse=True)
def own_takes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))


def _evening(chart: Chart, manner: str = "human", **more: Any) -> tuple[SimulatedPerformance, Settings]:
    player = simulate(chart.unfold(), "melody", manner=manner, seed=4)
    return player, replace(Settings(), tempo=player.tempo, start=player.start, choruses=1, **more)


class Clock:
    """A clock that only sleeping moves."""

    def __init__(self) -> None:
        self.seconds = 100.0

    def __call__(self) -> float:
        return self.seconds

    def sleep(self, seconds: float) -> None:
        self.seconds += seconds


def test_in_real_time_it_plays_what_it_plays_at_once(blues: Chart, monkeypatch: pytest.MonkeyPatch) -> None:
    player, settings = _evening(blues, count_in=2)
    at_once = perform(blues, settings, player, fast=True)
    clock = Clock()
    monkeypatch.setattr(demo, "now", clock)
    monkeypatch.setattr(demo.time, "sleep", clock.sleep)
    in_time = perform(blues, settings, player, fast=False)
    assert in_time.recording == at_once.recording
    last = max(player.heard[-1].seconds, player.truth[-1].seconds)
    assert clock.seconds - 100.0 == pytest.approx(demo.BEFORE + last + demo.AFTER, abs=0.01)


def test_the_count_in_is_even_and_leads_to_the_players_first_beat(blues: Chart) -> None:
    player, settings = _evening(blues, "clean", count_in=2)
    recording = perform(blues, settings, player, fast=True).recording
    clicks = [order.seconds for order in recording.orders if order.part == "click" and order.status == 0x90]
    beat = 60 / player.tempo
    assert clicks[:8] == pytest.approx([player.start - n * beat for n in range(8, 0, -1)], abs=0.005)
    states = [report.name for report in recording.reports if isinstance(report, State)]
    counted = 8  # each beat of it is told, and its beginning before the first
    assert states[: counted + 2] == ["counting"] * (counted + 1) + ["playing"]


def test_each_note_is_handed_over_before_it_is_due(blues: Chart, monkeypatch: pytest.MonkeyPatch) -> None:
    player, settings = _evening(blues)
    clock = Clock()
    sent: list[tuple[float, float, tuple[int, ...]]] = []

    class Sound:
        def order(self, due: float, message: tuple[int, ...]) -> None:
            sent.append((clock.seconds, due, message))

        def wait_until(self, moment: float) -> None:
            clock.sleep(max(0.0, moment - clock.seconds))

    monkeypatch.setattr(demo, "now", clock)
    monkeypatch.setattr(demo.time, "sleep", clock.sleep)
    perform(blues, settings, player, fast=False, sound=Sound(), channels={"bass": 2, "chords": 3})  # type: ignore[arg-type]
    assert all(given <= due + 1e-6 for given, due, _ in sent)
    assert {message[0] & 0x0F for _, _, message in sent} == {0, 1, 2}  # the player, the bass, the chords
    sounding: set[tuple[int, int]] = set()
    for _, _, (status, note, velocity) in sorted(sent, key=lambda row: row[1]):
        if status & 0xF0 == 0x90 and velocity:
            sounding.add((status & 0x0F, note))
        elif status & 0xF0 in (0x80, 0x90):
            sounding.discard((status & 0x0F, note))
    assert not sounding


def test_ctrl_c_keeps_what_was_played(blues: Chart) -> None:
    player, settings = _evening(blues)

    def stop(seconds: float, *_: object) -> None:
        if seconds > 10.0:
            raise KeyboardInterrupt

    evening = perform(blues, settings, player, fast=True, watch=stop)
    assert evening.interrupted and evening.take
    notes = [event for event in read_performance(evening.take / "take.mid") if event.is_note_on]
    assert [note.data1 for note in notes] == [h.data1 for h in evening.recording.heard if h.is_note_on]
    assert 0 < len(notes) < sum(event.is_note_on for event in player.heard)


@pytest.mark.parametrize("fast", [True, False])
def test_a_chorus_that_cannot_be_arranged_ends_it_with_the_take_kept(
    blues: Chart, break_from: Callable[[int, Exception], None], monkeypatch: pytest.MonkeyPatch, fast: bool
) -> None:
    clock, fault = Clock(), ZeroDivisionError("a bar without beats")
    monkeypatch.setattr(demo, "now", clock)
    monkeypatch.setattr(demo.time, "sleep", clock.sleep)
    player = simulate(blues.unfold(), "melody", manner="clean", seed=4, choruses=4)
    settings = Settings(tempo=player.tempo, start=player.start, choruses=4)
    break_from(3, fault)
    evening = perform(blues, settings, player, fast=fast)
    assert evening.error is fault and not evening.interrupted and evening.take
    kept = read_take(evening.take)
    assert kept.how == "lost" and max(beat.chorus for beat in kept.beats) == 1
    assert kept.heard() and kept.sounded()
    assert 0 < evening.closeness.beats < len(player.beats)


@pytest.mark.parametrize("manner", ["clean", "evening"])
def test_a_player_in_time_is_followed_beat_by_beat(blues: Chart, manner: str) -> None:
    player, settings = _evening(blues, manner)
    close = perform(blues, settings, player, fast=True).closeness
    assert close.beats == len(player.beats) >= 48
    assert close.held >= 0.85 * close.beats and close.median_ms < 35


def test_closeness_counts_a_beat_by_its_place_and_its_moment(blues: Chart) -> None:
    player, _ = _evening(blues, "clean")
    true = [Beat(row.chart_beat, row.seconds, 1.0) for row in player.beats]
    assert closeness(player, true).held == len(true)
    late = [replace(beat, seconds=beat.seconds + 0.030) for beat in true]
    assert (closeness(player, late).held, round(closeness(player, late).median_ms)) == (len(true), 30)
    assert closeness(player, [replace(beat, seconds=beat.seconds + 0.080) for beat in true]).held == 0
    assert closeness(player, [replace(beat, chart_beat=beat.chart_beat + 100) for beat in true]).held == 0


def test_coming_back_after_a_stop_is_counted_in_beats(blues: Chart) -> None:
    player = simulate(blues.unfold(), "melody", manner="stopping", seed=4, choruses=2)
    true = [Beat(row.chart_beat, row.seconds, 1.0) for row in player.beats]
    resumed = [k for k, row in enumerate(player.beats) if row.mark == "resume"]
    assert resumed
    assert [lost for _, lost in returns(player, true)] == [0] * len(resumed)
    assert all(pause > 2.0 for pause, _ in returns(player, true))
    first = resumed[0]
    two_missed = [beat for k, beat in enumerate(true) if k not in (first, first + 1)]
    assert returns(player, two_missed)[0][1] == 2


def test_only_the_beats_up_to_ctrl_c_count(blues: Chart) -> None:
    player, settings = _evening(blues, "clean")

    def stop(seconds: float, *_: object) -> None:
        if seconds > 12.0:
            raise KeyboardInterrupt

    close = perform(blues, settings, player, fast=True, watch=stop).closeness
    assert 0 < close.beats < len(player.beats) / 2 and close.held > 0.8 * close.beats


def test_a_whole_tune_is_played_the_last_time_told_and_understood() -> None:
    """The player tells it in the first of two solo choruses: the head follows, and the ending."""
    chart = load(chart_path("ferry-without-lights"))
    settings = Settings(order="chart")
    player = simulate(chart.unfold(), "melody", manner="clean", seed=4, tune=demo.route_of(chart, settings))
    settings = replace(settings, tempo=player.tempo, start=player.start, count_in=2)
    evening = perform(chart, settings, player, fast=True)
    said = [(r.event, r.last) for r in evening.recording.reports if isinstance(r, State)]
    assert [key for key, _ in groupby(said)] == [
        ("introduction", False), ("head", False), ("solos", False), ("solos", True), ("head", False), ("ending", False)
    ]  # fmt: skip
    assert evening.closeness.held >= 0.93 * evening.closeness.beats
    ended = next(r for r in evening.recording.reports if isinstance(r, State) and r.name == "ended")
    assert player.truth[-1].seconds + 2 < ended.seconds < player.truth[-1].seconds + 9
    assert evening.take
    kept = read_take(evening.take)
    assert kept.settings["start"] == pytest.approx(player.start, abs=0.01), "the take begins with the count-in"
    assert [key for key, _ in groupby(state.event for state in kept.states)] == [
        "introduction", "head", "solos", "head", "ending"
    ]  # fmt: skip
    assert {beat.event for beat in kept.beats} == {"introduction", "head", "solos", "ending"}
