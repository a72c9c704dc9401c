"""The drafts of a take's two files: what stands in them, what is checked in their head, and where they are put."""

from __future__ import annotations

import json
import re
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import mido
import pytest

from companion.messages import Beat, Heard, Order, Round, State, Wish
from companion.stage.take_files import (
    DATA,
    MIDI,
    TakeFiles,
    check_head,
    free_place,
    moment,
    new_folder,
    slug,
    takes_folder,
)

HEAD: dict[str, Any] = {
    "format": 1, "title": "Back Stairs", "started": "2026-03-01T20:15:00+01:00",
    "chart": {"toml": "format = 1", "source": None},
    "settings": {"you": ["melody"], "parts": ["bass"], "time": "follow"},
}  # fmt: skip


def written(folder: Path, *events: Any, how: Any = "ended") -> tuple[mido.MidiFile, dict[str, Any]]:
    files = TakeFiles()
    for event in events:
        files.add(event)
    files.write(folder, HEAD, how)
    files.close()
    return mido.MidiFile(folder / MIDI, charset="utf-8"), json.loads((folder / DATA).read_text(encoding="utf-8"))


def notes(midi: mido.MidiFile) -> dict[str, list[tuple[int, str, int, int]]]:
    """By track: tick, kind, channel (from 1) and MIDI number."""
    found: dict[str, list[tuple[int, str, int, int]]] = {}
    for track in midi.tracks:
        at = 0
        for message in track:
            at += message.time
            if message.type in ("note_on", "note_off"):
                found.setdefault(track.name, []).append((at, message.type, message.channel + 1, message.note))
    return found


def test_each_part_has_a_track_and_a_channel_of_its_own(tmp_path: Path) -> None:
    """1920 ticks a second; the player on channel 1, bass 2, chords 3, the click on the drum channel, 10."""
    midi, _ = written(
        tmp_path,
        Heard(1.0, 0x90, 60, 80), Order(1.0, "click", 0x90, 76, 60), Order(1.05, "click", 0x80, 76, 0),
        Order(1.5, "bass", 0x90, 36, 70), Heard(2.0, 0x80, 60, 40), Order(2.0, "bass", 0x80, 36, 0),
        Order(2.0, "chords", 0x90, 52, 60), Order(2.5, "chords", 0x90, 52, 0),
    )  # fmt: skip
    assert [track.name for track in midi.tracks] == ["Back Stairs", "player", "chords", "bass", "click"]
    assert notes(midi) == {
        "player": [(1920, "note_on", 1, 60), (3840, "note_off", 1, 60)],
        "chords": [(3840, "note_on", 3, 52), (4800, "note_on", 3, 52)],  # without a velocity it is an end (MIDI 1.0)
        "bass": [(2880, "note_on", 2, 36), (3840, "note_off", 2, 36)],
        "click": [(1920, "note_on", 10, 76), (2016, "note_off", 10, 76)],
    }


def test_what_a_crash_left_on_ends_with_the_take_as_often_as_it_was_struck(tmp_path: Path) -> None:
    midi, _ = written(
        tmp_path,
        Order(1.0, "bass", 0x90, 36, 70), Order(1.5, "bass", 0x90, 36, 70), Order(1.6, "bass", 0x90, 40, 70),
        Order(1.7, "bass", 0x80, 40, 0), Order(1.8, "chords", 0x90, 52, 60), Order(1.85, "chords", 0x90, 52, 60),
        Order(1.9, "chords", 0x90, 52, 0), Beat(0.0, 2.0, 0.9), State(9.0, "ended"),
    )  # fmt: skip
    ends = [(tick, note) for tick, kind, _, note in notes(midi)["bass"] if kind == "note_off"]
    assert ends == [(3264, 40), (3840, 36), (3840, 36)], "with the last event, and not with the end that was told later"
    assert [one[0] for one in notes(midi)["chords"] if one[1] == "note_off"] == [3840]


def test_the_softest_note_is_a_note_and_ends_with_the_take(tmp_path: Path) -> None:
    midi, _ = written(tmp_path, Order(1.0, "bass", 0x90, 36, 1), Beat(0.0, 2.0, 0.9))
    assert notes(midi)["bass"] == [(1920, "note_on", 2, 36), (3840, "note_off", 2, 36)]


def test_the_channel_that_a_message_came_on_says_nothing_and_an_end_without_a_beginning_ends_nothing(
    tmp_path: Path,
) -> None:
    """The lower half of the status byte is the channel; 64 is the release velocity of who has none (MIDI 1.0)."""
    midi, _ = written(
        tmp_path, Heard(1.0, 0x93, 60, 80), Heard(1.5, 0x83, 60, 40), Order(1.0, "bass", 0x80, 36, 0),
        Order(1.25, "bass", 0x93, 36, 70), Beat(0.0, 2.0, 0.9),
    )  # fmt: skip
    assert notes(midi) == {
        "player": [(1920, "note_on", 1, 60), (2880, "note_off", 1, 60)],
        "bass": [(1920, "note_off", 2, 36), (2400, "note_on", 2, 36), (3840, "note_off", 2, 36)],
    }
    assert [m.velocity for track in midi.tracks for m in track if m.type == "note_off"] == [40, 0, 64]


def test_the_data_say_how_long_it_was_and_what_was_told_in_it(tmp_path: Path) -> None:
    _, data = written(
        tmp_path, Beat(0.0, 1.0, 0.9), Wish(1.5, "again"), State(9.0, "playing"),
        Round(9.5, 1, 1, 2, ("melody",), "C major", 96.0, 9.5), how="stopped",
    )  # fmt: skip
    assert (data["seconds"], data["how"], data["kept"], data["title"]) == (1.5, "stopped", False, "Back Stairs")
    assert [data[name][0]["seconds"] for name in ("beats", "wishes", "states", "rounds")] == [1.0, 1.5, 9.0, 9.5]
    assert [len(data[name]) for name in ("beats", "wishes", "states", "rounds")] == [1, 1, 1, 1]


@pytest.mark.parametrize(
    ("wishes", "kept"), [(["keep"], True), (["keep", "again"], True), (["again"], False), ([], False)]
)
def test_a_take_that_the_player_marked_is_kept(tmp_path: Path, wishes: list[Any], kept: bool) -> None:
    _, data = written(tmp_path, *(Wish(1.0 + n, name) for n, name in enumerate(wishes)))
    assert data["kept"] is kept and data["seconds"] == float(len(wishes)) and data["beats"] == []


def test_a_file_that_stands_already_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / DATA).write_text("mine")
    files = TakeFiles(in_memory=1)  # so little that the drafts go to the temporary folder at once
    files.add(Heard(1.0, 0x90, 60, 80))
    files.write(tmp_path, HEAD, "ended")
    assert (tmp_path / DATA).read_text() == "mine" and (tmp_path / MIDI).exists()
    (tmp_path / MIDI).write_bytes(b"mine, too")
    (tmp_path / DATA).unlink()
    files.write(tmp_path, HEAD, "ended")
    files.close()
    assert (tmp_path / MIDI).read_bytes() == b"mine, too" and json.loads((tmp_path / DATA).read_text())[
        "how"
    ] == "ended"


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 2), (("format",), True), (("format",), "1"), (("format",), 1.0), (("title",), 3),
        (("started",), "yesterday"), (("started",), None), (("chart", "toml"), None), (("chart", "source"), 5),
        (("settings",), []), (("settings", "you"), "melody"), (("settings", "you"), [1]),
        (("settings", "parts"), [None]),
        (("settings", "time"), 4), (("title",), "\ud800"),
    ],
)  # fmt: skip
def test_a_head_that_is_none_is_refused(path: tuple[str, ...], value: Any) -> None:
    check_head(HEAD)
    head = json.loads(json.dumps(HEAD))
    place = head
    for name in path[:-1]:
        place = place[name]
    place[path[-1]] = value
    with pytest.raises((ValueError, TypeError)):
        check_head(head)
    del place[path[-1]]
    if path[0] != "settings" or len(path) == 1:
        with pytest.raises(KeyError):
            check_head(head)
    else:
        check_head(head)


def test_a_moment_has_the_zone_that_it_says_or_that_of_this_computer() -> None:
    assert moment("2026-03-01T20:15:00+01:00") == datetime(2026, 3, 1, 19, 15, tzinfo=UTC)
    here = moment("2026-03-01T20:15:00")
    assert here.tzinfo is not None and here.replace(tzinfo=None) == datetime(2026, 3, 1, 20, 15)
    assert moment("2026-03-01T20:15:00-05:00").utcoffset() == timedelta(hours=-5)
    for text in ("", "no date", None):
        with pytest.raises(ValueError, match=r"\w"):
            moment(text)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Back Stairs", "back-stairs"), ("Été à Lyon (No. 2)", "ete-a-lyon-no-2"), ("///", "take"), ("", "take"),
        ("a" * 47 + "bcd", "a" * 47 + "b"), ("a" * 47 + " bcd", "a" * 47), ("--x--", "x"), ("A_b", "a-b"),
    ],
)  # fmt: skip
def test_a_title_as_part_of_a_name(title: str, name: str) -> None:
    assert slug(title) == name


def test_takes_lie_in_folders_named_by_date_time_and_title(tmp_path: Path) -> None:
    assert takes_folder(tmp_path) == tmp_path / "takes"
    before = time.strftime("%Y-%m-%d-%H%M%S")
    made = new_folder(tmp_path / "a" / "b", "Back Stairs")
    assert made.is_dir() and re.fullmatch(r"\d{4}-\d\d-\d\d-\d{6}-back-stairs", made.name)
    assert before <= made.name[:17] <= time.strftime("%Y-%m-%d-%H%M%S")


@pytest.mark.parametrize(("there", "name"), [(0, "take"), (1, "take-2"), (2, "take-3"), (998, "take-999")])
def test_the_first_free_place_is_taken(tmp_path: Path, there: int, name: str) -> None:
    taken = {tmp_path / ("take" if n == 0 else f"take-{n + 1}") for n in range(there)}

    def take(place: Path) -> None:
        if place in taken:
            raise FileExistsError
        taken.add(place)

    assert free_place(tmp_path / "take", take) == tmp_path / name and tmp_path / name in taken


def test_a_thousand_of_one_name_are_too_many(tmp_path: Path) -> None:
    def take(place: Path) -> None:
        raise FileExistsError

    tried: list[Path] = []
    with pytest.raises(FileExistsError, match="too many of one name"):
        free_place(tmp_path / "take", lambda place: (tried.append(place), take(place)))
    assert len(tried) == 999 and tried[-1].name == "take-999"
