"""A take is deleted with its place in the records, and nothing else of the player's goes with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.errors import TakeError
from companion.practice.taken_out import check_only_a_take, delete_take
from companion.stage.take_files import DATA, MIDI


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
