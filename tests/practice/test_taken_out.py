"""A take is deleted with its place in the records, and nothing else of the player's goes with it."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from companion.errors import TakeError
from companion.practice.records import Records
from companion.practice.records_file import FILE
from companion.practice.taken_in import take_in as take_into_records
from companion.practice.taken_out import check_only_a_take, delete_take
from companion.resources import DATA_VARIABLE
from companion.stage.take import Take
from companion.stage.take_files import DATA, MIDI
from tests.practice.test_partner import WALK, take_of


def take_in(folder: Path, *more: str) -> Path:
    folder.mkdir()
    for name in (DATA, MIDI, *more):
        (folder / name).write_text("{}", encoding="utf-8")
    return folder


def test_what_else_lies_in_its_folder_keeps_a_take_from_being_deleted(tmp_path: Path) -> None:
    folder = take_in(tmp_path / "a", "fingering.txt")
    with pytest.raises(TakeError, match=r"fingering\.txt"):
        delete_take(folder)
    assert (folder / DATA).exists() and (folder / "fingering.txt").exists()


def test_a_take_and_its_rendering_go_together(tmp_path: Path) -> None:
    folder = take_in(tmp_path / "a", "tonight.wav")
    check_only_a_take(folder)
    assert delete_take(folder) == ""
    assert not folder.exists()


@pytest.fixture
def recorded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Take:
    """A take of the player's, which is in the records."""
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    take = take_of(tmp_path, [WALK])
    with Records() as records:
        take_into_records(records)
    return take


def known() -> list[str]:
    """The takes in the records."""
    with Records() as records:
        return [take.folder for take in records.takes()]


def test_a_take_leaves_the_records_and_a_copy_of_it_elsewhere_does_not(recorded: Take, tmp_path: Path) -> None:
    copy = tmp_path / "copies" / recorded.folder.name
    shutil.copytree(recorded.folder, copy)
    assert delete_take(copy) == "" and known() == [recorded.folder.name]
    assert delete_take(recorded.folder) == "" and known() == []
    assert delete_take(take_in(recorded.folder)) == "", "a take that isn't in the records goes all the same"


def test_records_of_a_newer_companion_are_told_though_the_take_is_gone(recorded: Take, tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / FILE)) as file:
        file.execute("PRAGMA user_version = 99")
    assert "newer companion" in delete_take(recorded.folder) and not recorded.folder.exists()
