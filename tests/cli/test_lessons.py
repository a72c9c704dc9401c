"""A lesson goes from a teacher to a pupil and back, each way in one file, and nothing of anybody's is overwritten."""

from __future__ import annotations

import io
import shlex
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.load import load
from companion.pianist.player import simulate
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.demo import perform
from companion.stage.settings import Settings

CHART = "two-spoons-short"
WORDS = """format = 1
title = "Lightly now"
by = "the teacher"
[[remarks]]
bars = "9-12"
text = "keep the left hand light"
[kinds.hands]
bars = "9-12"
you = "bass"
from = 60
to = 100
"""
Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one take of the tune."""
    data = tmp_path_factory.mktemp("teacher")
    player = simulate(load(chart_path(CHART)).unfold(), frozenset({"melody"}), choruses=1, seed=5, manner="human")
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=1)
    perform(load(chart_path(CHART)), settings, player, fast=True, data=data)
    return data


@pytest.fixture
def lesson(run: Run, played: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A lesson that the teacher packed; from here on it is the pupil who types."""
    words, out = tmp_path / "words.toml", tmp_path / "lightly-now.lesson"
    words.write_text(WORDS, encoding="utf-8")
    remark = ["--remark", "1: sing it first", "--take", "last", "--data", played]
    status, said, err = run("lesson", "pack", CHART, "--words", words, *remark, "--out", out)
    assert (status, err) == (0, "")
    assert said.startswith(f"{out}: Two Spoons Short, 2 remarks, 1 drill, a take, ")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "pupil"))
    return out


def test_a_lesson_that_is_opened_says_what_to_do_and_where_to_listen(run: Run, lesson: Path) -> None:
    status, said, err = run("lesson", "open", lesson)
    lines = said.splitlines()
    assert (status, err, lines[0]) == (0, "", "Lightly now, by the teacher")
    assert "  bar 1      sing it first" in lines and "  bars 9-12  keep the left hand light" in lines
    assert f"    companion drill {CHART} --bars 9-12 --you bass --from 60 --to 100" in lines
    play = next(line for line in lines if "take play" in line)
    assert Path(shlex.split(play)[3], "take.mid").is_file(), "what is to be typed finds the take"
    assert run("lesson", "show", "last")[1] == said == run("lesson", "show", "lightly")[1]
    assert "2 remarks, 1 drill, a take" in run("lesson", "list")[1]


def test_its_commands_name_the_folder_where_one_was_told(run: Run, lesson: Path, tmp_path: Path) -> None:
    place = tmp_path / "a pupil's"
    said = run("lesson", "open", lesson, "--data", place)[1]
    commands = [line for line in said.splitlines() if line.strip().startswith("companion ")]
    assert len(commands) == 3 and all(shlex.split(line)[-2:] == ["--data", str(place)] for line in commands)


def test_opened_twice_it_is_there_once(run: Run, lesson: Path) -> None:
    run("lesson", "open", lesson)
    assert "it was opened before, and is as it was" in run("lesson", "open", lesson)[1]
    assert len(run("lesson", "list")[1].splitlines()) == 2


def test_a_take_goes_back_in_answer(
    run: Run, lesson: Path, played: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    back = tmp_path / "back.lesson"
    shutil.copytree(played, tmp_path / "pupil")
    run("lesson", "open", lesson)
    answer = ["--remark", "11: which finger here?", "--out", back]
    assert run("lesson", "pack", "--reply", "lightly", "last", *answer)[0] == 0
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "teacher"))
    said = run("lesson", "open", back)[1]
    assert said.startswith("Lightly now, in answer to: Lightly now\n") and "bar 11  which finger here?" in said
    assert "the take that came back: Two Spoons Short" in said


def test_what_stood_in_its_place_is_kept(run: Run, lesson: Path, tmp_path: Path) -> None:
    before = lesson.read_bytes()
    status, _, err = run("lesson", "pack", CHART, "--out", lesson)
    assert status == 0 and "what stood there is kept in" in err
    assert before in [path.read_bytes() for path in tmp_path.iterdir() if path.is_file() and path != lesson]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["pack", CHART, "--remark", "99: here", "--out", "x.lesson"], "there is no bar 99"),
        (["pack", CHART, "--remark", " ", "--out", "x.lesson"], "says nothing"),
        (["pack", CHART, "--out", "x.zip"], "a lesson's file ends with .lesson"),
        (["pack", CHART, "--words", "none.toml"], "none.toml"),
        (["pack", "--reply", "lightly", "last"], "there is no lesson yet"),
        (["open", "none.lesson"], "can't be read"),
        (["show", "last"], "there is no lesson yet; open one with"),
        (["delete", "last", "--yes"], "there is no lesson yet"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_what_cannot_be_done_is_one_line(
    run: Run, words: list[str], said: str, one_line: OneLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    status, out, err = run("lesson", *words)
    assert (status, out) == (2, "") and said in one_line(err)
    assert not list(tmp_path.glob("*.lesson"))


def test_what_is_no_lesson_is_refused_in_one_line(run: Run, one_line: OneLine, tmp_path: Path) -> None:
    file = tmp_path / "holiday.lesson"
    file.write_bytes(b"GIF89a" * 100)
    status, _, err = run("lesson", "open", file)
    assert status == 2 and str(file) in one_line(err)


@pytest.mark.parametrize(("answer", "status"), [("", 2), ("n\n", 0)], ids=["nobody is there", "no"])
def test_a_lesson_is_deleted_only_by_who_says_so_and_its_chart_stays(
    run: Run, lesson: Path, answer: str, status: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("lesson", "open", lesson)
    monkeypatch.setattr(sys, "stdin", io.StringIO(answer))
    assert run("lesson", "delete", "lightly")[0] == status
    assert "lightly-now" in run("lesson", "list")[1]
    status, said, err = run("lesson", "delete", "lightly", "--yes")
    assert status == 0 and "its chart stays among yours" in said, err
    assert "no lesson yet" in run("lesson", "list")[1]
