"""An opened lesson lies among the player's own, overwrites nothing, and is found again by a word."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from companion.errors import InputError, LessonError
from companion.practice.lesson import Lesson
from companion.practice.lesson_file import PackedLesson, packed_lesson, unpacked_lesson
from companion.practice.lesson_folder import (
    DamagedLesson,
    OpenedLesson,
    delete_lesson,
    find_lesson,
    lesson_place,
    lessons_folder,
    list_lessons,
    open_lesson,
)
from companion.resources import DATA_VARIABLE, chart_path
from companion.stage.take import Take

OWN = "# mine\n" + chart_path("two-spoons-short").read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    return tmp_path / "data"


def _lesson(
    title: str = "Lightly", chart: str = "slow-kettle", text: str = OWN, take: Take | None = None
) -> PackedLesson:
    return unpacked_lesson(packed_lesson(Lesson(title=title, chart=chart), text, take))


def _files(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_it_lies_among_the_players_own(data: Path, kept_take: Take) -> None:
    opened = open_lesson(_lesson(take=kept_take)).lesson
    assert opened.folder == data / "lessons" / "lightly" and opened.chart == "slow-kettle"
    assert (data / "charts" / "slow-kettle.toml").read_text(encoding="utf-8") == OWN
    take = opened.take()
    assert take and [event.data1 for event in take.heard() if event.is_note_on] == list(range(60, 68))
    assert not [p.name for p in (data / "lessons").iterdir() if p.name.startswith(".")]


def test_a_chart_of_the_same_name_stays_as_it_is(data: Path) -> None:
    own = data / "charts" / "slow-kettle.toml"
    own.parent.mkdir(parents=True)
    own.write_text("my own work", encoding="utf-8")
    opening = open_lesson(_lesson())
    assert (opening.lesson.chart, opening.asked) == ("slow-kettle-2", "slow-kettle")
    assert own.read_text(encoding="utf-8") == "my own work"
    assert chart_path("slow-kettle-2").read_text(encoding="utf-8") == OWN


def test_a_chart_that_comes_with_the_companion_is_not_hidden_by_another() -> None:
    shipped = chart_path("ferry-without-lights")
    assert open_lesson(_lesson(chart="ferry-without-lights")).lesson.chart == "ferry-without-lights-2"
    assert chart_path("ferry-without-lights") == shipped


def test_a_chart_that_is_there_already_is_not_kept_twice(data: Path) -> None:
    shipped = chart_path("two-spoons-short").read_text(encoding="utf-8")
    assert open_lesson(_lesson(chart="two-spoons-short", text=shipped)).lesson.chart == "two-spoons-short"
    assert not (data / "charts").exists()
    open_lesson(_lesson())
    assert open_lesson(_lesson(title="Another")).lesson.chart == "slow-kettle"
    assert len(list((data / "charts").iterdir())) == 1


@pytest.mark.parametrize("name", ["../../escaped", "/etc/passwd", "C:\\x", "a\x00b", "...", "con/../x", "é" * 90])
def test_a_name_leads_nowhere_else(data: Path, name: str) -> None:
    packed = _lesson()
    opened = open_lesson(PackedLesson(Lesson(title=name, chart=name), packed.chart, packed.files)).lesson
    assert opened.folder.parent == data / "lessons"
    assert {p.parent for p in data.rglob("*") if p.is_file()} == {data / "charts", opened.folder}
    assert [p.name for p in data.parent.iterdir()] == ["data"]


def test_opened_again_it_is_not_unpacked_twice(data: Path) -> None:
    first = open_lesson(_lesson()).lesson
    (data / "charts" / "slow-kettle.toml").write_text("changed by its player", encoding="utf-8")
    before = _files(data)
    again = open_lesson(_lesson())
    assert again.again and again.lesson.folder == first.folder and _files(data) == before


def test_another_lesson_of_the_same_title_gets_a_number() -> None:
    open_lesson(_lesson())
    assert open_lesson(_lesson(text=OWN + "# 2\n")).lesson.folder.name == "lightly-2"


def test_where_nothing_can_be_written_nothing_is_left(data: Path) -> None:
    """Neither half a lesson nor a chart without one."""
    (data).mkdir()
    (data / "lessons").write_text("a file stands in the way", encoding="utf-8")
    before = _files(data)
    with pytest.raises(InputError) as refused:
        open_lesson(_lesson())
    assert str(refused.value).count("\n") == 0 and _files(data) == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_is_read_only_is_one_line(data: Path) -> None:
    data.mkdir()
    data.chmod(stat.S_IRUSR | stat.S_IXUSR)
    with pytest.raises(InputError, match="permission denied"):
        open_lesson(_lesson())


def test_a_chart_that_its_player_deleted_is_still_in_the_lesson(data: Path) -> None:
    opened = open_lesson(_lesson()).lesson
    (data / "charts" / "slow-kettle.toml").unlink()
    assert find_lesson("lightly").chart == str(opened.folder / "chart.toml")


def test_it_is_found_by_name_beginning_number_and_as_the_last() -> None:
    for title in ("Lightly", "Loud and slow", "7"):
        open_lesson(_lesson(title=title, text=f"{OWN}# {title}\n"))
    assert find_lesson("loud").lesson.title == "Loud and slow"
    assert find_lesson("Loud and slow").lesson.title == "Loud and slow"
    assert find_lesson("7").lesson.title == "7", "a name goes before a number"
    assert {find_lesson(str(n)).lesson.title for n in (1, 2, 3)} == {"Lightly", "Loud and slow", "7"}
    assert find_lesson("last") == find_lesson("1")
    for word, said in (("l", "2 lessons"), ("none", "there is no lesson"), ("8", "there is no"), ("..", "there is no")):
        with pytest.raises(LessonError, match=said):
            find_lesson(word)


def test_without_one_it_says_how_to_get_one() -> None:
    with pytest.raises(LessonError, match="open one with"):
        find_lesson("last")


def test_a_damaged_one_is_listed_with_its_reason_and_can_be_deleted() -> None:
    folder = open_lesson(_lesson()).lesson.folder
    open_lesson(_lesson(title="Sound"))
    (folder / "lesson.toml").write_text("format = ", encoding="utf-8")
    (damaged,) = [one for one in list_lessons() if isinstance(one, DamagedLesson)]
    assert "lesson.toml" in damaged.why and sum(isinstance(one, OpenedLesson) for one in list_lessons()) == 1
    delete_lesson(lesson_place("lightly"))
    assert [one.folder.name for one in list_lessons()] == ["sound"]


def test_deleting_leaves_the_chart_and_what_is_no_lesson(data: Path) -> None:
    folder = open_lesson(_lesson()).lesson.folder
    (folder / "my-notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(LessonError, match=r"my-notes\.txt"):
        delete_lesson(folder)
    (folder / "my-notes.txt").unlink()
    delete_lesson(folder)
    assert not folder.exists() and lessons_folder().is_dir() and (data / "charts" / "slow-kettle.toml").exists()


@pytest.mark.parametrize("name", ["1", "last", "lightly-2", "Lightly 2"])
def test_the_latest_lesson_is_number_1(name: str) -> None:
    first = open_lesson(_lesson()).lesson.folder
    os.utime(first / "opened.toml")
    (first / "opened.toml").write_text('opened = "2026-01-01T10:00:00+01:00"\nchart = ""\n', encoding="utf-8")
    second = open_lesson(_lesson(text=OWN + "# another\n")).lesson.folder
    assert find_lesson(name).folder == second
    assert find_lesson("2").folder == first


@pytest.mark.parametrize("name", ["0", "3", "1000", "0001", "²"])
def test_numbers_that_there_are_not_are_no_lessons(name: str) -> None:
    open_lesson(_lesson())
    with pytest.raises(LessonError, match="there is no lesson"):
        find_lesson(name)


def test_a_lesson_may_be_called_by_a_number() -> None:
    named = open_lesson(_lesson(title="2")).lesson.folder
    open_lesson(_lesson(title="Lightly"))
    assert find_lesson("2").folder == named


def test_what_lies_beside_lessons_is_none(data: Path) -> None:
    folder = open_lesson(_lesson()).lesson.folder
    (folder.parent / "a-file").write_text("", encoding="utf-8")
    (folder.parent / ".hidden").mkdir()
    assert [one.folder for one in list_lessons()] == [folder]


@pytest.mark.parametrize(("name", "again"), [("slow-kettle-2", True), ("slow-kettle-two", False), ("slow", False)])
def test_a_chart_is_there_already_under_its_name_or_a_number_after_it(data: Path, name: str, again: bool) -> None:
    (data / "charts").mkdir(parents=True)
    (data / "charts" / f"{name}.toml").write_text(OWN, encoding="utf-8")
    opened = open_lesson(_lesson()).lesson.chart
    assert opened == (name if again else "slow-kettle")


@pytest.mark.parametrize(("chart", "name"), [("", "two-spoons-short"), ("my-kettle", "my-kettle")])
def test_a_chart_without_a_name_in_the_lesson_is_called_by_its_title(chart: str, name: str) -> None:
    opening = open_lesson(_lesson(chart=chart))
    assert opening.asked == name


def test_a_place_that_cant_be_written_is_one_line_and_nothing_is_left(data: Path) -> None:
    data.mkdir()
    lessons_folder().write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(InputError, match="lessons") as error:
        open_lesson(_lesson())
    assert "\n" not in str(error.value)
    assert [place.name for place in data.rglob("*") if place.is_file()] == ["lessons"]
