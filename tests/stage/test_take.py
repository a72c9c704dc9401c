"""Takes are kept from the first note, survive a crash, and are never overwritten."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.toml.read import parse_toml
from companion.errors import InputError
from companion.messages import Beat, Heard, Order, State, Wish
from companion.stage.journal import JOURNAL
from companion.stage.performance import read_performance
from companion.stage.recovery import Recovered, recover
from companion.stage.settings import Settings
from companion.stage.take import DamagedTake, Take, list_takes, read_take
from companion.stage.take_files import DATA, MIDI, slug, takes_folder
from companion.stage.take_writer import TakeWriter

CHART_TEXT = """
format = 1
title = "Back Stairs"
key = "C minor"
metre = "4/4"
tempo = 120
form = "A"

[section.A]
chords = "| Cm7 | G7 |"
"""
CHART = parse_toml(CHART_TEXT)
SETTINGS = Settings(you=frozenset({"melody", "chords"}), parts=("bass",), tempo=120.0)


def play_a_little(take: TakeWriter, begin: float = 5.0) -> None:
    take.add(State(0.0, "waiting"))
    take.add(Heard(begin, 0x90, 67, 80))
    take.add(Order(begin + 0.5, "bass", 0x90, 43, 90))
    take.add(Beat(0.0, begin + 0.5, 0.9))
    take.add(Heard(begin + 0.6, 0x80, 67, 64))
    take.add(Order(begin + 0.9, "bass", 0x80, 43, 64))
    take.add(Beat(1.0, begin + 1.0, 0.95))


def wait_for(condition, seconds=8.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


def test_a_take_holds_what_was_played_with_the_chart_the_settings_and_the_beats(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    folder = writer.close("ended")
    take = read_take(folder)
    assert folder.parent == takes_folder(tmp_path)
    assert sorted(p.name for p in folder.iterdir()) == [DATA, MIDI]
    assert (take.title, take.how) == ("Back Stairs", "ended")
    assert parse_toml(take.chart) == CHART
    assert take.settings["you"] == ["chords", "melody"] and take.settings["tempo"] == 120.0
    assert [(beat.chart_beat, beat.sure) for beat in take.beats] == [(0.0, 0.9), (1.0, 0.95)]
    assert abs((datetime.now().astimezone() - take.started).total_seconds()) < 60


def test_its_midi_file_can_be_replayed_and_agrees_with_its_beats(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    take = read_take(writer.close("ended"))
    heard = read_performance(take.midi)
    assert [(h.status, h.data1) for h in heard] == [(0x90, 67), (0x80, 67)]  # the player's track alone
    assert take.beats[0].seconds - heard[0].seconds == pytest.approx(0.5, abs=0.001)
    assert heard == take.heard()


def test_nothing_is_kept_until_the_first_note(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    writer.add(State(0.0, "counting"))
    writer.add(Order(1.0, "click", 0x90, 76, 90))
    writer.add(Heard(1.2, 0xB0, 64, 127))
    assert writer.close("stopped") is None
    assert not takes_folder(tmp_path).exists()


def test_what_came_before_the_first_note_is_in_it_too(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    writer.add(Order(1.0, "click", 0x90, 76, 90))
    writer.add(Order(1.1, "click", 0x80, 76, 64))
    writer.add(Heard(3.0, 0x90, 67, 80))
    folder = writer.close("ended")
    heard = read_take(folder).heard()
    assert heard[0].seconds == pytest.approx(2.0 + 1.0, abs=0.001)  # a second of quiet before its first event


def test_a_take_begins_a_second_before_its_first_note_however_long_the_player_waited(tmp_path):
    writer = TakeWriter(CHART, replace(SETTINGS, start=302.0), tmp_path)
    writer.add(State(0.0, "counting"))
    writer.add(Heard(200.0, 0xB0, 64, 127))
    play_a_little(writer, 300.0)
    take = read_take(writer.close("ended"))
    assert [round(h.seconds, 2) for h in take.heard()] == [0.0, 1.0, 1.6]
    assert take.settings["start"] == pytest.approx(302.0 - 299.0)


def test_a_take_tells_the_chart_and_the_settings_to_replay_it_with(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    assert read_take(writer.close("ended")).rehearsed() == (CHART, SETTINGS)


@pytest.mark.parametrize(("tempo", "sound"), [(-5.0, False), (-0.5, False), (0.5, True), (1.0, True), (None, True)])
def test_a_tempo_below_none_is_no_setting(tmp_path, tempo, sound):
    writer = TakeWriter(CHART, replace(SETTINGS, tempo=tempo), tmp_path)
    play_a_little(writer)
    take = read_take(writer.close("ended"))
    if sound:
        assert take.rehearsed()[1].tempo == tempo
    else:
        with pytest.raises(InputError, match="settings are damaged"):
            take.rehearsed()


def test_what_the_companion_played_is_read_again_part_by_part(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    orders = [
        Order(1.0, "bass", 0x90, 36, 70), Order(1.0, "chords", 0x90, 52, 60), Order(1.5, "bass", 0x80, 36, 10),
        Order(2.0, "chords", 0x80, 52, 0),
    ]  # fmt: skip
    for event in (*orders, Heard(2.5, 0x90, 67, 80), Heard(2.75, 0x80, 67, 0), Wish(2.8, "again")):
        writer.add(event)
    folder = writer.close("ended")
    take = read_take(folder)
    assert sorted(take.sounded(), key=lambda order: (order.seconds, order.part)) == orders
    assert take.wishes == (Wish(2.8, "again"),)
    table = json.loads((folder / DATA).read_text())
    del table["wishes"]
    (folder / DATA).write_text(json.dumps(table))
    assert read_take(folder).wishes is None, "as in the takes of old, in which none was kept"


def test_a_damaged_take_was_begun_when_its_folder_says(tmp_path):
    folder = takes_folder(tmp_path) / "2031-05-02-203045-x"
    folder.mkdir(parents=True)
    (folder / DATA).write_text("{")
    [damaged] = list_takes(tmp_path)
    assert f"{damaged.started:%Y-%m-%d %H:%M:%S}" == "2031-05-02 20:30:45"


def test_two_takes_of_one_second_have_folders_of_their_own(tmp_path):
    folders = set()
    for _ in range(3):
        writer = TakeWriter(CHART, SETTINGS, tmp_path)
        play_a_little(writer)
        folders.add(writer.close("ended"))
    assert len(folders) == 3
    assert [take.folder for take in list_takes(tmp_path)] == sorted(folders, key=lambda f: f.name, reverse=True)


def test_a_damaged_take_is_listed_in_its_place_and_named(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    sound = writer.close("ended")
    cut, silent, older = (
        takes_folder(tmp_path) / f"{day}-203000-x" for day in ("2031-05-02", "2031-05-01", "2019-05-02")
    )
    for folder in (cut, silent, older):
        shutil.copytree(sound, folder)
    (cut / DATA).write_text((sound / DATA).read_text()[:200])
    (silent / MIDI).unlink()
    (older / DATA).unlink()
    listed = list_takes(tmp_path)
    assert [take.folder for take in listed if isinstance(take, Take)] == [sound]
    damaged = [take for take in listed if isinstance(take, DamagedTake)]
    assert [take.folder for take in damaged] == [cut, silent, older], "the latest first"
    assert [take.started.year for take in damaged] == [2031, 2031, 2019] and listed[2].folder == sound
    assert [take.why.removeprefix(f"{take.folder}/") for take in damaged] == [
        f"{DATA}: damaged (JSONDecodeError)",
        f"{MIDI}: there is no such file",
        f"{older}: there is no take; a take is a folder with {DATA} and {MIDI}",
    ]


def test_what_is_being_played_and_what_holds_no_take_are_not_listed(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    assert wait_for(lambda: list(tmp_path.rglob(JOURNAL)))
    (takes_folder(tmp_path) / "notes of mine").mkdir()
    assert list_takes(tmp_path) == []
    writer.close("ended")
    assert len(list_takes(tmp_path)) == 1


def test_a_take_broken_off_by_signal_9_has_all_but_the_last_moments(tmp_path):
    program = f"""
import itertools, sys, time
from pathlib import Path
from companion.chart.toml.read import parse_toml
from companion.messages import Heard
from companion.stage.settings import Settings
from companion.stage.take_writer import TakeWriter
writer = TakeWriter(parse_toml({CHART_TEXT!r}), Settings(), Path({str(tmp_path)!r}))
begin = time.monotonic()
for n in itertools.count():
    writer.add(Heard(time.monotonic() - begin, 0x90, 40 + n % 40, 80))
    print(n, flush=True)
    time.sleep(0.01)
"""
    playing = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    last = 0
    for line in playing.stdout:
        last = int(line)
        if last >= 120:
            break
    [folder] = takes_folder(tmp_path).iterdir()
    assert recover(tmp_path) == Recovered()  # it is being played: left alone
    os.kill(playing.pid, signal.SIGKILL)
    playing.wait()
    last = int((playing.stdout.read().split() or [last])[-1])
    playing.stdout.close()
    [take] = list_takes(tmp_path)
    assert take.folder == folder and take.how == "interrupted"
    assert not (folder / JOURNAL).exists()
    # 10 ms a note: what is missing is less than a second.
    assert last - 100 < sum(h.is_note_on for h in take.heard()) <= last + 2


def test_a_row_that_a_crash_cut_off_is_passed_over(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    assert wait_for(lambda: list(tmp_path.rglob(JOURNAL)))
    [journal] = tmp_path.rglob(JOURNAL)
    assert wait_for(lambda: journal.read_bytes().count(b"\n") == 8)
    copy = tmp_path / "takes" / "broken"
    copy.mkdir()
    (copy / JOURNAL).write_bytes(journal.read_bytes() + b'["heard",9.1,14')
    assert recover(tmp_path).completed == [copy]
    assert len(read_take(copy).heard()) == 2
    writer.close("ended")


def test_a_journal_with_nothing_in_it_is_left_as_it_is(tmp_path):
    empty = tmp_path / "takes" / "2026-01-01-000000-empty"
    empty.mkdir(parents=True)
    (empty / JOURNAL).write_bytes(b'["take"')
    assert recover(tmp_path) == Recovered() and (empty / JOURNAL).exists()
    assert list_takes(tmp_path) == []


def test_recovery_never_writes_over_a_finished_file(tmp_path):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    assert wait_for(lambda: list(tmp_path.rglob(JOURNAL)))
    [journal] = tmp_path.rglob(JOURNAL)
    assert wait_for(lambda: journal.read_bytes().count(b"\n") == 8)
    crashed = tmp_path / "takes" / "crashed"
    crashed.mkdir()
    (crashed / JOURNAL).write_bytes(journal.read_bytes())
    (crashed / MIDI).write_bytes(b"the file was complete, the crash came after")
    recover(tmp_path)
    assert (crashed / MIDI).read_bytes().startswith(b"the file was complete") and (crashed / DATA).exists()
    writer.close("ended")


def test_a_full_disk_is_told_and_the_playing_goes_on(tmp_path):
    (tmp_path / "takes").write_text("a file where the folder should be")
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    assert writer.close("ended") is None
    assert writer.trouble and "takes" in writer.trouble
    assert (writer.notes_heard, writer.notes_by_part["bass"]) == (1, 1)


@pytest.mark.parametrize(
    ("content", "says"),
    [("{", "damaged"), ("[]", "damaged"), (json.dumps({"format": 99}), "newer format"), (None, "there is no take")],
)
def test_a_take_that_can_not_be_read_is_one_line(tmp_path, content, says):
    if content is not None:
        (tmp_path / DATA).write_text(content)
    with pytest.raises(InputError, match=says) as wrong:
        read_take(tmp_path)
    assert "\n" not in str(wrong.value)


@given(st.text(max_size=80))
def test_any_title_makes_a_name_that_every_file_system_takes(title):
    name = slug(title)
    assert name and len(name) <= 48 and set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")


@pytest.mark.parametrize(("key", "value"), [("you", ["melody", 7]), ("parts", "bass"), ("time", ["follow"])])
def test_a_take_whose_settings_are_no_words_is_named_as_damaged(tmp_path, key, value):
    writer = TakeWriter(CHART, SETTINGS, tmp_path)
    play_a_little(writer)
    folder = writer.close("ended")
    table = json.loads((folder / DATA).read_text())
    table["settings"][key] = value
    (folder / DATA).write_text(json.dumps(table))
    with pytest.raises(InputError, match="damaged"):
        read_take(folder)
