"""A lesson's file is the same for the same contents, and opens safely whatever is in it."""

from __future__ import annotations

import io
import json
import random
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.archives import packed_files
from companion.chart.toml.read import MOST_BYTES
from companion.errors import LessonError
from companion.practice.lesson import BarRemark, Lesson, LessonDrill, write_lesson
from companion.practice.lesson_file import packed_lesson, read_lesson_file, unpacked_lesson
from companion.resources import chart_path
from companion.stage.take import Take
from tests.practice.test_partner import WALK, take_of

LESSON = Lesson(
    title="Lightly",
    chart="two-spoons-short",
    remarks=(BarRemark("light", "9-12"),),
    kinds={"hands": LessonDrill(bars="9-12")},
)
Files = dict[str, bytes]


@pytest.fixture(scope="module")
def chart() -> bytes:
    return chart_path("two-spoons-short").read_bytes()


@pytest.fixture(scope="module")
def packed(chart: bytes, kept_take: Take) -> bytes:
    return packed_lesson(LESSON, chart, kept_take)


def test_it_holds_what_was_packed(packed: bytes, chart: bytes, kept_take: Take) -> None:
    found = unpacked_lesson(packed)
    assert found.lesson == LESSON and found.has_take
    assert found.files["chart.toml"] == chart, "to the letter, a person's comments as well"
    assert found.files["take.mid"] == kept_take.midi.read_bytes()


def test_the_same_contents_make_the_same_bytes(packed: bytes, chart: bytes, kept_take: Take) -> None:
    assert packed_lesson(LESSON, chart, kept_take) == packed
    assert packed_lesson(LESSON, chart) != packed


def test_the_teachers_folders_are_not_told(packed: bytes) -> None:
    assert b"the-teacher" not in packed
    assert json.loads(unpacked_lesson(packed).files["take.json"])["chart"]["source"] is None


def test_a_take_whose_chart_lay_nowhere_is_packed_as_it_is(tmp_path: Path) -> None:
    take = take_of(tmp_path, [WALK])
    found = unpacked_lesson(packed_lesson(Lesson(title="Lightly", reply_to="Lightly"), take=take))
    assert found.files["take.json"] == (take.folder / "take.json").read_bytes()


def test_a_take_comes_back_without_a_chart(kept_take: Take) -> None:
    answer = Lesson(title="Lightly", reply_to="Lightly", remarks=(BarRemark("which finger?", "11"),))
    found = unpacked_lesson(packed_lesson(answer, take=kept_take))
    assert found.chart is None and found.lesson.reply_to == "Lightly"
    with pytest.raises(LessonError, match="there is no bar 90"):
        packed_lesson(Lesson(title="x", reply_to="x", remarks=(BarRemark("?", "90"),)), take=kept_take)


def _without(name: str) -> Callable[[Files], Files]:
    return lambda files: {key: value for key, value in files.items() if key != name}


def _with(name: str, content: bytes) -> Callable[[Files], Files]:
    return lambda files: {**files, name: content}


def _take(change: Callable[[dict], None]) -> Callable[[Files], Files]:  # type: ignore[type-arg]
    def changed(files: Files) -> Files:
        table = json.loads(files["take.json"])
        change(table)
        return {**files, "take.json": json.dumps(table).encode()}

    return changed


BACK = write_lesson(Lesson(title="x", reply_to="x")).encode()
REFUSED: dict[str, tuple[Callable[[Files], Files], str]] = {
    "no text": (_without("lesson.toml"), "lesson.toml: is missing"),
    "no chart": (_without("chart.toml"), "chart.toml: is missing"),
    "half a take": (_without("take.mid"), "one of them is missing"),
    "the other half": (_without("take.json"), "one of them is missing"),
    "another file": (
        lambda files: {**_without("chart.toml")(files), "run.py": b"1"},
        "'run.py', which is no part of a lesson",
    ),
    "too many files": (_with("run.py", b"1"), "holds 5 files, more than a lesson has"),
    "a newer format": (_with("lesson.toml", b"format = 2"), "lesson.toml: is of format 2, newer"),
    "no title": (_with("lesson.toml", b"format = 1"), "it has no title"),
    "a chart that is none": (_with("chart.toml", b"format = 1"), "chart.toml"),
    "a chart of a newer format": (_with("chart.toml", b"format = 9"), "chart.toml: is of format 9"),
    "a chart in another encoding": (_with("chart.toml", "format = 1 # é".encode("utf-16")), "is not UTF-8"),
    "bars that the chart hasn't": (
        _with("lesson.toml", write_lesson(Lesson(title="x", kinds={"a": LessonDrill(bars="90")})).encode()),
        "[kinds.a]: there is no bar 90",
    ),
    "a chart that comes back": (_with("lesson.toml", BACK), "has no chart and no drills"),
    "MIDI that is none": (_with("take.mid", b"MThd"), "take.mid"),
    "MIDI that ends in mid-track": (lambda files: {**files, "take.mid": files["take.mid"][:-9]}, "take.mid"),
    "JSON that is none": (_with("take.json", b"{"), "take.json"),
    "JSON too deep": (_with("take.json", b"[" * 100_000), "take.json"),
    "a list for a take": (_with("take.json", b"[]"), "take.json"),
    "a take of a newer format": (_take(lambda table: table.update(format=9)), "take.json: is of a newer format"),
    "a take of no tune": (_take(lambda table: table["chart"].update(toml="format = 1")), "take.json"),
    "a take of a title that can't be printed": (_take(lambda table: table.update(title="\x1b[2J")), "can't be printed"),
    "settings that are none": (_take(lambda table: table["settings"].update(time="never")), "settings"),
    "a take without a beat": (_take(lambda table: table.pop("beats")), "take.json"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_no_lesson_holds_is_one_line_with_its_place(what: str, packed: bytes, tmp_path: Path) -> None:
    change, said = REFUSED[what]
    path = tmp_path / "x.lesson"
    path.write_bytes(packed_files(change(dict(unpacked_lesson(packed).files))))
    with pytest.raises(LessonError) as refused:
        read_lesson_file(path)
    text = str(refused.value)
    assert text.startswith(f"{path}: ") and said in text and text.isprintable()
    assert "companion-lesson-" not in text, "nor is it told where it was looked at"


def test_a_bomb_is_not_unpacked(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("lesson.toml", bytes(100 * 1024 * 1024))
    with pytest.raises(LessonError, match="more than 100 times"):
        unpacked_lesson(buffer.getvalue())
    path = tmp_path / "large.lesson"
    with path.open("wb") as file:
        file.truncate(200 * 1024 * 1024)
    with pytest.raises(LessonError, match="too large for a lesson"):
        read_lesson_file(path)


def test_what_is_no_file_is_one_line(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "there-is-none.lesson"):
        with pytest.raises(LessonError, match="can't be read"):
            read_lesson_file(path)


@pytest.mark.parametrize("deflated", [False, True])
def test_a_damaged_file_is_refused_or_read_and_nothing_else(deflated: bool, chart: bytes) -> None:
    """Bytes changed, cut out and put in anywhere: what opens is what was packed, as a check sum guards each file."""
    whole = dict(unpacked_lesson(packed_lesson(LESSON, chart)).files)
    data = packed_files(whole)
    if deflated:
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in whole.items():
                archive.writestr(name, content)
        data = buffer.getvalue()
    chance, opened = random.Random(4), 0
    for _ in range(300):
        damaged = bytearray(data)
        for _ in range(chance.choice((1, 1, 2, 8))):
            place = chance.randrange(len(damaged)) if chance.random() < 0.4 else -chance.randrange(1, 300)
            what = chance.random()
            if what < 0.7:
                damaged[place] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256)))
            elif what < 0.85:
                del damaged[place : place + chance.randrange(1, 40) or None]
            else:
                damaged[place:place] = bytes(chance.randrange(256) for _ in range(chance.randrange(1, 9)))
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            try:
                found = unpacked_lesson(bytes(damaged))
            except LessonError as error:
                assert str(error).isprintable()
            else:
                assert dict(found.files) == whole
                opened += 1
    assert 0 < opened < 150


@pytest.mark.parametrize(("more", "said"), [(0, "isn't a lesson"), (1, "larger")])
def test_a_file_may_be_as_large_as_all_that_may_be_in_it(tmp_path: Path, more: int, said: str) -> None:
    """Half a megabyte of words, a chart, two megabytes of notes, eight of beats, and a little to pack them in."""
    most = (1 << 19) + MOST_BYTES + (2 << 20) + (8 << 20) + 4096
    file = tmp_path / "large.lesson"
    with file.open("wb") as large:
        large.truncate(most + more)
    with pytest.raises(LessonError, match=said):
        read_lesson_file(file)
