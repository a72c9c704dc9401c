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
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import mido
import pytest

from companion import cli
from companion.chart.model import Chart
from companion.cli.demo import KEPT
from companion.errors import DeviceError
from companion.messages import Heard, NoteKind, Order
from companion.pianist.player import SimulatedPerformance
from companion.pianist.touch import TrueNote
from companion.stage.demo import Closeness, DemoResult, played_by
from companion.stage.replay import Recording
from companion.stage.settings import Settings

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


# What is said, of a demo that is made by hand

TUNE = """format = 1
title = "Four"
tempo = 100
[section.A]
chords = "| Dm7 | G7 | Cmaj7 | % |"
melody = "| d8 | f8 | e8 | c8 |"
"""
SAID = """\
to hear it: 'companion demo' without --fast sounds it as it goes; afterwards it is in
here/takes/…/take.wav
Four, about 100 quarters a minute: a built-in pianist plays the melody, with a person's timing,
slips and stops; the companion hears nothing but their keys, finds out where in the chart they are,
and plays the chords and the bass with them

"""


@pytest.fixture
def four(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "four.toml"
    path.write_text(TUNE, encoding="utf-8")
    return path


NOT_COMPARED = Closeness(0, 0, 0.0)


@dataclass
class Evening:
    """A demo as it went: what came of it, whoever was to play."""

    close: Closeness = NOT_COMPARED
    returns: list[tuple[float, int]] = field(default_factory=list)
    trouble: str | None = None
    interrupted: bool = False
    error: Exception | None = None
    heard: tuple[Heard, ...] = (Heard(1.0, 0x90, 60, 64), Heard(9.0, 0x80, 60, 0))
    asked: list[Settings] = field(default_factory=list)

    def perform(self, chart: Chart, how: Settings, player: SimulatedPerformance, **more: Any) -> DemoResult:
        self.asked.append(how)
        recording = Recording(self.heard, (Order(2.0, "bass", 0x90, 36, 60),), ())
        return DemoResult(recording, self.close, self.returns, None, self.trouble, self.interrupted, self.error)


def told(
    run: Run, monkeypatch: pytest.MonkeyPatch, evening: Evening, *words: object, kinds: tuple[NoteKind, ...] = ()
) -> tuple[int, str, list[str]]:
    """The status, what is said before it and what after it; so much became of the notes, a second apart."""
    notes = tuple(TrueNote(kind, 0.0, 1, 60, 60, float(n)) for n, kind in enumerate(kinds))

    def with_slips(*asked: Any) -> Any:
        player, how = played_by(*asked)
        return replace(player, notes=notes), how

    monkeypatch.setattr("companion.stage.demo.played_by", with_slips)
    monkeypatch.setattr("companion.stage.demo.perform", evening.perform)
    status, out, _ = run("demo", "four.toml", "--fast", "--out", "here", *words)
    before, _, after = out.partition("\n\n")
    return status, before, after.strip().splitlines()


def test_it_is_said_how_to_hear_it_and_who_plays_what(run: Run, four: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    status, before, _ = told(run, monkeypatch, Evening())
    assert (status, before) == (0, SAID.strip())
    before = told(run, monkeypatch, Evening(), "--you", "melody,chords,bass", "--tempo", 90, "--wav", "it.wav")[1]
    said = " ".join(before.split())
    assert "afterwards it is in it.wav" in said and "about 90 quarters" in said
    assert "a built-in pianist plays the melody, the chords and the bass," in said
    assert said.endswith("and goes with them")


@pytest.mark.parametrize(
    ("evening", "kinds", "said"),
    [
        (Evening(), ("right", "right"), ["the pianist's slips: none"]),
        (
            Evening(Closeness(16, 12, 14.6)),
            ("wrong", "missing", "extra", "wrong", "right"),
            [
                "the pianist's slips: 2 struck wrong, 1 left out, 1 added",
                "followed: 12 of the pianist's 16 beats (75 %) sounded within 70 ms of theirs, 15 ms at the median",
            ],
        ),
        (
            Evening(returns=[(2.04, 0), (3.96, 1), (5.0, 4)], trouble="the disk is full"),
            ("extra",),
            [
                "the pianist's slips: 1 added",
                "they stopped for 2.0 s; the companion came back with their first beat",
                "they stopped for 4.0 s; the companion came back 1 beat after them",
                "they stopped for 5.0 s; the companion came back 4 beats after them",
                "the disk is full",
            ],
        ),
    ],
)
def test_what_happened_is_told_in_a_few_lines(
    run: Run,
    four: Path,
    monkeypatch: pytest.MonkeyPatch,
    evening: Evening,
    kinds: tuple[NoteKind, ...],
    said: list[str],
) -> None:
    status, _, lines = told(run, monkeypatch, evening, kinds=kinds)
    place = next(n for n, line in enumerate(lines) if line.startswith("the pianist's slips"))
    assert (status, lines[place:]) == (0, said)
    assert lines[place - 1] == "the companion's notes: bass 1" and any("played 1 note" in line for line in lines)


def test_of_a_demo_that_was_broken_off_only_what_was_played_is_counted(
    run: Run, four: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kinds: tuple[NoteKind, ...] = (
        "wrong",
        "missing",
        *["right"] * 7,
        "extra",
        "extra",
        "wrong",
    )  # the last of what was heard is at 9 s
    status, _, lines = told(run, monkeypatch, Evening(interrupted=True), kinds=kinds)
    assert status == 130 and "the pianist's slips: 1 struck wrong, 1 added" in lines
    status, _, lines = told(run, monkeypatch, Evening(error=DeviceError("the piano went away")), kinds=kinds)
    assert status == 3 and len(lines) == 2 and not any("slips" in line for line in lines), (
        "nothing was kept, and what went wrong is said"
    )


@pytest.mark.parametrize(
    ("words", "order"),
    [("", "form"), ("--order chart", "chart"), ("--choruses 2", "form"), ("--you solo", "form")],
)
def test_a_tune_without_an_order_goes_round(
    run: Run, four: Path, monkeypatch: pytest.MonkeyPatch, words: str, order: str
) -> None:
    evening = Evening()
    told(run, monkeypatch, evening, *words.split())
    assert evening.asked[0].order == order


@pytest.mark.parametrize(
    ("words", "order"), [("", "chart"), ("--choruses 2", "form"), ("--you solo", "form"), ("--order form", "form")]
)
def test_a_tune_with_an_order_goes_once_through_it_unless_it_is_said_otherwise(
    run: Run, four: Path, monkeypatch: pytest.MonkeyPatch, words: str, order: str
) -> None:
    evening = Evening()
    four.write_text(TUNE.replace("[section", 'order = [{ play = "head" }, { play = "solos" }]\n[section'), "utf-8")
    told(run, monkeypatch, evening, *words.split())
    assert evening.asked[0].order == order
