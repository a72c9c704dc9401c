"""What was kept can be listed, looked at, heard, printed, played again and deleted, each by a word."""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest

from companion.load import load
from companion.pianist.player import simulate
from companion.practice.records import Records
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform
from companion.stage.settings import Settings
from companion.stage.take import list_takes

CHART = "two-spoons-short"


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one take: a blues, its melody played by the built-in pianist."""

    data = tmp_path_factory.mktemp("evening")
    chart = load(chart_path(CHART))
    player = simulate(chart.unfold(), frozenset({"melody"}), choruses=2, seed=5, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=2)
    perform(chart, settings, player, fast=True, data=data)
    return data


@pytest.fixture
def data(evening: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run) -> Path:
    """The same, for one test to change."""
    shutil.copytree(evening, tmp_path / "data", dirs_exist_ok=True)
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    return tmp_path / "data"


def test_the_list_says_when_what_how_long_and_how_it_ended(run, data):
    status, out, err = run("take", "list")
    row = out.splitlines()[1].split()
    assert (status, err) == (0, "")
    assert row[0] == "1" and "Two Spoons Short" in out and row[-2:] == ["melody", "ended"]


def test_without_a_take_the_list_says_how_to_get_one(run):
    status, out, _ = run("take", "list")
    assert status == 0 and "companion play CHART" in out


def test_a_damaged_take_is_listed_with_its_reason(run, data):
    (folder,) = (data / "takes").iterdir()
    (folder / "take.json").write_text("{", encoding="utf-8")
    status, out, _ = run("take", "list")
    assert status == 0 and "can't be read" in out and "take.json" in out


def test_showing_one_counts_its_notes_and_choruses_and_names_what_comes_next(run, data):
    status, out, _ = run("take", "show", "last")
    assert status == 0
    assert "your notes: " in out and "chorus 2: " in out and "companion print last --out FILE.pdf" in out


def test_what_was_played_is_printed_on_the_staff_of_the_hand_that_played(run, data, tmp_path):
    out = tmp_path / "played.musicxml"
    status, _, err = run("print", "last", "--out", out)
    assert (status, err) == (0, "")
    text = out.read_text(encoding="utf-8")
    assert text.count("<clef") == 1 and "<sign>G</sign>" in text
    assert len(load(out).unfold().bars) == 24


def test_it_becomes_a_chart_among_the_players_own(run, data):
    status, out, _ = run("chart", "import", "last")
    assert status == 0
    made = Path(out.split(": ")[0])
    assert made.parent == data / "charts" and load(made).title.startswith("Two Spoons Short, as played")


def test_it_is_replayed_with_its_own_settings_but_for_what_is_said(run, data, tmp_path):
    same, other = tmp_path / "same.csv", tmp_path / "other.csv"
    assert run("replay", "last", "--beats", same, "--out", tmp_path / "same.mid")[0] == 0
    assert run("replay", "last", "--beats", other, "--time", "steady", "--parts", "bass")[0] == 0
    beats = [line.split(",") for line in same.read_text().splitlines()[1:]]
    (take,) = list_takes()
    kept = [beat.seconds for beat in take.beats]
    assert [float(row[1]) for row in beats[: len(kept)]] == pytest.approx(kept, abs=0.003)
    assert same.read_text() != other.read_text()


def test_the_latency_of_a_take_is_its_own_unless_it_is_said(data):
    from companion.cli.commands import build_parser
    from companion.cli.words import settings_like
    from companion.stage.settings import Settings

    taken = Settings(latency=0.035, time="patient", you=frozenset({"melody"}))
    said = build_parser().parse_args(["replay", "last"])
    assert settings_like(taken, said) == taken
    said = build_parser().parse_args(["replay", "last", "--latency", "20", "--trade", "4"])
    other = settings_like(taken, said)
    assert (other.latency, other.trade, other.you) == (0.02, 4, {"solo"})


def test_a_chart_alone_is_not_enough_to_replay(run, one_line):
    status, _, err = run("replay", CHART)
    assert status == 2 and "PERFORMANCE" in one_line(err)


def test_a_take_is_rendered_from_a_moment_on_and_by_its_voices(run, data, tmp_path):
    whole, part = tmp_path / "whole.wav", tmp_path / "part.wav"
    assert run("take", "play", "last", "--wav", whole)[0] == 0
    status, out, _ = run("take", "play", "last", "--from", "10", "--only", "you,bass", "--wav", part)
    assert status == 0 and str(part) in out
    with wave.open(str(whole)) as one, wave.open(str(part)) as other:
        apart = (one.getnframes() - other.getnframes()) / one.getframerate()
        assert 9 < apart < 14, "what lies before the moment is left out, not silent"
        frames = np.frombuffer(other.readframes(3 * other.getframerate()), np.int16)
    assert np.abs(frames).max() > 300, "and it sounds within three seconds"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("play", "last", "--only", "drums"), "drums"),
        (("play", "last", "--from", "4000"), "the take lasts"),
        (("show", "9"), "there is no take 9"),
        (("show", "ferry"), "take list"),
        (("delete", "9", "--yes"), "there is no take 9"),
    ],
)
def test_a_word_that_cant_be_meant_is_one_line(run, data, one_line, words, said):
    status, _, err = run("take", *words)
    assert status == 2 and said in one_line(err)


def test_deleting_asks_first_and_no_answer_deletes_nothing(run, data, monkeypatch):
    (folder,) = (data / "takes").iterdir()
    for answer, status in (("\n", 0), ("no\n", 0), ("", 2)):
        monkeypatch.setattr("sys.stdin", io.StringIO(answer))
        assert run("take", "delete", "last")[0] == status and folder.is_dir()
    monkeypatch.setattr("sys.stdin", io.StringIO("y\n"))
    assert run("take", "delete", "last")[0] == 0 and not folder.exists()


def test_a_take_that_the_player_deletes_leaves_the_records_too(run, data):
    run("today")
    with Records(data) as records:
        assert len(records.takes()) == 1
    assert run("take", "delete", "last", "--yes")[0] == 0
    with Records(data) as records:
        assert records.takes() == []
    run("today")
    with Records(data) as records:
        assert records.takes() == []


def test_a_folder_that_holds_more_than_a_take_is_not_deleted(run, data, one_line):
    (folder,) = (data / "takes").iterdir()
    (folder / "thoughts.txt").write_text("bar 9!", encoding="utf-8")
    status, _, err = run("take", "delete", "last", "--yes")
    assert status == 2 and "thoughts.txt" in one_line(err) and folder.is_dir()


def test_a_take_sounds_again_on_an_instrument_and_nothing_is_left_on(shell, data, instrument):
    (take,) = list_takes()
    upright, begin = instrument("upright"), take.seconds - 4
    played = shell("take", "play", "last", "--from", begin, "--port", "ears")
    assert played.returncode == 0, played.stderr
    mine = [e.data1 for e in take.heard() if e.is_note_on and e.seconds >= begin]
    theirs = [o.data1 for o in take.sounded() if o.status == 0x90 and o.data2 and o.seconds >= begin]
    assert mine and theirs and sorted(upright.notes_on()) == sorted([*mine, *theirs])
    assert not upright.sounding()


ELSEWHERE = """
import time
from companion.ports.binding import binding
ears = binding().listener("jack", "upright")
ears.listen(lambda delta, message: print("heard", flush=True))
ears.handle.open_virtual_port("ears")
print("open", flush=True)
time.sleep(60)
"""
"""An instrument in a process of its own: what dies with it is all that it had, as when a cable is pulled."""


def test_a_take_ends_with_one_line_when_its_instrument_goes_away(data, jack_server, one_line):
    upright = subprocess.Popen([sys.executable, "-c", ELSEWHERE], stdout=subprocess.PIPE, text=True)
    assert upright.stdout.readline() == "open\n"
    words = [sys.executable, "-m", "companion", "take", "play", "last", "--from", "20", "--port", "ears"]
    playing = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
    assert upright.stdout.readline() == "heard\n"
    upright.kill()
    upright.wait()
    upright.stdout.close()
    _, said = playing.communicate(timeout=30)  # a good half minute of the take is left: it isn't played out
    assert playing.returncode == 3
    assert "went away" in one_line(said.split("Ctrl-C ends\n")[1])
