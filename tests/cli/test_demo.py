"""``demo`` as a shell sees it: any tune, any role, a take that is kept."""

from __future__ import annotations

import io
import os
import signal
import struct
import subprocess
import sys
import wave
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

import mido
import pytest

from companion import cli
from companion.cli.demo import KEPT

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]
Shell = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """What a demo of a blues, once through, shows; and the player's folder afterwards."""
    data = tmp_path_factory.mktemp("evening")
    words = ["demo", "two-spoons-short", "--fast", "--choruses", "1", "--data", str(data)]
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = cli.main(words)
    assert (status, err.getvalue()) == (0, "")
    return out.getvalue(), data


def test_the_demo_shows_the_job_without_any_hardware(evening: tuple[str, Path]) -> None:
    out, data = evening
    for words in ("pianist ", "A   1  F13 ", "Two Spoons Short:", "followed: ", "bass", "kept in "):
        assert words in out
    (take,) = (data / "demo" / "takes").iterdir()
    assert str(take / "take.wav") in out
    assert {path.name for path in take.iterdir()} == {"take.mid", "take.json", "take.wav"}
    with wave.open(str(take / "take.wav")) as sound:
        assert sound.getnframes() / sound.getframerate() > 20  # twelve bars at 116 and two to count in


def test_the_demo_says_first_how_to_hear_it_and_what_it_will_do(evening: tuple[str, Path]) -> None:
    out, _ = evening
    said, _, table = out.partition("\n\n")
    said = " ".join(said.split())
    assert said.startswith("to hear it: 'companion demo' without --fast") and "take.wav" in said
    assert said.index("take.wav") < said.index("a built-in pianist plays the melody")
    assert said.endswith("finds out where in the chart they are, and plays the chords and the bass with them")
    heads = next(line for line in table.splitlines() if line.strip().startswith("bar "))
    assert heads.split("  ")[-1] == "above the bass"
    bars = [line for line in table.splitlines() if line.startswith("   A ")]
    assert len(bars) == 12
    for head in ("changes", "beats", "pianist", "bass "):
        place = heads.index(head)
        assert all(line[place - 2 : place] == "  " for line in bars if len(line) > place)


@pytest.mark.parametrize("columns", [40, 130])
def test_in_any_terminal_no_line_of_the_table_wraps(columns: int, tmp_path: Path) -> None:
    words = ["demo", "two-spoons-short", "--fast", "--choruses", "1", "--out", str(tmp_path)]
    shown = _in_a_terminal(columns, *words).partition("Two Spoons Short: ")[0].splitlines()
    assert sum(line.startswith("   A ") for line in shown) == 12
    assert max(map(len, shown)) < columns
    assert all("changes" not in line or "pianist" in line for line in shown)


def _in_a_terminal(columns: int, *words: str) -> str:
    """What a command shows in a terminal of so many columns."""
    pty, fcntl, termios = (pytest.importorskip(name) for name in ("pty", "fcntl", "termios"))
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 30, columns, 0, 0))
    with subprocess.Popen([sys.executable, "-m", "companion", *words], stdout=theirs, stderr=theirs) as process:
        os.close(theirs)
        shown = b""
        with suppress(OSError):  # Linux: the terminal is gone when the command is
            while more := os.read(ours, 65536):
                shown += more
        os.close(ours)
    assert process.returncode == 0, shown
    return shown.decode().replace("\r\n", "\n")


def test_the_demo_plays_any_chart_and_any_role(run: Run, tmp_path: Path, sheet: Path) -> None:
    wav = tmp_path / "evening.wav"
    words = ("--you", "bass", "--player", "clean", "--wav", wav, "--out", tmp_path / "here", "--choruses", "1")
    status, out, _ = run("demo", sheet, "--fast", *words)
    assert status == 0 and wav.exists()
    assert "the companion's notes: " in out and " bass " not in out.split("the companion's notes: ")[1].splitlines()[0]
    assert [path.name for path in (tmp_path / "here").iterdir()] == ["takes"]


def test_in_the_demo_the_pianist_and_the_companion_take_fours(run: Run) -> None:
    status, out, err = run("demo", "heron-over-slate", "--fast", "--trade", "4", "--choruses", "1", "--order", "form")
    assert (status, err) == (0, "")
    bars = [line for line in out.splitlines() if "%" in line and line[7:9].strip().isdigit()]
    ours = ["its line:" in line for line in bars]
    assert len(bars) == 32 and not any(ours[n] for n in range(32) if n // 4 % 2 == 0)
    assert sum(ours) >= 12 and "solo" in out.split("the companion's notes: ")[1].splitlines()[0]


def test_to_trade_is_to_improvise(run: Run, one_line: OneLine) -> None:
    status, _, err = run("demo", "--fast", "--trade", "4", "--you", "bass")
    assert status == 2 and "improvise in turn; say --you solo" in one_line(err)


def test_a_demo_that_cannot_be_kept_does_not_begin(run: Run, tmp_path: Path, one_line: OneLine) -> None:
    (tmp_path / "taken").write_text("a file")
    status, out, err = run("demo", "--fast", "--out", tmp_path / "taken")
    assert status == 2 and not out and "taken: can't be written" in one_line(err)


def test_a_chart_without_chords_or_without_a_melody_is_played_as_far_as_it_goes(
    run: Run, tmp_path: Path, one_line: OneLine
) -> None:
    head = 'format = 1\ntitle = "Half"\nkey = "C major"\nmetre = "4/4"\ntempo = 120\nform = "A"\n[section.A]\n'
    tune = tmp_path / "tune.toml"
    tune.write_text(head + 'melody = "| c4 d4 | e4 f4 | g4 e4 | c8 |"\n', encoding="utf-8")
    assert run("demo", tune, "--fast", "--choruses", 2)[0] == 0
    changes = tmp_path / "changes.toml"
    changes.write_text(head + 'chords = "| Cmaj7 | Am7 | Dm7 | G7 |"\n', encoding="utf-8")
    assert run("demo", changes, "--fast", "--you", "bass", "--choruses", 2)[0] == 0
    status, _, err = run("demo", changes, "--fast", "--you", "melody")
    assert status == 2
    assert one_line(err) == (
        f"companion: {changes}: the chart has no melody to play; "
        "improvise over it with --you solo, or take --you chords or --you bass\n"
    )


def test_over_a_chart_without_a_melody_the_pianist_improvises_and_that_is_said(run: Run, tmp_path: Path) -> None:
    changes = tmp_path / "changes.toml"
    changes.write_text('format = 1\n[section.A]\nchords = "| Cmaj7 | Am7 | Dm7 | G7 |"\n', encoding="utf-8")
    status, out, err = run("demo", changes, "--fast", "--choruses", 2)
    assert (status, err) == (0, "the chart has no melody: you improvise over it, as with --you solo\n")
    assert "chords" in out.split("the companion's notes: ")[1].splitlines()[0] and "followed: " in out
    take = next((tmp_path / "data" / "demo" / "takes").iterdir()) / "take.mid"
    status, out, err = run("replay", changes, take, "--tempo", 120)
    assert (status, err) == (0, "the chart has no melody: you improvise over it, as with --you solo\n")


def test_an_unknown_player_is_named_with_those_there_are(run: Run, one_line: OneLine) -> None:
    status, _, err = run("demo", "--fast", "--player", "nobody")
    assert status == 2 and "nobody" in one_line(err) and "evening" in err


def test_ctrl_c_in_the_middle_of_a_demo_keeps_the_take(tmp_path: Path) -> None:
    command = [sys.executable, "-u", "-m", "companion", "demo", "--out", str(tmp_path), "--order", "form"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as demo:
        assert demo.stdout is not None
        lines = iter(demo.stdout.readline, "")
        assert any("Gm6" in line for line in lines)  # the first bar has been played
        demo.send_signal(signal.SIGINT)
        out, err = demo.communicate(timeout=60)
    assert (demo.returncode, err) == (130, "\n")
    (take,) = (tmp_path / "takes").iterdir()
    assert f"kept in {take}" in out
    assert any(message.type == "note_on" for message in mido.MidiFile(take / "take.mid"))


def test_a_terminal_without_music_signs_is_no_error(shell: Shell) -> None:
    words = ("demo", "two-spoons-short", "--fast", "--choruses", "1")
    result = shell(*words, LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    assert (result.returncode, result.stderr) == (0, "")


def test_demos_dont_fill_the_disk_but_where_a_folder_is_named_all_are_kept(run: Run, tmp_path: Path) -> None:
    tune = tmp_path / "tune.toml"
    tune.write_text('format = 1\n[section.A]\nchords = "| Dm7 | G7 |"\nmelody = "| d8 | f8 |"\n', encoding="utf-8")
    short = ("demo", tune, "--fast", "--choruses", "1", "--player", "clean")
    for _ in range(KEPT + 1):
        assert run(*short)[0] == run(*short, "--out", tmp_path / "named")[0] == 0
    assert KEPT == 3 and len(list((tmp_path / "data" / "demo" / "takes").iterdir())) == 3
    assert len(list((tmp_path / "named" / "takes").iterdir())) == 4
