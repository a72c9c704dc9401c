"""``companion signals``: what can be told is shown, and taught by pressing it."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


def test_without_a_word_more_it_says_what_is_set(run: Run) -> None:
    status, out, _ = run("signals")
    assert status == 0
    assert "your keyboard: 88 keys, lowest A to highest C" in out
    assert "white keys: last time, again, next passage, stop" in out and "soft pedal over a bar line: last time" in out


def test_in_a_tune_it_names_the_keys(run: Run) -> None:
    status, out, _ = run("signals", "show", "ferry-without-lights")
    assert status == 0 and out.startswith("lowest A: last time; B♭: slower; B: again; C: next passage;")
    assert "lowest A" not in run("signals", "show", "ferry-without-lights", "--you", "bass")[1]


def test_a_wish_that_there_is_not_is_one_line(run: Run, one_line: OneLine) -> None:
    status, _, err = run("signals", "teach", "agian")
    assert status == 2 and "'agian' is nothing that can be told; there are start, stop, again" in one_line(err)


def test_what_was_taught_is_forgotten(run: Run, tmp_path: Path) -> None:
    own = tmp_path / "data" / "configs" / "signals.toml"
    own.parent.mkdir(parents=True)
    own.write_text('[taught]\n"last time" = { controller = 66 }\n', encoding="utf-8")
    assert "taught: sostenuto pedal: last time" in run("signals")[1]
    assert run("signals", "teach", "last-time", "--forget")[0] == 0
    assert "taught" not in run("signals")[1]
    assert run("signals", "teach", "last-time", "--forget")[1] == "nothing is changed\n"


@pytest.mark.jack
def test_a_pedal_and_a_key_are_taught_by_pressing_them(instrument: Any, tmp_path: Path) -> None:
    piano, data = instrument(), tmp_path / "data"
    words = [sys.executable, "-u", "-m", "companion", "signals", "teach", "again", "stop", "keep"]
    said, presses = "", {"again": (0xB0, 66, 127), "stop": (0xB0, 66, 127), "press another": (0x90, 108, 70)}
    with subprocess.Popen(
        [*words, "--wait", "4", "--data", str(data)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as teaching:
        for line in teaching.stdout or ():
            said += line
            for wish, message in presses.items():
                if line.startswith(f"{wish}:") or line.rstrip().endswith(wish):
                    time.sleep(0.4)
                    piano.play(0xB0, 66, 0)
                    piano.play(*message)
    assert teaching.returncode == 0, said
    assert "sostenuto pedal tells 'again' already: press another" in said and "left as it is" in said
    text = (data / "configs" / "signals.toml").read_text(encoding="utf-8")
    assert text == "[taught]\nagain = {controller = 66}\nstop = {key = 108}\n"


@pytest.mark.jack
def test_without_a_keyboard_it_is_one_line_and_nothing_is_written(
    run: Run, one_line: OneLine, jack_server: str, tmp_path: Path
) -> None:
    status, _, err = run("signals", "teach", "again")
    assert status == 3 and "no MIDI instrument is connected" in one_line(err)
    assert not (tmp_path / "data" / "configs").exists()
