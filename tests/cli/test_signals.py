"""``companion signals``: what can be told is shown, and taught by pressing it."""

from __future__ import annotations

import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from companion.cli.commands import build_parser
from companion.cli.signals import WAIT
from companion.errors import UseError
from companion.preferences.reading import forget
from companion.preferences.signals import TaughtPress

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


SET = """\
your keyboard: {keys}
from either end of it inwards, as far as the tune leaves keys free:
  white keys: last time, again, next passage, stop, keep this take, this one only, start
  the two black keys nearest to it: the left slower, the right faster
soft pedal over a bar line: last time
in one tune: companion signals show CHART --you LIST{more}; your own: companion signals teach{more}
"""


def write_own(tmp_path: Path, **files: str) -> None:
    folder = tmp_path / "data" / "configs"
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    forget()


def test_all_that_is_set_is_said(run: Run, tmp_path: Path) -> None:
    assert run("signals")[1] == SET.format(keys="88 keys, lowest A to highest C", more="")
    told = SET.format(keys="88 keys, lowest A to highest C", more=f" --data {tmp_path}")
    assert run("signals", "--data", tmp_path)[1] == told


def test_where_keys_and_pedal_tell_nothing_that_is_said(run: Run, tmp_path: Path) -> None:
    write_own(tmp_path, signals="[end-keys]\non = false\n[last-time]\npedal = 0\n")
    lines = run("signals")[1].splitlines()
    assert lines[1:-1] == ["no end keys: on = false in [end-keys]"]
    write_own(tmp_path, signals="[end-keys]\nwhite = []\nblack = ['again']\n", instruments="lowest-key = 36\n")
    lines = run("signals")[1].splitlines()
    assert lines[0].startswith("your keyboard: 73 keys, ")
    assert lines[2:4] == ["  white keys: none", "  the two black keys nearest to it: the left again"]
    write_own(tmp_path, signals="[end-keys]\nblack = []\n")
    assert run("signals")[1].splitlines()[3] == "  the two black keys nearest to it: none"


@pytest.mark.parametrize(("text", "taken"), [("1", 1.0), ("600", 600.0), ("0.9", None), ("600.1", None), ("x", None)])
def test_a_press_is_waited_for_no_shorter_and_no_longer_than_makes_sense(text: str, taken: float | None) -> None:
    words = ["signals", "teach", "--wait", text]
    if taken is not None:
        assert build_parser().parse_args(words).wait == taken
    else:
        with pytest.raises(UseError, match=f"'{text}' is no(t a moment| time to wait; give seconds, 1 to 600)"):
            build_parser().parse_args(words)


class Keys:
    """A keyboard at which what comes is pressed, one after the other; None: nothing in time."""

    name, keys = "upright", (21, 108)

    def __init__(self, *presses: TaughtPress | None) -> None:
        self.presses, self.waited, self.closed = list(presses), [], False

    def press(self, wait: float, over: Any) -> TaughtPress | None:
        self.waited.append(wait)
        return self.presses.pop(0)

    def close(self) -> None:
        self.closed = True


def test_what_is_pressed_is_taught_and_what_tells_something_already_is_asked_for_again(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_own(tmp_path, signals="[taught]\nstop = { key = 108 }\nkeep = { controller = 66 }\n")
    sostenuto, highest, lowest = TaughtPress(controller=66), TaughtPress(key=108), TaughtPress(key=21)
    keys = Keys(highest, lowest, None, sostenuto)
    monkeypatch.setattr("companion.stage.teaching.KeyWatch", lambda *_: keys)
    status, out, _ = run("signals", "teach", "again", "stop", "keep", "again", "--wait", 7)
    assert status == 0 and keys.closed and keys.waited == [7.0] * 4
    assert out.splitlines()[:-1] == [
        "listening to upright; Enter leaves a thing as it is, Ctrl-C ends and changes nothing",
        "again: press it",
        "  highest C tells 'stop' already: press another",
        "  lowest A",
        "stop (now highest C): press it",
        "  left as it is",
        "keep this take (now sostenuto pedal): press it",
        "  sostenuto pedal",
    ]
    own = tmp_path / "data" / "configs" / "signals.toml"
    assert out.splitlines()[-1] == f"kept in {own}"
    taught = tomllib.loads(own.read_text(encoding="utf-8"))["taught"]
    assert taught == {"stop": {"key": 108}, "keep": {"controller": 66}, "again": {"key": 21}}
    keys = Keys(None)
    monkeypatch.setattr("companion.stage.teaching.KeyWatch", lambda *_: keys)
    assert run("signals", "teach", "faster")[1].splitlines()[-2:] == ["  left as it is", "nothing is changed"]
    assert keys.waited == [WAIT]


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
