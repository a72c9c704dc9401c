"""Earlier takes of a tune count when it is played again, and it says so; with --as-new they don't."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path
from queue import SimpleQueue
from types import SimpleNamespace
from typing import Any

import pytest

from companion.arrange.chords.comping_style import CompingStyle, UsedRhythm
from companion.cli.practised import last_time_after, shape_before, style_wished, take_kept
from companion.load import load
from companion.messages import Wish
from companion.pianist.player import simulate
from companion.practice.comping_words import in_short
from companion.practice.earlier import learn
from companion.preferences.reading import forget
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


# What is known of the player's chords


KNOWN = CompingStyle((), (UsedRhythm("4/4", "swing", (0.0, 1.5), (1.0, 0.5), 1.0, 12, 4),), 5)
UNKNOWN = CompingStyle((), (), 5)


@pytest.mark.parametrize(
    ("wish", "style", "said"),
    [
        (None, KNOWN, None),
        (False, KNOWN, None),
        (True, KNOWN, f"chords like yours: {in_short(KNOWN)}; --no-like-you leaves that out\n"),
        (True, UNKNOWN, "chords like yours: nothing is known of yet; 'companion history --chords' says why\n"),
    ],
)
def test_chords_are_like_the_players_where_that_is_wished_and_it_is_said(
    run, monkeypatch, capsys, wish: bool | None, style: CompingStyle, said: str | None
):
    monkeypatch.setattr("companion.practice.comping_learnt.style_of_player", lambda progress: style)
    assert style_wished(wish) == (style if said else None)
    assert capsys.readouterr().err == (said or "")


def test_what_is_always_wished_is_said_only_where_something_is_known(run, monkeypatch, capsys, tmp_path):
    (tmp_path / "data" / "configs").mkdir(parents=True)
    (tmp_path / "data" / "configs" / "like-you.toml").write_text("[wish]\nalways = true\n", encoding="utf-8")
    forget()
    monkeypatch.setattr("companion.practice.comping_learnt.style_of_player", lambda progress: UNKNOWN)
    assert style_wished(None) == UNKNOWN and capsys.readouterr().err == ""
    monkeypatch.setattr("companion.practice.comping_learnt.style_of_player", lambda progress: KNOWN)
    assert style_wished(None) == KNOWN and "--no-like-you leaves that out" in capsys.readouterr().err
    forget()


@pytest.mark.parametrize(("takes", "many"), [(1, "your last take"), (2, "your last 2 takes"), (5, "your last 5 takes")])
def test_it_says_how_many_takes_it_goes_by(monkeypatch, capsys, ferry, takes: int, many: str):
    shape = SimpleNamespace(takes=takes)
    monkeypatch.setattr("companion.practice.earlier.shape_from_earlier", lambda form, you: shape)
    args = argparse.Namespace(as_new=False)
    assert shape_before(args, ferry, MELODY, "follow") is shape
    said = f"it goes by where you stretched and pushed in {many} of it; --as-new leaves that out\n"
    assert capsys.readouterr().err == said
    assert shape_before(args, ferry, MELODY, "steady") is None is shape_before(args, ferry, MELODY, "patient")
    assert shape_before(argparse.Namespace(as_new=True), ferry, MELODY, "follow") is None
    assert capsys.readouterr().err == ""


def test_after_so_many_minutes_it_is_the_last_time(monkeypatch):
    timers: list[Any] = []

    class Timer:
        def __init__(self, seconds, function):
            self.seconds, self.function, self.over = seconds, function, False
            timers.append(self)

        def start(self):
            self.function()

        def cancel(self):
            self.over = True

    monkeypatch.setattr("companion.cli.practised.threading", SimpleNamespace(Timer=Timer))
    wishes: Any = SimpleQueue()
    with last_time_after(3, wishes):
        assert (timers[0].seconds, timers[0].over) == (180.0, False)
    assert timers[0].over and wishes.get_nowait() == Wish(0.0, "last time", True)
    with last_time_after(None, wishes):
        assert len(timers) == 1


def test_what_isnt_as_it_should_be_with_the_records_is_one_line(capsys, monkeypatch):
    take_kept(None)
    assert capsys.readouterr().err == ""
    take_kept(None, "the records are full")
    assert capsys.readouterr().err == "companion: the records are full\n"
