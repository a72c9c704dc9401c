"""A file is written whole or not at all."""

from __future__ import annotations

import errno
import io
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.errors import InputError
from companion.files import (
    check_writable,
    keep_former,
    limited,
    lock,
    made_output,
    read_limited,
    unwritable,
    write_output,
    write_whole,
)


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
    with pytest.raises(InputError, match=r"beats\.csv: can't be written: no space left on device; make room"):
        write_whole(path, "better")
    assert path.read_text() == "good"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("number", "remedy"),
    [
        (errno.ENOSPC, "make room on the disk, or write to another one"),
        (errno.EDQUOT, "make room on the disk, or write to another one"),
        (errno.EROFS, "write to another disk"),
        (errno.EFBIG, "write to another disk"),
        (errno.EACCES, "name another file"),
        (errno.ENAMETOOLONG, "name another file"),
    ],
)
def test_another_name_is_the_remedy_only_where_it_would_help(number: int, remedy: str) -> None:
    assert str(unwritable("x.mid", OSError(number, os.strerror(number)))).endswith(f"; {remedy}")


def test_former_versions_are_kept_beside_a_file_and_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "tune.toml"
    for text in ("one", "two"):
        path.write_text(text)
        kept = keep_former(path)
        assert kept.read_text() == text
    assert sorted(file.name for file in tmp_path.iterdir()) == ["tune.toml", "tune.toml.former-1", "tune.toml.former-2"]
    with pytest.raises(InputError, match="no such file"):
        keep_former(tmp_path / "nothing.toml")


@pytest.fixture
def device() -> Iterator[Path]:
    """A terminal of the test's own: a fault of ours may cost it, as it may not the machine's."""
    if not hasattr(os, "openpty"):
        pytest.skip("needs terminals of its own")
    ours, theirs = os.openpty()
    yield Path(os.ttyname(theirs))
    os.close(ours)
    os.close(theirs)


def test_a_device_is_written_as_it_is(device: Path) -> None:
    write_whole(device, "nothing")
    assert device.is_char_device()


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


def test_what_stood_there_is_kept_once_under_a_number(tmp_path: Path) -> None:
    path = tmp_path / "beats.csv"
    assert write_output(path, "one") is None
    assert write_output(path, "one") is None
    assert write_output(path, "two") == tmp_path / "beats.csv.former-1"
    assert write_output(path, "three") == tmp_path / "beats.csv.former-2"
    path.write_text("one")  # it comes again
    assert write_output(path, "four") == tmp_path / "beats.csv.former-1"
    kept = {file.name: file.read_text() for file in tmp_path.iterdir()}
    assert kept == {"beats.csv": "four", "beats.csv.former-1": "one", "beats.csv.former-2": "two"}


def test_force_keeps_nothing(tmp_path: Path) -> None:
    path = tmp_path / "beats.csv"
    path.write_text("one")
    assert write_output(path, "two", force=True) is None
    assert [file.read_text() for file in tmp_path.iterdir()] == ["two"]


def test_a_number_that_is_missing_is_not_taken_again(tmp_path: Path) -> None:
    path = tmp_path / "beats.csv"
    for text in "abc":
        write_output(path, text)
    (tmp_path / "beats.csv.former-1").unlink()
    assert write_output(path, "d") == tmp_path / "beats.csv.former-3"


def test_a_file_that_is_made_bit_by_bit_is_put_in_place_at_the_end(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(b"mine")
    with pytest.raises(RuntimeError), made_output(path) as made:
        made.path.write_bytes(b"half of")
        raise RuntimeError
    assert [file.name for file in tmp_path.iterdir()] == ["take.wav"]
    with made_output(path) as made:
        made.path.write_bytes(b"whole")
    assert path.read_bytes() == b"whole" and made.former == tmp_path / "take.wav.former-1"
    assert made.former.read_bytes() == b"mine"


def test_a_link_is_followed_to_its_file(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    path, file = tmp_path / "beats.csv", tmp_path / "kept" / "beats.csv"
    file.write_text("one")
    path.symlink_to(file)
    assert write_output(path, "two") == tmp_path / "kept" / "beats.csv.former-1"
    assert path.is_symlink() and file.read_text() == "two"


def test_a_folder_may_be_reached_by_a_link(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "kept")
    path = tmp_path / "link" / "beats.csv"
    path.write_text("one")
    assert write_output(path, "two") == tmp_path / "link" / "beats.csv.former-1", "as it was named"


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="needs names of open files")
def test_a_name_of_an_open_file_is_written_as_it_is_and_keeps_nothing(tmp_path: Path) -> None:
    """As /dev/stdout, where the output goes to a file."""
    path = tmp_path / "beats.csv"
    path.write_text("one")
    with path.open("r+b") as file:
        assert write_output(f"/proc/self/fd/{file.fileno()}", "two") is None
    assert [(one.name, one.read_text()) for one in tmp_path.iterdir()] == [("beats.csv", "two")]


KILOBYTE, MEGABYTE = 1024, 1024 * 1024  # IEC 80000-13 has other names for them; people's file lists don't


@pytest.mark.parametrize(("size", "fits"), [(0, True), (KILOBYTE - 1, True), (KILOBYTE, True), (KILOBYTE + 1, False)])
def test_a_file_is_read_up_to_its_limit_and_not_a_byte_beyond(tmp_path: Path, size: int, fits: bool) -> None:
    path = tmp_path / "tune.toml"
    data = bytes(n % 251 for n in range(size))
    path.write_bytes(data)
    if fits:
        assert read_limited(path, KILOBYTE, "a lead sheet") == limited(io.BytesIO(data), KILOBYTE, "a chart") == data
        return
    with pytest.raises(InputError, match=r"tune\.toml: is larger than 1 kB, too large for a lead sheet"):
        read_limited(path, KILOBYTE, "a lead sheet")


@pytest.mark.parametrize(
    ("most", "told"),
    [(2 * KILOBYTE, "2 kB"), (MEGABYTE - 1, "1023 kB"), (MEGABYTE, "1 MB"), (3 * MEGABYTE, "3 MB")],
)
def test_a_limit_is_told_in_kilobytes_and_from_a_megabyte_on_in_megabytes(most: int, told: str) -> None:
    with pytest.raises(InputError, match=f"larger than {told}"):
        limited(io.BytesIO(bytes(most + 1)), most, "a tune")


def test_a_file_that_is_not_there_or_has_no_name_for_its_fault_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputError, match=r"no\.toml: can't be read: no such file or directory; check its name"):
        read_limited(tmp_path / "no.toml", 10, "a chart")

    def gone(*_: object) -> None:
        raise OSError

    monkeypatch.setattr(Path, "open", gone)
    with pytest.raises(InputError, match="can't be read: no access"):
        read_limited(tmp_path / "no.toml", 10, "a chart")
    assert "can't be written: no access" in str(unwritable("x.mid", OSError()))


def test_what_cannot_be_made_into_a_former_version_stays_in_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "beats.csv"
    path.write_text("good")

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("companion.files.shutil.copy2", full)
    with pytest.raises(InputError, match="no space left on device; make room"):
        write_output(path, "better")
    assert {file.name: file.read_text() for file in tmp_path.iterdir()} == {"beats.csv": "good"}


def test_a_former_version_of_the_same_size_is_another_unless_it_is_the_same_to_the_byte(tmp_path: Path) -> None:
    path = tmp_path / "tune.toml"
    names = []
    for text in ("abc", "abd", "abcd", "abc"):
        path.write_text(text)
        names.append(keep_former(path).name)
    assert names == [f"tune.toml.former-{n}" for n in (1, 2, 3, 1)]
    (tmp_path / "tune.toml.former-9x").write_text("not a number of ours")
    path.write_text("abe")
    assert keep_former(path).name == "tune.toml.former-4"


def test_a_file_in_a_folder_that_is_there_is_writable_before_and_after_it_is_made(tmp_path: Path) -> None:
    path = tmp_path / "beats.csv"
    check_writable(path)
    path.write_text("one")
    check_writable(path)
    check_writable(os.devnull)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_is_written_as_it_is_and_keeps_nothing(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        assert write_output(pipe, "one") is None
        assert os.read(reader, 10) == b"one"
        assert [file.name for file in tmp_path.iterdir()] == ["pipe"] and not pipe.is_file()
    finally:
        os.close(reader)


def test_a_file_that_is_being_written_is_marked_until_it_is_let_go(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with path.open("xb") as first, path.open("rb") as second:
        assert (lock(first), lock(second)) == (True, False)
    with path.open("rb") as third:
        assert lock(third) is True


def test_what_a_maker_says_of_its_own_is_not_said_of_the_disk(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the tune has no notes"), made_output(tmp_path / "tune.wav"):
        raise InputError("the tune has no notes")
    with pytest.raises(InputError, match=r"tune\.wav: can't be written"), made_output(tmp_path / "tune.wav"):
        raise OSError(errno.EIO, os.strerror(errno.EIO))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("there", "needed"), [(False, {"."}), (True, {".", "beats.csv"})])
def test_to_take_the_place_of_a_file_its_folder_must_be_writable_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bool, needed: set[str]
) -> None:
    """Asked of the system (which refuses root nothing): the folder, for the move, and the file, where there is one."""
    path = tmp_path / "beats.csv"
    if there:
        path.write_text("one")
    for closed in (".", "beats.csv"):
        shut = (tmp_path / closed).resolve()
        monkeypatch.setattr(os, "access", lambda one, _, shut=shut: Path(one).resolve() != shut)
        if closed in needed:
            with pytest.raises(InputError, match="permission denied"):
                check_writable(path)
        else:
            check_writable(path)


def test_a_device_is_writable_whatever_its_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda one, _: str(one) == os.devnull)
    check_writable(os.devnull)


def test_a_file_is_made_beside_its_place_and_what_goes_to_a_device_is_made_elsewhere(
    tmp_path: Path, device: Path
) -> None:
    """A move within a folder is one step; across disks it is a copy, of which a crash leaves half."""
    with made_output(tmp_path / "take.wav") as made:
        assert made.path.parent == tmp_path
        made.path.write_bytes(b"whole")
    with made_output(device) as made:
        assert made.path.parent not in (tmp_path, device.parent)
        made.path.write_bytes(b"nothing")
