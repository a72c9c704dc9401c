"""How a command ends: the exit status of each kind of error, defects, Ctrl-C, a reader that has seen enough."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

import pytest

from companion import __version__, cli
from companion.cli import ending
from companion.cli.ending import enter_ends, line_typed_within, typed_lines
from companion.errors import DeviceError, FaultsFound, InputError, UseError

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


def _failing(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def fail(_: argparse.Namespace) -> int:
        raise error

    monkeypatch.setattr(cli, "_run", fail)


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (FaultsFound("2 faults"), 1, "2 faults"),
        (UseError("no such port", mend="plug it in"), 2, "no such port; plug it in"),
        (InputError("is damaged", file="a.mid"), 2, "a.mid: is damaged"),
        (OSError(13, "Permission denied", "a.mid"), 2, "a.mid: permission denied"),
        (DeviceError("the piano went away"), 3, "the piano went away"),
    ],
)
def test_each_kind_of_error_has_its_exit_status(
    run: Run, monkeypatch: pytest.MonkeyPatch, error: Exception, status: int, said: str
) -> None:
    _failing(monkeypatch, error)
    assert run("replay") == (status, "", f"companion: {said}\n")


@pytest.mark.parametrize("defect", [ZeroDivisionError("no beats"), OSError("no beats")], ids=["any", "without a file"])
def test_a_defect_is_said_in_one_line_and_written_down_for_developers(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, one_line: OneLine, defect: Exception
) -> None:
    _failing(monkeypatch, defect)
    status, out, err = run("replay")
    assert (status, out) == (70, "")  # EX_SOFTWARE, sysexits.h
    (written,) = (tmp_path / "data" / "defects").iterdir()
    kind, text = type(defect).__name__, written.read_text(encoding="utf-8")
    said = f"companion: a defect of the companion, not of yours ({kind}); please report it with the file {written}\n"
    assert one_line(err) == said
    assert text.startswith(f"companion {__version__}, Python ") and f"{kind}: no beats" in text


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
    remedy = "make room on the disk, or write to another one"
    assert run("replay") == (2, "", f"companion: take.mid: no space left on device; {remedy}\n")


def test_ctrl_c_ends_with_nothing_but_a_new_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _failing(monkeypatch, KeyboardInterrupt())
    assert run("replay") == (130, "", "\n")


@pytest.mark.parametrize("unbuffered", ["", "1"], ids=["", "unbuffered"])
@pytest.mark.parametrize("words", ["--help", "--version", "play --help", "chart show ferry-without-lights"])
def test_a_reader_that_has_seen_enough_is_no_error(words: str, unbuffered: str) -> None:
    command = f'set -o pipefail; "{sys.executable}" -m companion {words} | true'
    environment = {**os.environ, "PYTHONUNBUFFERED": unbuffered}
    result = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=60, env=environment)
    assert (result.returncode, result.stderr) == (0, "")


SHORT_DEMO = "demo two-spoons-short --choruses 1"
needs_terminals = pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs pseudo-terminals")


@needs_terminals
@pytest.mark.parametrize(
    "words", ["chart show ferry-without-lights", "demo two-spoons-short --fast --choruses 1", "chart none"]
)
def test_a_terminal_that_was_closed_is_no_defect(tmp_path: Path, words: str) -> None:
    outside, inside = os.openpty()
    os.close(outside)  # from now on whatever is written fails: EIO
    environment = {**os.environ, "COMPANION_DATA": str(tmp_path)}
    command = [sys.executable, "-m", "companion", *words.split()]
    status = subprocess.run(command, stdout=inside, stderr=inside, env=environment, timeout=120, check=False).returncode
    os.close(inside)
    assert status == (2 if "none" in words else 0)
    assert not (tmp_path / "defects").exists()


def test_ctrl_c_while_the_command_is_still_being_read_in_is_quiet(tmp_path: Path) -> None:
    (tmp_path / "argparse.py").write_text("raise KeyboardInterrupt\n")  # at the first import that takes any time
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])}
    command = [sys.executable, "-c", "import sys; from companion.__main__ import run; sys.exit(run())"]
    for words in (command, [sys.executable, "-m", "companion"]):
        result = subprocess.run(
            words,
            env=environment,
            cwd=Path(__file__).parents[3],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert (result.returncode, result.stdout, result.stderr) == (130, "", "")


def test_the_installed_command_is_quiet_likewise() -> None:
    text = (Path(__file__).parents[3] / "pyproject.toml").read_text(encoding="utf-8")
    assert 'companion = "companion.__main__:run"' in text


@needs_terminals
@pytest.mark.parametrize(
    ("words", "seen"),
    [("demo --order form", "Gm6"), ("chart audit ferry-without-lights --seeds 200", "arranging")],
)
def test_ctrl_c_leaves_nothing_of_itself_on_the_screen(tmp_path: Path, words: str, seen: str) -> None:
    import pty

    child, screen = pty.fork()
    if child == 0:
        os.environ["COMPANION_DATA"] = str(tmp_path)
        os.execv(sys.executable, [sys.executable, "-m", "companion", *words.split()])
    shown = _read_until(screen, seen)
    time.sleep(0.3)
    os.write(screen, b"\x03")
    shown += _read_until(screen, None)
    assert "^C" in shown, "the terminal shows it by itself"
    assert "^C" not in "\n".join(_as_it_stands(shown))
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 130
    os.close(screen)


def _read_until(screen: int, wanted: str | None) -> str:
    """What a program writes until it has written something, or to its end."""
    shown = ""
    while wanted is None or wanted not in shown:
        try:
            data = os.read(screen, 4096)
        except OSError:  # Linux: the other side is closed
            break
        if not data:
            break
        shown += data.decode("utf-8", "replace")
    return shown


def _as_it_stands(shown: str) -> list[str]:
    """The lines on a screen after all that was written, carriage returns obeyed."""
    lines = []
    for line in shown.split("\n"):
        cells: list[str] = []
        for piece in line.split("\r"):
            cells[: len(piece)] = list(piece)
        lines.append("".join(cells).rstrip())
    return lines


@needs_terminals
def test_enter_ends_a_playing_as_it_was_asked_to(monkeypatch: pytest.MonkeyPatch) -> None:
    outside, inside = os.openpty()
    ended = threading.Event()
    with os.fdopen(inside, "r", encoding="utf-8") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        with enter_ends(ended.set) as enter:
            assert enter.listens and not ended.wait(0.3)
            os.write(outside, b"\n")
            assert ended.wait(5)
    os.close(outside)


def test_where_nobody_can_type_nothing_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    reading, writing = os.pipe()
    with os.fdopen(reading, "r", encoding="utf-8") as piped:
        stdin: TextIO = piped
        monkeypatch.setattr(sys, "stdin", stdin)
        with enter_ends(lambda: pytest.fail("ended")) as enter:
            os.write(writing, b"\n")
            assert not enter.listens
        assert piped.readline() == "\n"
    os.close(writing)


@needs_terminals
def test_the_answer_to_a_question_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    outside, inside = os.openpty()
    ended = threading.Event()
    with os.fdopen(inside, "r", encoding="utf-8") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)

        def answered(question: str) -> bool:
            os.write(outside, b"y\n")
            assert not ended.wait(0.5)
            return terminal.readline() == "y\n"

        monkeypatch.setattr(ending, "ask", answered)
        with enter_ends(ended.set) as enter:
            assert enter.ask("louder?") and not ended.wait(0.3)
            os.write(outside, b"\n")
            assert ended.wait(5), "and afterwards a line ends it as before"
    os.close(outside)


@needs_terminals
def test_lines_are_handed_on_as_long_as_they_are_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    outside, inside = os.openpty()
    taken: list[str] = []
    enough = threading.Event()

    def take(line: str) -> bool:
        taken.append(line)
        if len(taken) == 2:
            enough.set()
        return len(taken) < 2

    with os.fdopen(inside, "r", encoding="utf-8") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        with typed_lines(take) as listening:
            assert listening
            os.write(outside, b"one\n")
            os.write(outside, b"two\n")
            assert enough.wait(5)
            os.write(outside, b" three \n")
            assert not enough.wait(0) or taken == ["one\n", "two\n"]
        assert line_typed_within(5) == "three", "what wasn't wanted is there still"
        assert line_typed_within(0.05) is None
    os.close(outside)


def test_where_nobody_can_type_no_line_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    with typed_lines(lambda line: True) as listening:
        assert not listening
    assert line_typed_within(60) is None
