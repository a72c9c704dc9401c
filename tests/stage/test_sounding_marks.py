"""Marks of companions that run: who is told as another one on the same instrument, and who no longer is.

What marks leave for the next start to silence is heard in ``test_live.py``.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from companion.errors import DeviceError
from companion.stage import sounding_marks
from companion.stage.sounding_marks import Other, SoundingMark, check_alone, left_sounding, played_on, silencing

EARS, KEYS = "upright-01:ears", "upright:keys"
PLAYING = """
import sys, time
from pathlib import Path
from companion.stage.sounding_marks import SoundingMark
port = sys.argv[2] or None
mark = SoundingMark(Path(sys.argv[1]), "jack", port, [0, 1] if port else [], listening={keys!r}, title="Back Stairs")
print("there", flush=True)
time.sleep(60)
"""
"""A companion of which there is nothing but its mark."""

Playing = Callable[..., subprocess.Popen[str]]


@pytest.fixture
def playing(tmp_path: Path) -> Iterator[Playing]:
    """Starts other companions on the upright, or on the computer's sound with its keys."""
    running: list[subprocess.Popen[str]] = []

    def begin(port: str | None = EARS) -> subprocess.Popen[str]:
        words = [sys.executable, "-c", PLAYING.format(keys=KEYS), str(tmp_path), port or ""]
        running.append(subprocess.Popen(words, stdout=subprocess.PIPE, text=True))
        assert running[-1].stdout is not None and running[-1].stdout.readline() == "there\n"
        return running[-1]

    yield begin
    for companion in running:
        companion.kill()
        companion.communicate()


def test_a_companion_that_plays_on_the_instrument_is_told_with_its_tune_and_when_it_began(
    playing: Playing, tmp_path: Path
) -> None:
    playing()
    other = played_on(tmp_path, "jack", output="upright-02:ears")  # JACK counts its clients anew
    assert other is not None
    clock = time.strftime("%H:%M", time.localtime(other.since))
    assert str(other) == f"another companion (started {clock}, Back Stairs) is playing on upright-02:ears"
    assert abs(other.since - time.time()) < 60


def test_one_that_only_listens_to_the_keys_is_told_too(playing: Playing, tmp_path: Path) -> None:
    playing(None)
    other = played_on(tmp_path, "jack", output=EARS, listening=KEYS)
    assert other is not None and "Back Stairs) is listening to upright:keys" in str(other)
    assert played_on(tmp_path, "jack", output=EARS) is None, "nothing of it sounds there"


def test_one_that_began_on_another_day_is_told_with_its_date(tmp_path: Path, playing: Playing) -> None:
    playing()
    (mark,) = tmp_path.iterdir()
    began = time.time() - 3 * 86400
    table = json.loads(mark.read_text()) | {"since": began}
    mark.write_text(json.dumps(table) + "\n")
    date = time.strftime("%Y-%m-%d %H:%M", time.localtime(began))
    assert f"(started {date}, Back Stairs)" in str(played_on(tmp_path, "jack", output=EARS))


def test_a_channel_is_silenced_by_its_pedal_by_all_notes_off_and_key_by_key() -> None:
    """Controllers 64 and 123, and 64 as the release velocity of who has none (MIDI 1.0)."""
    messages = silencing({9, 1})
    assert len(messages) == 2 * 130
    for channel, some in ((1, messages[:130]), (9, messages[130:])):
        assert some[:2] == [(0xB0 | channel, 64, 0), (0xB0 | channel, 123, 0)]
        assert some[2:] == [(0x80 | channel, key, 64) for key in range(128)]


def test_where_no_marks_can_be_read_nobody_plays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "glob", refuse)
    assert played_on(tmp_path, "jack", output=EARS) is None and left_sounding(tmp_path, "jack", EARS) == {}


@pytest.mark.parametrize(
    ("api", "output", "listening"),
    [("jack", "organ:ears", "organ:keys"), ("alsa", EARS, KEYS), ("jack", None, None), ("jack", None, EARS)],
)
def test_another_instrument_is_free(
    api: str, output: str | None, listening: str | None, playing: Playing, tmp_path: Path
) -> None:
    playing()
    assert played_on(tmp_path, api, output=output, listening=listening) is None


def test_one_that_was_killed_stops_nobody_and_what_it_left_is_still_to_be_silenced(
    playing: Playing, tmp_path: Path
) -> None:
    companion = playing()
    companion.kill()
    companion.wait()
    assert played_on(tmp_path, "jack", output=EARS, listening=KEYS) is None
    assert list(left_sounding(tmp_path, "jack", EARS).values()) == [{0, 1}]


def test_the_mark_of_one_that_was_killed_stops_nobody_when_a_new_process_gets_its_number(tmp_path: Path) -> None:
    mark = SoundingMark(tmp_path, "jack", EARS, [0], title="Back Stairs")
    assert mark._file is not None
    mark._file.close()  # as its process's death does
    for number in (os.getpid(), os.getppid(), 1):
        mark.path = mark.path.rename(tmp_path / f"{number}-1.json")
        assert played_on(tmp_path, "jack", output=EARS) is None


def test_one_that_only_listened_and_was_killed_leaves_no_mark_behind(playing: Playing, tmp_path: Path) -> None:
    companion = playing(None)
    companion.kill()
    companion.wait()
    assert played_on(tmp_path, "jack", listening=KEYS) is None and list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "change",
    [
        {"locked": False},  # a disk that knows no locks
        {"host": f"not-{platform.node()}"},  # a folder that several computers share
        {"since": None},
        {"since": "noon"},
        {"title": None, "since": []},
    ],
)
def test_a_mark_that_says_nothing_certain_stops_nobody(
    change: dict[str, Any], playing: Playing, tmp_path: Path
) -> None:
    playing()
    (mark,) = tmp_path.iterdir()
    mark.write_text(json.dumps(json.loads(mark.read_text()) | change) + "\n")
    assert played_on(tmp_path, "jack", output=EARS, listening=KEYS) is None


@pytest.mark.parametrize("text", ["", "{", "[]\n", "7\n", '{"api": "jack"}\n', "\xff\xfe"])
def test_a_damaged_mark_stops_nobody(text: str, playing: Playing, tmp_path: Path) -> None:
    playing()
    (mark,) = tmp_path.iterdir()
    mark.write_text(text, encoding="latin-1")
    assert played_on(tmp_path, "jack", output=EARS, listening=KEYS) is None


# Before a port is opened


def check(folder: Path, ask: Callable[[str], bool] | None) -> None:
    check_alone(folder, "jack", output=EARS, listening=KEYS, ask=ask)


def test_where_nobody_plays_nothing_is_asked(tmp_path: Path) -> None:
    check(tmp_path / "not there", lambda question: pytest.fail(question))


def test_whoever_wants_to_play_all_the_same_may(playing: Playing, tmp_path: Path) -> None:
    playing()
    asked: list[str] = []
    check(tmp_path, lambda question: not asked.append(question))  # type: ignore[func-returns-value]
    (question,) = asked
    assert question.endswith("Back Stairs) is playing on upright-01:ears; play all the same?")


@pytest.mark.parametrize("ask", [None, lambda question: False], ids=["nobody to ask", "no"])
def test_otherwise_it_is_one_line_with_the_remedy(
    ask: Callable[[str], bool] | None, playing: Playing, tmp_path: Path
) -> None:
    playing()
    with pytest.raises(DeviceError) as taken:
        check(tmp_path, ask)
    assert "upright-01:ears" in str(taken.value) and "name another port" in str(taken.value)
    assert "\n" not in str(taken.value) and taken.value.exit_status == 3


def test_one_that_is_just_ending_is_waited_for(playing: Playing, tmp_path: Path) -> None:
    companion = playing()
    ending = threading.Timer(0.3, companion.kill)  # a sender whose player was killed silences everything first
    ending.start()
    check(tmp_path, lambda question: pytest.fail(question))
    ending.join()


# Marks of this process: a second look at a file that is locked says the same of them as another process's does


@pytest.fixture
def mark(tmp_path: Path) -> Iterator[SoundingMark]:
    one = SoundingMark(tmp_path, "jack", EARS, [15, 0, 16], listening="upright-01:keys", title="Back Stairs")
    yield one
    one.remove()


def test_the_keys_are_known_again_when_they_are_plugged_in_anew(mark: SoundingMark, tmp_path: Path) -> None:
    other = played_on(tmp_path, "jack", listening="upright-02:keys")
    assert other is not None and other.listens and other.port == "upright-02:keys"


def test_only_channels_that_there_are_are_silenced(mark: SoundingMark, tmp_path: Path) -> None:
    """Sixteen, 0 to 15 on the wire (MIDI 1.0)."""
    assert left_sounding(tmp_path, "jack", EARS) == {}, "its process lives"
    assert mark._file is not None
    mark._file.close()
    assert list(left_sounding(tmp_path, "jack", EARS).values()) == [{0, 15}]


def test_another_companion_has_a_second_and_a_half_to_end(
    mark: SoundingMark, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    slept: list[float] = []
    monkeypatch.setattr(sounding_marks.time, "sleep", slept.append)
    monkeypatch.setattr(sounding_marks.time, "monotonic", lambda: round(sum(slept), 6))
    with pytest.raises(DeviceError):
        check(tmp_path, None)
    assert slept == [0.1] * 15


def test_one_that_began_at_another_hour_of_today_is_told_without_the_date() -> None:
    now = time.localtime()
    began = time.mktime((*now[:3], (now.tm_hour + 12) % 24, 30, 0, 0, 0, -1))
    clock = f"{(now.tm_hour + 12) % 24:02d}:30"
    assert str(Other(EARS, False, "", began)) == f"another companion (started {clock}) is playing on {EARS}"
