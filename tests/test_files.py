"""A file is written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from companion.errors import InputError
from companion.files import check_writable, keep_former, write_whole


def test_a_file_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "beats.csv"
    write_whole(path, "one\n")
    write_whole(path, "Übung ♭\n".encode())
    assert path.read_text(encoding="utf-8") == "Übung ♭\n"
    assert list(tmp_path.iterdir()) == [path]


def test_what_stood_there_stays_when_the_disk_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "beats.csv"
    path.write_text("good")

    def full(self: Path, data: bytes) -> int:
        with self.open("wb") as file:
            file.write(data[:2])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(InputError, match=r"beats\.csv: can't be written: no space left on device"):
        write_whole(path, "better")
    assert path.read_text() == "good"
    assert list(tmp_path.iterdir()) == [path]


def test_former_versions_are_kept_beside_a_file_and_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "tune.toml"
    for text in ("one", "two"):
        path.write_text(text)
        kept = keep_former(path)
        assert kept.read_text() == text
    assert sorted(file.name for file in tmp_path.iterdir()) == ["tune.toml", "tune.toml.former-1", "tune.toml.former-2"]
    with pytest.raises(InputError, match="no such file"):
        keep_former(tmp_path / "nothing.toml")


def test_a_device_is_written_as_it_is() -> None:
    write_whole(os.devnull, "nothing")
    assert not Path(os.devnull).is_file()


def test_a_place_that_cannot_be_written_is_known_before_the_work(tmp_path: Path) -> None:
    check_writable(tmp_path / "new.csv")
    with pytest.raises(InputError, match="is a folder; name a file in it"):
        check_writable(tmp_path)
    with pytest.raises(InputError, match="its folder isn't there"):
        check_writable(tmp_path / "no" / "new.csv")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_permission_is_known_before_the_work(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="permission denied"):
        check_writable(tmp_path / "new.csv")
