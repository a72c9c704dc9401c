"""A lesson in one file, to be sent: packed so that the same contents make the same bytes, opened safely.

The file, ``NAME.lesson``, is a ZIP archive of these and nothing else:

- ``lesson.toml``: the lesson's text (:mod:`companion.practice.lesson`);
- ``chart.toml``: the chart with its written arrangement;
- ``take.mid``, ``take.json``: a take to listen to, where there is one.

What a pupil sends back has a take and no chart: the take holds its own. Where the chart lay on the teacher's computer
is not told.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import ParamSpec, TypeVar

from companion.archives import packed_files, unpacked_files
from companion.chart.model import Chart
from companion.chart.plain import unfit
from companion.chart.toml.read import MOST_BYTES, parse_toml
from companion.errors import InputError, LessonError
from companion.files import MEGABYTE, read_limited
from companion.practice.lesson import WORDS, Lesson, check_against, plainly, read_lesson, write_lesson
from companion.stage.take import Take, read_take
from companion.stage.take_files import DATA, MIDI

P = ParamSpec("P")
T = TypeVar("T")
SUFFIX = ".lesson"
CHART = "chart.toml"
LIMITS = {WORDS: MEGABYTE // 2, CHART: MOST_BYTES, MIDI: 2 * MEGABYTE, DATA: 8 * MEGABYTE}
"""Bytes that each file may have; an hour of two hands has half as many."""
MOST_PACKED = sum(LIMITS.values()) + 4096
"""Bytes of the whole file."""
AGAIN = "ask for it to be sent again"


@dataclass(frozen=True)
class PackedLesson:
    """What is in a lesson's file, all of it read and found sound."""

    lesson: Lesson
    chart: Chart | None
    """None where a take comes back."""
    files: Mapping[str, bytes]
    """By their names in the archive."""

    @property
    def has_take(self) -> bool:
        """Whether there is a take to listen to."""
        return MIDI in self.files


def read_lesson_file(path: str | os.PathLike[str]) -> PackedLesson:
    """Read a lesson's file, whatever is in it.

    Raises
    ------
    LessonError
        It can't be read, is no lesson, is damaged, of a newer format, or holds what no lesson may; one line.
    """
    data = read_limited(path, MOST_PACKED, "a lesson", LessonError)
    try:
        return unpacked_lesson(data)
    except InputError as error:
        raise plainly(error, file=os.fspath(path)) from None


def unpacked_lesson(data: bytes) -> PackedLesson:
    """The same as :func:`read_lesson_file` from the bytes of a file; errors name the place in it alone."""
    files = unpacked_files(data, LIMITS, [WORDS], "lesson", LessonError, AGAIN)
    lesson = _within(WORDS, read_lesson, files[WORDS])
    needed = (MIDI, DATA) if lesson.reply_to else (CHART,)
    if missing := next((name for name in needed if name not in files), None):
        raise LessonError("is missing", where=missing, mend=AGAIN)
    if (MIDI in files) != (DATA in files):
        raise LessonError(f"a take is {MIDI} and {DATA}, and one of them is missing", mend=AGAIN)
    if not lesson.title:
        raise LessonError("it has no title", where=WORDS, mend=AGAIN)
    if lesson.reply_to and (CHART in files or lesson.kinds):
        raise LessonError("a take that comes back has no chart and no drills", where=WORDS, mend=AGAIN)
    chart = _within(CHART, _read_chart, files[CHART]) if CHART in files else None
    if chart is not None:
        _within(WORDS, check_against, lesson, chart)
    if MIDI in files:
        _check_take(files, lesson if lesson.reply_to else None)
    return PackedLesson(lesson, chart, files)


def _within(name: str, read: Callable[P, T], *what: P.args, **more: P.kwargs) -> T:
    """What a reader makes of a file of the archive; its errors say which file that is."""
    try:
        return read(*what, **more)
    except InputError as error:
        raise plainly(error.within(where=name), file=None) from None


def _read_chart(data: bytes) -> Chart:
    try:
        chart = parse_toml(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise LessonError("is not UTF-8 text", mend=AGAIN) from None
    chart.unfold()
    return chart


def _check_take(files: Mapping[str, bytes], answer: Lesson | None) -> None:
    """See that a take is sound, notes and all; the remarks of an ``answer`` are about its chart."""
    with tempfile.TemporaryDirectory(prefix="companion-lesson-") as name:
        for file in (MIDI, DATA):
            Path(name, file).write_bytes(files[file])
        try:
            take = read_take(Path(name))
            take.heard(), take.sounded()
            chart, _ = take.rehearsed()
            chart.unfold()
            if unfit(take.title):
                raise LessonError(f"a title with {unfit(take.title)} in it can't be printed")
            if answer:
                check_against(answer, chart)
        except InputError as error:
            where = Path(error.file).name if error.file and Path(error.file).parent == Path(name) else DATA
            raise plainly(error.within(where=where), file=None) from None


# Packed


def packed_lesson(lesson: Lesson, chart: str | bytes | None = None, take: Take | None = None) -> bytes:
    """The bytes of a lesson's file, which can be opened: they were.

    Parameters
    ----------
    lesson : Lesson
    chart : str or bytes, optional
        The chart as TOML; none where a take comes back.
    take : Take, optional

    Raises
    ------
    LessonError
        Something of it can't be sent: it is too large, damaged, or doesn't go together.
    """
    files = {WORDS: write_lesson(lesson).encode()}
    if chart is not None:
        files[CHART] = chart.encode() if isinstance(chart, str) else chart
    if take is not None:
        for name in (MIDI, DATA):
            files[name] = read_limited(take.folder / name, LIMITS[name], "a lesson", LessonError)
        files[DATA] = _without_place(files[DATA])
    data = packed_files(files)
    unpacked_lesson(data)
    return data


def _without_place(data: bytes) -> bytes:
    """A take's JSON without the path that its chart was read from, which is nobody's business elsewhere."""
    table = json.loads(data)
    if table["chart"]["source"] is None:
        return data
    table["chart"] = {**table["chart"], "source": None}
    return json.dumps(table, ensure_ascii=False).encode() + b"\n"
