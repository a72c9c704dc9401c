"""``companion review``: of a take and of a recording, in words and as JSON; and what it says of wrong words."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from companion.cli.commands import build_parser
from companion.load import load
from companion.pianist.player import simulate
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform as perform_demo
from companion.stage.performance import recording_bytes
from companion.stage.settings import Settings
from tests.practice.planted import Leg, PlantedTake, perform
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import take_of
from tests.practice.test_proposal import LINE

NAME = "ferry-without-lights"


def once(**more: float) -> PlantedTake:
    return perform(load(chart_path(NAME)).unfold(), [Leg(-1, 128)], **more)  # type: ignore[arg-type]


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """The tune with one note left out, the tenth."""
    path = tmp_path / "played.mid"
    path.write_bytes(recording_bytes(once().changed(9, None).heard, []))
    return path


def test_a_recording_is_reviewed_in_words_and_as_a_table(run, recording, tmp_path):
    table = tmp_path / "review.json"
    status, out, err = run("review", NAME, str(recording), "--you", "melody", "--json", str(table))
    assert (status, err) == (0, "")
    assert "82 of 83 notes right" in out and "missed" in out
    found = json.loads(table.read_text(encoding="utf-8"))
    assert table.read_text(encoding="utf-8").startswith('{\n "'), "a value a line, so that two can be compared"
    assert [note["kind"] for note in found["notes"]].count("missing") == 1
    assert [finding["what"] for finding in found["findings"]] == ["missed-note"]


def test_the_last_take_is_reviewed_where_nothing_is_said(run, tmp_path, monkeypatch):
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    chart = load(chart_path("two-spoons-short"))
    player = simulate(chart.unfold(), frozenset({"melody"}), choruses=2, seed=5, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=2)
    perform_demo(chart, settings, player, fast=True, data=tmp_path)
    status, out, _ = run("review")
    assert status == 0
    assert out.startswith("Two Spoons Short\n") and "2 times through" in out
    assert "to mend it:\n  companion drill two-spoons-short --bars" in out


def test_without_a_take_it_says_how_to_get_one(run):
    status, _, err = run("review")
    assert status == 2 and "companion play CHART" in err


def test_a_chart_alone_is_told_from_a_take(run):
    status, _, err = run("review", NAME)
    assert status == 2 and err.count("\n") == 1 and "also what was played" in err


def test_an_output_that_is_the_recording_itself_is_refused(run, recording):
    before = recording.read_bytes()
    status, _, err = run("review", NAME, str(recording), "--json", str(recording))
    assert status == 2 and "named twice" in err
    assert recording.read_bytes() == before


def test_it_is_drawn_as_a_picture_for_each_time_through(run, tmp_path, monkeypatch):
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")
    take_of(tmp_path / "data", [LINE, BAD], you="melody")
    out = tmp_path / "last.svg"
    first, second = tmp_path / "last-1.svg", tmp_path / "last-2.svg"
    second.write_text("mine", encoding="utf-8")
    status, words, err = run("review", "last", "--out", out)
    assert status == 0 and f"{first}, {second}: " in words
    assert "what stood there is kept" in err and not out.exists()
    assert "Four Steps" in first.read_text("utf-8") and "time 2 through" in second.read_text("utf-8")


def test_of_a_recording_the_picture_bears_its_name(run, recording, tmp_path):
    pytest.importorskip("verovio", reason="the extra print isn't installed")
    pytest.importorskip("matplotlib", reason="the extra pictures isn't installed")
    out = tmp_path / "played.svg"
    assert run("review", NAME, str(recording), "--you", "melody", "--out", out)[0] == 0
    assert "Ferry Without Lights, played.mid" in out.read_text("utf-8")


def test_another_suffix_is_one_line(run, recording, tmp_path, one_line):
    status, _, err = run("review", NAME, str(recording), "--out", tmp_path / "played.gif")
    assert status == 2 and "end it with .svg" in one_line(err)


@pytest.mark.parametrize("missing", ["verovio", "matplotlib"])
def test_what_is_missing_for_a_picture_is_named_with_the_command_that_installs_it(
    run, recording, tmp_path, monkeypatch, one_line, missing
):
    monkeypatch.setitem(sys.modules, missing, None)
    status, out, err = run("review", NAME, str(recording), "--you", "melody", "--out", tmp_path / "played.svg")
    assert status == 2 and missing in one_line(err) and "pip install" in err
    assert "82 of 83 notes right" in out, "the review itself needs neither"


@pytest.mark.parametrize("before", [True, False])
def test_the_drill_that_is_printed_runs_as_it_stands_with_the_folder_that_was_told(run, tmp_path, before):
    """A folder whose name has a blank, told before the command or behind it."""
    data = tmp_path / "of mine"
    take_of(data, [[*LINE[:4], 80, None, None, None, *LINE[8:]]], you="melody")
    told = ("--data", str(data))
    status, out, _ = run(*((*told, "review") if before else ("review", *told)))
    (command,) = (line.strip() for line in out.splitlines() if line.strip().startswith("companion drill"))
    args = build_parser().parse_args(shlex.split(command)[1:])
    assert status == 0 and args.data == data


@pytest.mark.parametrize("command", ["take show last", "signals show", "today"])
def test_every_command_that_is_printed_to_be_started_names_the_folder_that_was_told(run, tmp_path, command):
    take_of(tmp_path, [LINE], you="melody")
    _, out, _ = run(*command.split(), "--data", str(tmp_path))
    printed = re.findall(r"companion (?:take|review|print|replay|play|drill|signals) [^;]*", out)
    assert printed and all(f"--data {tmp_path}" in one for one in printed)


def test_who_played_what_may_be_said_otherwise(run, tmp_path):
    take_of(tmp_path / "data", [LINE], you="melody")
    usual, other = run("review")[1], run("review", "--you", "bass")[1]
    assert usual == run("review", "last", "--you", "melody")[1] != other


def test_a_picture_of_a_take_bears_its_day(run, tmp_path, monkeypatch):
    counts, drawn = [0, 1, 2], []

    def review_pictures(chart, you, found, title, *, progress):
        drawn.append((title, *sorted(you)))
        return [SimpleNamespace(svg="<svg/>")] * counts.pop(0)

    monkeypatch.setattr("companion.practice.review_picture.review_pictures", review_pictures)
    take = take_of(tmp_path / "data", [LINE], you="melody")
    out, several = tmp_path / "last.svg", ", ".join(str(tmp_path / f"last-{n}.svg") for n in (1, 2))
    for said in (
        f"{out}: nothing to draw",
        f"{out}: what you played over what is written",
        f"{several}: what you played over what is written",
    ):
        assert run("review", "last", "--out", out)[1].splitlines()[-1] == said
    day = f"{take.started.day} {take.started:%B %Y, %H:%M}"
    assert drawn == [(f"Four Steps, {day}", "melody")] * 3
    assert sorted(path.name for path in tmp_path.glob("*.svg")) == ["last-1.svg", "last-2.svg", "last.svg"]


@pytest.mark.parametrize("name", [NAME, "here.toml"])
def test_the_drill_that_is_proposed_names_the_chart_as_it_was_named(run, tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    shutil.copy(chart_path(NAME), "here.toml")
    played = once()
    for note in range(20, 26):
        played = played.changed(note, None)
    recording = tmp_path / "played.mid"
    recording.write_bytes(recording_bytes(played.heard, []))
    assert f"companion drill {name} --bars" in run("review", name, recording, "--you", "melody")[1]
