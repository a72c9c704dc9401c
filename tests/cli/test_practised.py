"""Earlier takes of a tune count when it is played again, and it says so; with --as-new they don't."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from companion.load import load
from companion.pianist.player import simulate
from companion.practice.earlier import learn
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform
from companion.stage.settings import Settings
from companion.stage.take import list_takes, read_take

CHART = "two-spoons-short"
MELODY = frozenset({"melody"})


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with a take that has taught the companion."""
    data, chart = tmp_path_factory.mktemp("evening"), load(chart_path(CHART))
    player = simulate(chart.unfold(), MELODY, choruses=2, seed=5, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=2)
    perform(chart, settings, player, fast=True, data=data)
    (take,) = list_takes(data)
    learn(take.folder, data)
    return data


@pytest.fixture
def data(evening: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run) -> Path:
    """The same, for one test to change."""
    shutil.copytree(evening, tmp_path / "data", dirs_exist_ok=True)
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture
def played(data: Path) -> Path:
    """The MIDI file of what was played before."""
    (take,) = list_takes(data)
    return take.midi


def test_it_says_that_it_goes_by_the_last_take(run, played):
    status, _, err = run("replay", CHART, played)
    assert status == 0 and "in your last take of it; --as-new leaves that out" in err


def test_as_new_says_nothing_and_beats_fall_as_if_nothing_had_been_kept(run, data, played, tmp_path):
    beats = []
    for n, words in enumerate((("--as-new",), (), ("--as-new",))):
        out = tmp_path / f"{n}.csv"
        status, _, err = run("replay", CHART, played, "--beats", out, *words)
        assert status == 0 and ("last take" in err) == (not words)
        beats.append(out.read_text())
    shutil.rmtree(data / "timing")
    assert run("replay", CHART, played, "--beats", tmp_path / "without.csv")[0] == 0
    assert beats[0] == beats[2] == (tmp_path / "without.csv").read_text()
    assert beats[1] != beats[0], "what was learnt counts"


def test_a_drill_goes_by_earlier_takes_as_well(run, played):
    status, _, err = run("drill", CHART, "--bars", "5-8", "--replay", played)
    assert status == 0 and "your last take" in err
    status, _, err = run("drill", CHART, "--bars", "5-8", "--replay", played, "--as-new")
    assert status == 0 and "your last take" not in err


def test_where_the_time_is_not_the_players_own_nothing_is_said(run, played):
    for time in ("patient", "steady"):
        status, _, err = run("replay", CHART, played, "--time", time, "--tempo", "120", "--start", "2")
        assert status == 0 and "your last take" not in err


def test_a_take_is_replayed_with_what_was_known_when_it_was_played(run, data, played, tmp_path):
    chart = load(chart_path(CHART))
    from companion.practice.earlier import shape_from_earlier

    shape = shape_from_earlier(chart.unfold(), MELODY)
    assert shape is not None
    player = simulate(chart.unfold(), MELODY, choruses=1, seed=6, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=1, shape=shape)
    perform(chart, settings, player, fast=True, data=data)
    latest = list_takes(data)[0]
    assert read_take(latest.folder).rehearsed()[1].shape == shape
    assert run("replay", latest.folder, "--beats", tmp_path / "one.csv")[0] == 0
    shutil.rmtree(data / "timing")
    assert run("replay", latest.folder, "--beats", tmp_path / "two.csv")[0] == 0
    assert (tmp_path / "one.csv").read_text() == (tmp_path / "two.csv").read_text()
    assert run("replay", latest.folder, "--as-new", "--beats", tmp_path / "new.csv")[0] == 0
    assert (tmp_path / "new.csv").read_text() != (tmp_path / "one.csv").read_text()
