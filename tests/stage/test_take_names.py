"""A take is told by a word: last, a number, a beginning, a folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.errors import TakeError
from companion.messages import Heard
from companion.stage.settings import Settings
from companion.stage.take_files import MIDI, takes_folder
from companion.stage.take_names import find_take, take_folder
from companion.stage.take_writer import TakeWriter


@pytest.fixture
def three(tmp_path: Path, stand) -> list[Path]:
    """Three takes, the earliest first."""
    made = []
    for day in (26, 27, 28):
        writer = TakeWriter(stand.tune(), Settings(), tmp_path)
        writer.add(Heard(1.0, 0x90, 60, 64))
        writer.add(Heard(1.4, 0x80, 60, 64))
        folder = writer.close("ended")
        assert folder is not None
        text = (folder / "take.json").read_text(encoding="utf-8")
        started = text.split('"started": "')[1][:10]
        (folder / "take.json").write_text(text.replace(started, f"2026-11-{day}"), encoding="utf-8")
        made.append(folder.rename(takes_folder(tmp_path) / f"2026-11-{day}-200000-ten-to-ten"))
    return made


def test_they_are_counted_from_the_last(three: list[Path], tmp_path: Path) -> None:
    assert take_folder("last", tmp_path) == take_folder("1", tmp_path) == three[2]
    assert take_folder("3", tmp_path) == three[0]


def test_the_beginning_of_a_name_is_enough_where_it_tells_one(three: list[Path], tmp_path: Path) -> None:
    assert take_folder("2026-11-27", tmp_path) == three[1]
    with pytest.raises(TakeError, match="3 takes are called"):
        take_folder("2026-11", tmp_path)


def test_a_folder_or_a_file_in_it_is_that_take(three: list[Path], tmp_path: Path) -> None:
    assert take_folder(str(three[0])) == three[0]
    assert find_take(str(three[0] / MIDI)).folder == three[0]


def test_what_there_isnt_is_said_with_the_way_to_what_there_is(three: list[Path], tmp_path: Path) -> None:
    with pytest.raises(TakeError, match="from 1, the last, to 3"):
        take_folder("4", tmp_path)
    with pytest.raises(TakeError, match="take list"):
        find_take("evening", tmp_path)
    with pytest.raises(TakeError, match="no take yet"):
        take_folder("last", tmp_path / "elsewhere")


def test_a_charts_name_is_no_take(three: list[Path], tmp_path: Path) -> None:
    assert take_folder("ferry-without-lights", tmp_path) is None


@pytest.mark.parametrize("word", ["0", "000", "1000", "-1", "²", "", "2027"])
def test_what_is_no_number_of_a_take_and_begins_no_name_names_none(
    three: list[Path], tmp_path: Path, word: str
) -> None:
    assert take_folder(word, tmp_path) is None


def test_a_number_of_three_digits_is_one_and_the_same_with_noughts_before_it(three: list[Path], tmp_path: Path) -> None:
    assert take_folder("002", tmp_path) == three[1]
    with pytest.raises(TakeError, match="there is no take 999"):
        take_folder("999", tmp_path)


def test_a_whole_name_is_told_from_a_longer_one_that_begins_with_it(three: list[Path], tmp_path: Path) -> None:
    three[2].rename(three[2].with_name(f"{three[1].name}-2"))
    assert take_folder(three[1].name, tmp_path) == three[1]
    with pytest.raises(TakeError, match="2 takes are called '2026-11-27"):
        take_folder(three[1].name[:-1], tmp_path)


@pytest.mark.parametrize("file", ["take.mid", "take.json"])
def test_a_folder_with_one_of_its_two_files_is_a_take(three: list[Path], tmp_path: Path, file: str) -> None:
    (three[0] / file).unlink()
    assert take_folder(str(three[0]), tmp_path) == three[0]
    assert take_folder(str(tmp_path), tmp_path) is None
