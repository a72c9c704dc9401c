"""How a command ends: the exit status of each kind of error, defects, Ctrl-C, a reader that has seen enough."""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from companion import cli
from companion.errors import DeviceError, FaultsFound

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


def _failing(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def fail(_: argparse.Namespace) -> int:
        raise error

    monkeypatch.setattr(cli, "_run", fail)


@pytest.mark.parametrize(
    ("error", "status"),
    [(FaultsFound("2 faults"), 1), (DeviceError("the piano went away"), 3)],
)
def test_each_kind_of_error_has_its_exit_status(
    run: Run, monkeypatch: pytest.MonkeyPatch, error: Exception, status: int
) -> None:
    _failing(monkeypatch, error)
    assert run("replay") == (status, "", f"companion: {error}\n")


def test_a_defect_is_said_in_one_line_and_written_down_for_developers(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, one_line: OneLine
) -> None:
    _failing(monkeypatch, ZeroDivisionError("no beats"))
    status, out, err = run("replay")
    assert (status, out) == (70, "")  # EX_SOFTWARE, sysexits.h
    (written,) = (tmp_path / "data" / "defects").iterdir()
    assert str(written) in one_line(err) and "ZeroDivisionError" in err
    assert "ZeroDivisionError: no beats" in written.read_text(encoding="utf-8")


def test_a_defect_with_nowhere_to_write_it_still_is_one_line(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, one_line: OneLine
) -> None:
    (tmp_path / "data").write_text("a file where the folder should be")
    _failing(monkeypatch, ZeroDivisionError("no beats"))
    status, _, err = run("replay")
    assert status == 70 and "COMPANION_DEBUG=1" in one_line(err)


def test_developers_see_the_traceback(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _failing(monkeypatch, ZeroDivisionError("no beats"))
    monkeypatch.setenv("COMPANION_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run("replay")


def test_a_full_disk_is_no_defect(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _failing(monkeypatch, OSError(28, "No space left on device", "take.mid"))
    assert run("replay") == (2, "", "companion: take.mid: no space left on device\n")


def test_ctrl_c_ends_with_nothing_but_a_new_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _failing(monkeypatch, KeyboardInterrupt())
    assert run("replay") == (130, "", "\n")


@pytest.mark.parametrize("words", ["--help", "chart show ferry-without-lights"])
def test_a_reader_that_has_seen_enough_is_no_error(words: str) -> None:
    command = f'set -o pipefail; "{sys.executable}" -m companion {words} | true'
    result = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=60)
    assert (result.returncode, result.stderr) == (0, "")
