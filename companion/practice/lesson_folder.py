"""Opened lessons: the chart among the player's own, all else in a folder under ``lessons`` in the folder for user data.

In a lesson's folder are the files that it came with: its text, the chart as it was, and under ``take`` the take to
listen to; ``opened.toml`` says when it was opened and under which name the chart is kept. Nothing is ever overwritten:
a chart of the same name stays, and the one that comes gets a number; a lesson that is there already is not unpacked
twice.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.chart.toml.text import quoted
from companion.errors import InputError, LessonError
from companion.files import read_limited, unwritable, write_whole
from companion.practice.lesson import WORDS, Lesson, read_lesson
from companion.practice.lesson_file import CHART, LIMITS, PackedLesson
from companion.resources import chart_files, chart_name, data_folder, free_chart_place, read_toml_file
from companion.stage.recovery import move
from companion.stage.take import Take, read_take
from companion.stage.take_files import DATA, MIDI, free_place, moment

OPENED = "opened.toml"
TAKE = "take"
LAST = "last"
_PLACES = {WORDS: WORDS, CHART: CHART, MIDI: f"{TAKE}/{MIDI}", DATA: f"{TAKE}/{DATA}"}
"""Where each file of an archive lies in a lesson's folder."""
_TEMPORARY = ".part"


@dataclass(frozen=True)
class OpenedLesson:
    """A lesson that was opened."""

    folder: Path
    lesson: Lesson
    opened: datetime
    chart: str | None
    """What the chart is called by commands: its name, or the lesson's own copy where that one is gone."""

    @property
    def take_folder(self) -> Path | None:
        """The take to listen to."""
        return self.folder / TAKE if (self.folder / TAKE / MIDI).is_file() else None

    def take(self) -> Take | None:
        """The same, read. Raises InputError where it was damaged since."""
        return read_take(self.take_folder) if self.take_folder else None


@dataclass(frozen=True)
class DamagedLesson:
    """A folder under ``lessons`` that can't be read."""

    folder: Path
    why: str
    opened: datetime


def lessons_folder() -> Path:
    """Where opened lessons lie."""
    return data_folder() / "lessons"


# Opened


@dataclass(frozen=True)
class Opening:
    """What became of a lesson's file."""

    lesson: OpenedLesson
    again: bool = False
    """Whether it was there already."""
    asked: str = ""
    """The name that its chart should have had."""


def open_lesson(packed: PackedLesson) -> Opening:
    """Unpack a lesson into the player's own folders.

    Raises
    ------
    InputError
        They can't be written; nothing of it is there then.
    """
    asked = chart_name(packed.lesson.chart or (packed.chart.title if packed.chart else ""))
    if there := _there_already(packed.files):
        return Opening(there, again=True, asked=asked)
    root, name = lessons_folder(), chart_name(packed.lesson.title)
    made: Path | None = None
    beside = root / f".{name}.{os.getpid()}{_TEMPORARY}"
    try:
        (beside / TAKE if packed.has_take else beside).mkdir(parents=True)
        for file, content in packed.files.items():
            write_whole(beside / _PLACES[file], content)
        chart, made = _kept_chart(packed.files[CHART], asked) if CHART in packed.files else ("", None)
        write_whole(beside / OPENED, _opened_text(chart))
        folder = free_place(root / name, lambda place: move(beside, place))
    except BaseException as error:
        if made:
            with suppress(OSError):
                made.unlink()
        if isinstance(error, OSError) and not isinstance(error, InputError):
            raise unwritable(root, error) from None
        raise
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return Opening(read_opened(folder), asked=asked)


def _opened_text(chart: str) -> str:
    when = datetime.now().astimezone().isoformat(timespec="seconds")
    return f"opened = {quoted(when)}\nchart = {quoted(chart)}\n"


def _there_already(files: Mapping[str, bytes]) -> OpenedLesson | None:
    """The lesson that has the same files."""
    for lesson in list_lessons():
        if isinstance(lesson, OpenedLesson) and all(
            _content(lesson.folder / place, LIMITS[name]) == files.get(name) for name, place in _PLACES.items()
        ):
            return lesson
    return None


def _content(path: Path, most: int) -> bytes | None:
    try:
        return read_limited(path, most, "a lesson")
    except InputError:
        return None


def _kept_chart(content: bytes, name: str) -> tuple[str, Path | None]:
    """The name under which a chart is kept among the player's own, and its file where it wasn't there already."""
    for known, path in chart_files().items():
        numbered = known == name or (known.startswith(f"{name}-") and known[len(name) + 1 :].isdecimal())
        if numbered and path.suffix == ".toml" and _content(path, LIMITS[CHART]) == content:
            return known, None
    while True:
        place = free_chart_place(name)
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            place.touch(exist_ok=False)  # the name is ours from here on
        except FileExistsError:
            if place.stem in chart_files():
                continue
            raise
        try:
            write_whole(place, content)
        except BaseException:
            place.unlink(missing_ok=True)
            raise
        return place.stem, place


# Found again


def list_lessons() -> list[OpenedLesson | DamagedLesson]:
    """Every lesson that was opened, the latest first; one that can't be read is named with the reason."""
    root = lessons_folder()
    found: list[OpenedLesson | DamagedLesson] = []
    for folder in sorted(root.iterdir()) if root.is_dir() else ():
        if not folder.is_dir() or folder.name.startswith("."):
            continue
        try:
            found.append(read_opened(folder))
        except InputError as error:
            changed = datetime.fromtimestamp(folder.stat().st_mtime).astimezone()
            found.append(DamagedLesson(folder, str(error), changed))
    return sorted(found, key=lambda lesson: (lesson.opened, lesson.folder.name), reverse=True)


def read_opened(folder: Path) -> OpenedLesson:
    """Read a lesson in its folder.

    Raises
    ------
    LessonError
        There is none, or it was damaged since.
    """
    file = folder / WORDS
    try:
        lesson = read_lesson(read_limited(file, LIMITS[WORDS], "a lesson", LessonError))
    except LessonError as error:
        raise error.within(file=str(file)) from None
    when, name = _opened(folder)
    chart: str | None = None
    if (folder / CHART).is_file():
        chart = name if name in chart_files() else str(folder / CHART)
    return OpenedLesson(folder, lesson, when, chart)


def _opened(folder: Path) -> tuple[datetime, str]:
    """When a lesson was opened, and what its chart is called; as good as is known where that file was damaged."""
    try:
        table = read_toml_file(folder / OPENED)
        return moment(table["opened"]), str(table["chart"])
    except (InputError, KeyError, ValueError):
        return datetime.fromtimestamp(folder.stat().st_mtime).astimezone(), ""


def find_lesson(name: str) -> OpenedLesson:
    """The lesson of a name: its folder's, or enough of it, a number of the list (1 = the latest), or 'last'.

    Raises
    ------
    LessonError
        There is none of that name, there are several, or it is damaged.
    """
    there = list_lessons()
    if not there:
        raise LessonError("there is no lesson yet", mend="open one with 'companion lesson open FILE.lesson'")
    same = [one for one in there if one.folder.name == name]
    number = 1 if name == LAST else int(name) if name.isascii() and name.isdigit() and len(name) < 4 else 0
    if not same and 1 <= number <= len(there):
        same = [there[number - 1]]
    wanted = chart_name(name)
    same = same or [one for one in there if one.folder.name == wanted]
    same = same or [one for one in there if name and one.folder.name.startswith(wanted)]
    if len(same) > 1:
        raise LessonError(f"{len(same)} lessons are called '{name}…'", mend="give more of the name, or a number")
    if not same:
        raise LessonError(f"there is no lesson '{name}'", mend="see 'companion lesson list'")
    return read_opened(same[0].folder)


def lesson_place(name: str) -> Path:
    """The folder of a lesson that may be damaged; as :func:`find_lesson`."""
    exact = lessons_folder() / name
    if exact.parent == lessons_folder() and exact.is_dir() and not name.startswith("."):
        return exact
    return find_lesson(name).folder


def delete_lesson(folder: Path) -> None:
    """Delete a lesson; its chart stays among the player's own.

    Raises
    ------
    LessonError
        There is more in the folder than a lesson.
    InputError
        It can't be deleted.
    """
    known = {OPENED, *_PLACES.values(), TAKE}
    others = sorted(place.relative_to(folder).as_posix() for place in folder.rglob("*"))
    if others := [name for name in others if name not in known]:
        what = f"there is more in it than a lesson: {', '.join(others[:3])}"
        raise LessonError(what, file=str(folder), mend="move that elsewhere first")
    try:
        shutil.rmtree(folder)
    except OSError as error:
        raise unwritable(folder, error) from None
