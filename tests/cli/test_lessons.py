"""A lesson goes from a teacher to a pupil and back, each way in one file, and nothing of anybody's is overwritten."""

from __future__ import annotations

import io
import os
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
from companion.stage.take import Take
from tests.practice.test_partner import WALK, take_of

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


# In full, with a take that is made by hand

LONG = "keep the left hand light, and lighter still as the line climbs, for here the melody has the last word"
FULL = f"""format = 1
title = "Lightly now"
by = "the teacher"
[[remarks]]
bars = "9-12"
text = "{LONG}"
[[remarks]]
text = "sing it first"
[[remarks]]
bars = "2"
text = "wait"
[kinds.hands]
what = "the left hand alone"
bars = "9-12"
you = "bass"
from = 60
to = 100
[kinds.twice]
bars = "1-4"
you = "melody"
"""
OPENED = f"""\
Lightly now, by the teacher
chart: two-spoons-short
remarks:
  all of it  sing it first
  bar 2      wait
  bars 9-12  {LONG[: -len("the last word")].strip()}
             the last word
drills:
  hands: the left hand alone
    companion drill two-spoons-short --bars 9-12 --you bass --from 60 --to 100
  twice
    companion drill two-spoons-short --bars 1-4 --you melody
to listen to: Four Steps, {{day}}, 0:09; played: bass
  companion take play {{folder}}/take
  companion review {{folder}}/take
it lies in {{folder}}
"""


@pytest.fixture
def walked(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Take:
    """A take of the player's own, and the words of a lesson beside it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    Path("words.toml").write_text(FULL, encoding="utf-8")
    return take_of(tmp_path / "data", [WALK])


def test_a_lesson_is_packed_opened_and_shown_with_all_that_is_in_it(run: Run, walked: Take, tmp_path: Path) -> None:
    packed = run("lesson", "pack", CHART, "--words", "words.toml", "--take", "last", "--out", "a.LESSON")
    assert packed[1].startswith("a.LESSON: Two Spoons Short, 3 remarks, 2 drills, a take, ") and packed[0] == 0
    kilobytes = round(Path("a.LESSON").stat().st_size / 1000)
    assert packed[1].endswith(f", {kilobytes} kB\n") and kilobytes > 1
    folder = tmp_path / "data" / "lessons" / "lightly-now"
    day = f"{walked.started:%d %B %Y}"
    opened = OPENED.format(folder=folder, day=day)
    assert run("lesson", "open", "a.LESSON") == (0, opened, "")
    assert run("lesson", "show", "1") == (0, opened, "")
    again = opened.replace("teacher\n", "teacher\nit was opened before, and is as it was\n")
    assert run("lesson", "open", "a.LESSON") == (0, again, "")


@pytest.mark.parametrize(("columns", "widest"), [("20", 50), ("80", 80), ("500", 110)])
def test_remarks_are_broken_where_the_terminal_ends_but_neither_too_soon_nor_too_late(
    run: Run, walked: Take, monkeypatch: pytest.MonkeyPatch, columns: str, widest: int
) -> None:
    even, odd = "a " * 150, "aa " + "a " * 150  # after a place of 13 columns, lines of even and of odd length
    remarks = ["--remark", f"9-12: {even}", "--remark", f"10-12: {odd}"]
    run("lesson", "pack", CHART, *remarks, "--out", "a.lesson")
    monkeypatch.setenv("COLUMNS", columns)
    said = run("lesson", "open", "a.lesson")[1].partition("remarks:\n")[2].partition("it lies in")[0].splitlines()
    second = next(n for n, line in enumerate(said) if "bars 10-12" in line)
    for lines, text, width in ((said[:second], even, widest - 1), (said[second:], odd, widest)):
        assert " ".join(lines).split()[2:] == text.split() and max(map(len, lines)) == width


def test_where_no_terminal_says_how_wide_it_is_remarks_are_as_wide_as_a_page(
    run: Run, walked: Take, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[int, int]] = []

    def nobody_says(usual: tuple[int, int] = (80, 24)) -> os.terminal_size:
        asked.append(usual)
        return os.terminal_size(usual)

    monkeypatch.setattr("companion.cli.lessons.shutil.get_terminal_size", nobody_says)
    run("lesson", "pack", CHART, "--words", "words.toml", "--out", "a.lesson")
    run("lesson", "open", "a.lesson")
    assert (100, 24) in asked


def test_a_chart_alone_is_a_lesson_and_a_take_alone_an_answer(run: Run, walked: Take) -> None:
    packed = run("lesson", "pack", CHART, "--title", "Mine")
    assert packed == (0, "mine.lesson: Two Spoons Short, 1 kB\n", "")
    packed = run("lesson", "pack", CHART, "--remark", "1: a", "--out", "b.lesson")
    assert packed == (0, "b.lesson: Two Spoons Short, 1 remark, 1 kB\n", "")
    lines = run("lesson", "open", "mine.lesson")[1].splitlines()
    assert lines[:2] == ["Mine", "chart: two-spoons-short"] and len(lines) == 3
    assert run("lesson", "pack", "--reply", "mine", "1")[1].startswith("mine-back.lesson: a take, ")
    answer = run("lesson", "open", "mine-back.lesson")[1].splitlines()
    assert answer[0] == "Mine, in answer to: Mine"
    assert answer[1].startswith("the take that came back: Four Steps, ") and answer[1].endswith(", 0:09; played: bass")
    rows = [line.split("  ") for line in run("lesson", "list")[1].splitlines()]
    assert [word for word in rows[0] if word][-1] == "what is in it"
    assert [row[-1].strip() for row in rows[1:]] == ["in answer to Mine, a take", "the chart"]
    status, out, _ = run("lesson", "delete", "1", "--yes")
    assert status == 0 and out.endswith("mine-2\n"), "an answer has no chart that stays"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--take", "last"], "the take that goes back is named without --take; say pack --reply LESSON TAKE"),
        (["--words", "words.toml"], "words.toml: what goes back has no drills; take them out"),
    ],
)
def test_what_goes_back_is_a_take_and_no_drill(
    run: Run, walked: Take, one_line: OneLine, more: list[str], said: str
) -> None:
    run("lesson", "pack", CHART, "--title", "Mine")
    run("lesson", "open", "mine.lesson")
    status, _, err = run("lesson", "pack", "--reply", "mine", "last", *more)
    assert status == 2 and one_line(err) == f"companion: {said}\n"


@pytest.mark.parametrize(
    ("key", "mend"),
    [("ladder", "say from, to and step instead"), ("treatment", "say what it is in the drill itself")],
)
def test_a_lesson_names_nothing_that_only_the_teacher_has(
    run: Run, walked: Take, one_line: OneLine, key: str, mend: str
) -> None:
    Path("words.toml").write_text(f'format = 1\n[kinds.hands]\nbars = "1-4"\n{key} = "mine"\n', encoding="utf-8")
    status, _, err = run("lesson", "pack", CHART, "--words", "words.toml")
    assert status == 2
    assert one_line(err) == f"companion: [kinds.hands]: the {key} 'mine' is none that everybody has; {mend}\n"


def test_without_a_lesson_the_list_says_how_to_get_one(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "data" / "lessons"
    said = f"no lesson yet in {folder}; 'companion lesson open FILE.lesson' unpacks one\n"
    assert run("lesson", "list") == (0, said, "")


def test_a_chart_of_the_same_name_stays_as_it_is_and_that_is_said(run: Run, walked: Take, tmp_path: Path) -> None:
    run("lesson", "pack", CHART, "--title", "Mine")
    mine = tmp_path / "data" / "charts" / f"{CHART}.toml"
    mine.parent.mkdir(exist_ok=True)
    mine.write_text('format = 1\ntitle = "Other"\n[section.A]\nchords = "| C |"\n', encoding="utf-8")
    chart = run("lesson", "open", "mine.lesson")[1].splitlines()[1]
    assert chart == f"chart: {CHART}-2 (there is another chart called {CHART}, which stays as it is)"
    assert "Other" in mine.read_text(encoding="utf-8")


def test_a_lesson_that_cant_be_read_any_more_is_listed_with_its_reason(run: Run, walked: Take, tmp_path: Path) -> None:
    run("lesson", "pack", CHART, "--title", "Mine")
    run("lesson", "open", "mine.lesson")
    (tmp_path / "data" / "lessons" / "mine" / "lesson.toml").write_text("format = ", encoding="utf-8")
    head, row = run("lesson", "list")[1].splitlines()
    assert [word.strip() for word in row.split("  ")][::2][:2] == ["1", "mine"] and "can't be read: " in row
    assert head.endswith("  title  what is in it")
    assert head.index("title") == row.index("can't be read"), "a long reason makes no column wider"
