"""How a command ends: by its exit status, and with one line where something is wrong."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from companion import __version__
from companion.errors import DeviceError, FaultsFound, InputError, UseError

Run = Callable[..., tuple[int, str, str]]
FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "take.mid")
BARRED = OSError(errno.EACCES, os.strerror(errno.EACCES), "take.mid")


def ends(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """From now on ``companion ports`` ends so."""

    def list_ports(*_: object) -> list[str]:
        raise error

    monkeypatch.setattr("companion.ports.midi.list_ports", list_ports)


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (FaultsFound("2 faults found"), 1, "companion: 2 faults found\n"),
        (UseError("no such port", mend="plug it in"), 2, "companion: no such port; plug it in\n"),
        (InputError("is damaged", file="a.mid"), 2, "companion: a.mid: is damaged\n"),
        (DeviceError("the piano went away"), 3, "companion: the piano went away\n"),
        (BARRED, 2, "companion: take.mid: permission denied\n"),
        (KeyboardInterrupt(), 130, "\n"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else "",
)
def test_each_kind_of_trouble_has_its_status_and_its_line(
    run: Run, monkeypatch: pytest.MonkeyPatch, error: BaseException, status: int, said: str
) -> None:
    ends(monkeypatch, error)
    found, _, err = run("ports")
    assert (found, err) == (status, said)


def test_a_full_disk_is_told_with_what_helps(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    ends(monkeypatch, FULL)
    status, _, err = run("ports")
    assert status == 2 and err.startswith("companion: take.mid: no space left on device; ") and err.count("\n") == 1


@pytest.mark.parametrize("error", [RuntimeError("odd"), OSError("nowhere")], ids=["any", "without a file"])
def test_a_defect_is_one_line_and_a_report_for_those_who_can_mend_it(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, error: Exception
) -> None:
    ends(monkeypatch, error)
    status, _, err = run("ports")
    (report,) = (tmp_path / "data" / "defects").iterdir()
    kind = type(error).__name__
    assert (status, err) == (
        70,
        f"companion: a defect of the companion, not of yours ({kind}); please report it with the file {report}\n",
    )
    text = report.read_text(encoding="utf-8")
    assert text.startswith(f"companion {__version__}, Python ") and f"{kind}: {error}" in text


def test_where_a_defect_cant_be_reported_it_is_said_how_to_see_it(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    ends(monkeypatch, RuntimeError("odd"))
    (tmp_path / "data").write_text("in the way", encoding="utf-8")
    status, _, err = run("ports")
    assert status == 70 and err.endswith(
        "(RuntimeError); run it again with COMPANION_DEBUG=1 and report what it prints\n"
    )
    monkeypatch.setenv("COMPANION_DEBUG", "1")
    with pytest.raises(RuntimeError, match="odd"):
        run("ports")


def test_ports_are_listed_below_the_players_folder(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("companion.ports.midi.list_ports", lambda *asked: [str(asked), "no port"])
    status, out, err = run("ports", "--in", "stage", "--midi", "jack")
    assert (status, err) == (0, "")
    assert out.splitlines() == [
        f"takes, your own charts and your own configs: {tmp_path / 'data'}",
        "('stage', None, 'jack')",
        "no port",
    ]
