"""A journal's rows are read as they were written, damaged ones are told from sound ones, and no row is ever lost.

Status bytes 80 to EF (hexadecimal) begin a channel message, data bytes go up to 7F (MIDI 1.0). A text of JSON stands in
a line of its own, which its end of line completes.
"""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path
from typing import Any

import pytest

from companion.messages import Heard, Order, State, Wish
from companion.stage import journal
from companion.stage.journal import FORCED, JOURNAL, RETRY, JournalFile, disk_reason, head_line, line_of, read_rows
from companion.stage.performance import LONGEST

EVENTS = [
    Heard(1.0, 0x90, 60, 80),
    Order(1.5, "bass", 0x80, 40, 64),
    Wish(2.0, "faster"),
    State(0.0, "waiting"),
]


def read_one(*row: Any) -> Any:
    """What one row says."""
    (said,) = read_rows([json.dumps(row).encode() + b"\n"])
    return said


@pytest.mark.parametrize("event", EVENTS)
def test_what_is_written_is_read_again(event: Any) -> None:
    line = line_of(event)
    assert line.endswith(b"\n") and line.count(b"\n") == 1
    assert list(read_rows([line])) == [event]


def test_the_first_row_is_the_head_with_its_letters_as_they_are() -> None:
    head = {"chart": "Fähre ♭", "seed": 3}
    line = head_line(head)
    assert line == '["take",{"chart":"Fähre ♭","seed":3}]\n'.encode()
    assert list(read_rows([line])) == [head]


@pytest.mark.parametrize("row", [("take",), ("take", {}, {}), ("take", 3), ("take", None), ("nobody", 1.0), ()])
def test_what_is_neither_head_nor_event_says_nothing(row: tuple[Any, ...]) -> None:
    assert read_one(*row) is None


def test_a_row_that_a_crash_cut_off_is_passed_over_and_a_damaged_one_is_none() -> None:
    whole = line_of(EVENTS[0])
    assert list(read_rows([whole, whole[:-1]])) == [EVENTS[0]]
    assert list(read_rows([whole[:9] + b"\n", whole, b"\xff\n", b"\n", b"[" * 100_000 + b"\n"])) == [
        None, EVENTS[0], None, None, None,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("status", "key", "velocity", "sound"),
    [
        (0x7F, 60, 64, False), (0x80, 60, 64, True), (0xEF, 60, 64, True), (0xF0, 60, 64, False),
        (0x90, -1, 64, False), (0x90, 0, 64, True), (0x90, 127, 64, True), (0x90, 128, 64, False),
        (0x90, 60, -1, False), (0x90, 60, 0, True), (0x90, 60, 127, True), (0x90, 60, 128, False),
    ],
)  # fmt: skip
def test_bytes_out_of_their_range_are_no_message(status: int, key: int, velocity: int, sound: bool) -> None:
    heard = Heard(1.0, status, key, velocity)
    order = Order(1.0, "bass", status, key, velocity)
    assert read_one("heard", 1.0, status, key, velocity) == (heard if sound else None)
    assert read_one("order", 1.0, "bass", status, key, velocity) == (order if sound else None)


@pytest.mark.parametrize(
    ("seconds", "sound"), [(-0.001, False), (0, True), (0.0, True), (LONGEST, True), (LONGEST + 0.001, False)]
)
def test_a_take_begins_at_0_and_has_an_end(seconds: float, sound: bool) -> None:
    assert (read_one("heard", seconds, 0x90, 60, 64) is not None) == sound
    assert (read_one("wish", seconds, "faster") is not None) == sound


def test_a_part_that_nobody_plays_and_a_wish_that_nobody_has_are_refused() -> None:
    assert read_one("order", 1.0, "kazoo", 0x90, 60, 64) is None
    assert read_one("wish", 1.0, "louder") is None
    assert read_one("heard", float("nan"), 0x90, 60, 64) is None


# On the disk


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The clock of the journal, set by hand."""
    now = [100.0]
    monkeypatch.setattr(journal.time, "monotonic", lambda: now[0])
    return now


class Folders:
    """A disk that can refuse to make a folder."""

    def __init__(self, place: Path) -> None:
        self.place, self.full, self.asked = place, False, 0

    def make(self) -> Path:
        self.asked += 1
        if self.full:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return self.place


def rows(place: Path) -> list[bytes]:
    return (place / JOURNAL).read_bytes().splitlines()


def test_a_row_is_in_the_file_at_once_and_on_the_disk_half_a_second_later(
    tmp_path: Path, clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    forced: list[float] = []
    monkeypatch.setattr(journal.os, "fsync", lambda _: forced.append(clock[0]))
    file = JournalFile(lambda: tmp_path, pytest.fail)
    assert file.wait() is None
    file.append(b"one\n")
    assert rows(tmp_path) == [b"one"] and file.wait() == FORCED and not file.waiting
    clock[0] += 0.25
    file.append(b"two\n")
    assert file.wait() == FORCED - 0.25 and forced == []
    clock[0] += 0.25
    assert file.wait() == 0.0
    file.go_on()
    assert forced == [100.5] and file.wait() is None
    clock[0] += 9.0
    file.append(b"three\n")
    file.go_on(last=True)
    assert forced == [100.5, 109.5] and file.wait() is None
    file.close()
    assert rows(tmp_path) == [b"one", b"two", b"three"]


def test_what_a_full_disk_refuses_waits_in_order_and_is_told_once_each_way(tmp_path: Path, clock: list[float]) -> None:
    disk, told = Folders(tmp_path), list[str]()
    file = JournalFile(disk.make, told.append)
    disk.full = True
    file.append(b"one\n")
    file.append(b"two\n")
    assert disk.asked == 1 and len(file.waiting) == 2 and file.wait() == RETRY == 2.0, "not at every row"
    clock[0] += RETRY / 2
    file.go_on()
    assert disk.asked == 1
    clock[0] += RETRY / 2
    file.go_on()
    assert disk.asked == 2 and len(told) == 1 and "(no space left on device)" in told[0]
    disk.full = False
    clock[0] += RETRY
    file.append(b"three\n")
    assert rows(tmp_path) == [b"one", b"two", b"three"] and file.trouble is None
    file.close()
    assert told[1:] == ["the take is on the disk again, and nothing of it is missing"]


def test_at_the_end_the_disk_is_asked_once_more_whatever_the_time(tmp_path: Path, clock: list[float]) -> None:
    disk = Folders(tmp_path)
    file = JournalFile(disk.make, lambda _: None)
    disk.full = True
    file.append(b"one\n")
    disk.full = False
    file.go_on(last=True)
    assert rows(tmp_path) == [b"one"]
    file.close()


def test_a_row_of_which_the_disk_took_a_part_is_gone_on_with_where_it_stopped(tmp_path: Path) -> None:
    class Narrow:
        """A file on a disk that takes three bytes at a time."""

        def __init__(self, file: Any) -> None:
            self.file = file

        def write(self, data: bytes) -> int:
            return int(self.file.write(data[:3]))

        def __getattr__(self, name: str) -> Any:
            return getattr(self.file, name)

    file = JournalFile(lambda: tmp_path, pytest.fail)
    file.append(b"one\n")
    file._file = Narrow(file._file)  # type: ignore[assignment]
    file.append(b"twenty-two\n")
    file.append(b"three\n")
    assert rows(tmp_path) == [b"one", b"twenty-two", b"three"] and not file.waiting
    file.close()


def test_a_journal_never_takes_the_place_of_another(tmp_path: Path, clock: list[float]) -> None:
    (tmp_path / JOURNAL).write_bytes(b"yesterday's\n")
    told: list[str] = []
    file = JournalFile(lambda: tmp_path, told.append)
    file.append(b"one\n")
    assert rows(tmp_path) == [b"yesterday's"] and len(told) == 1 and list(file.waiting) == [b"one\n"]
    file.close()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(errno.EIO, "Input/output error"), "input/output error"),
        (OSError("Odd Disk"), "odd disk"),
        (OSError(), "oserror"),
    ],
)
def test_a_refusal_is_told_in_the_systems_words(error: OSError, words: str) -> None:
    assert disk_reason(error) == words
