"""A running ``companion play`` over real ports: heard, answered, and silent however it ends."""

from __future__ import annotations

import os
import re
import signal
import statistics
import time
from io import StringIO
from pathlib import Path

import pytest

from companion.chart.toml.read import parse_toml
from companion.errors import UseError
from companion.messages import Beat
from companion.stage.journal import JOURNAL
from companion.stage.link import PATIENCE
from companion.stage.live import play
from companion.stage.replay import replay
from companion.stage.settings import Settings
from companion.stage.take import list_takes, read_take
from companion.stage.take_files import takes_folder
from tests.stage.running import BEAT, CHART, MELODY, in_thread, wait_for

pytestmark = pytest.mark.jack


def play_melody(piano, companion, notes=40):
    """Play the melody in time from now on, until so many beats are over or the companion is; the beats' moments."""
    beats = []
    begin = time.perf_counter() + 0.1
    for n in range(notes):
        time.sleep(max(0.0, begin + n * BEAT - time.perf_counter()))
        if companion.process.poll() is not None:
            break
        beats.append(time.perf_counter())
        if note := MELODY[n % 32]:
            piano.play(0x90, note, 80)
            time.sleep(0.1)
            piano.play(0x80, note, 64)
    return beats


def test_a_bass_walks_under_a_played_melody_and_ctrl_c_ends_it(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to upright:keys, playing on the same instrument")
    beats = play_melody(piano, companion)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert piano.sounding() == set()
    bass = [seconds for seconds, m in piano.received if m[0] & 0xF0 == 0x90 and m[2] and 28 <= m[1] <= 55]
    assert len(bass) > 20
    # With the player: from the third bar on the nearest bass note to a beat lies close to it.
    distance = [min(abs(beat - seconds) for seconds in bass) for beat in beats[12:]]
    assert statistics.median(distance) < 0.06
    assert re.search(r"Back Stairs: \d+ s, you played \d+ notes", companion.account)
    [take] = list_takes(companion.data)
    assert take.how == "interrupted" and take.title == "Back Stairs"
    assert sum(h.is_note_on for h in take.heard()) == sum(map(bool, (MELODY * 2)[:40]))
    assert len(take.beats) > 20 and str(take.folder) in companion.account
    # Whatever is heard live can be replayed from its take: the same beats, but for the file's half millisecond.
    chart, settings = take.rehearsed()
    again = [r for r in replay(chart, take.heard(), settings).reports if isinstance(r, Beat)]
    assert [beat.chart_beat for beat in again[:20]] == [beat.chart_beat for beat in take.beats[:20]]
    assert max(abs(a.seconds - b.seconds) for a, b in zip(again[:20], take.beats[:20], strict=True)) < 0.03


def test_sigterm_ends_it_in_order(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to")
    playing = in_thread(play_melody, piano, companion, 60)
    assert wait_for(lambda: len(piano.notes_on()) > 6)
    companion.signal(signal.SIGTERM)
    assert companion.ends() == 0
    assert piano.sounding() == set()
    assert [take.how for take in list_takes(companion.data)] == ["stopped"]
    playing.join()


def test_signal_9_leaves_no_note_sounding_and_the_take_is_completed_later(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to")
    playing = in_thread(play_melody, piano, companion, 60)
    assert wait_for(lambda: len(piano.notes_on()) > 12)
    assert wait_for(piano.sounding)
    companion.signal(signal.SIGKILL)
    killed = time.perf_counter()
    assert companion.ends() == -signal.SIGKILL
    assert wait_for(lambda: piano.sounding() == set())
    playing.join()
    [take] = list_takes(companion.data)
    assert take.how == "interrupted"
    # What was played up to the last second is there (the take's clock starts a second before its first event).
    first = piano.received[0][0]
    assert take.seconds > killed - first - 1.0
    assert [h.data1 for h in take.heard() if h.is_note_on][:4] == MELODY[:4]


def test_a_killed_sender_ends_the_player_with_one_line_and_no_note_sounding(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert wait_for(piano.sounding)
    piano.play(0x90, 72, 80)
    time.sleep(0.3)
    os.kill(companion.sender(), signal.SIGKILL)
    assert companion.ends() == 3
    assert wait_for(lambda: piano.sounding() == set())
    assert companion.said.splitlines()[-1] == "companion: the process that sends the notes was ended; start again"
    assert [take.how for take in list_takes(companion.data)] == ["lost"]


def test_copies_of_our_notes_that_the_instrument_returns_are_not_the_players(instrument, start, configure):
    configure("echo-window-ms = 120", "echo-window-ms = 400")  # for an instrument that is a program on a busy machine
    piano = instrument()
    seen = 0
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    end = time.monotonic() + 2.5
    while time.monotonic() < end:
        for _, message in piano.received[seen:]:
            seen += 1
            piano.play(*message)
        time.sleep(0.002)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    [take] = list_takes(companion.data)
    assert [h.data1 for h in take.heard() if h.is_note_on] == [72]
    assert len(piano.notes_on()) > 5


def test_copies_that_come_later_than_expected_are_understood_and_leave_no_note_sounding(instrument, start):
    piano = instrument()
    seen = 0
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    end = time.monotonic() + 4.0
    while time.monotonic() < end:
        for moment, message in piano.received[seen:]:
            if time.perf_counter() < moment + 0.16:
                break
            seen += 1
            piano.play(*message)
        time.sleep(0.002)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert piano.sounding() == set()
    [take] = list_takes(companion.data)
    heard = [h.data1 for h in take.heard() if h.is_note_on]
    assert heard.count(72) == 1 and len(heard) < 8, "two or three, until it is understood"
    assert len(piano.notes_on()) > 10


MALFORMED = [(0x90, 0x3C, 0xC8), (0xB0, 0x40, 0xFF), (0x90, 0xC8, 0x40)]
"""Data bytes over 127 (MIDI 1.0 has none), which any program can send over JACK."""


def test_messages_that_are_no_midi_end_nothing_and_are_counted_at_the_end(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    for message in MALFORMED:
        piano.play(*message)
    piano.play(0x80, 72, 64)
    piano.play(0x90, 74, 80)
    time.sleep(0.5)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert "3 messages that were no MIDI came from upright:keys, and nothing was made of them" in companion.said
    [take] = list_takes(companion.data)
    assert [h.data1 for h in take.heard() if h.is_note_on] == [72, 74]


def test_a_journal_that_can_not_be_read_keeps_nobody_from_playing(instrument, start, tmp_path):
    broken = takes_folder(tmp_path / "data") / "2026-01-01-200000-back-stairs"
    broken.mkdir(parents=True)
    (broken / JOURNAL).write_text('["take",{"format":99}]\n["heard",1.0,144,60,200]\n')
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("is set aside, all of it", "takes-set-aside")
    assert wait_for(piano.sounding)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130


def test_a_take_that_can_not_be_kept_is_said_before_the_first_note_and_the_end_is_true(instrument, start, tmp_path):
    (tmp_path / "data").mkdir()
    takes_folder(tmp_path / "data").write_text("a file where the folder should be")
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("what you play can't be kept in", "listening to")
    piano.play(0x90, 72, 80)
    assert wait_for(piano.sounding)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    said = re.search(r"could not be kept in \S+ \(.*\): copy it from (\S+) before", companion.said)
    assert f"kept in {said[1]}" in companion.account
    assert [h.data1 for h in read_take(Path(said[1])).heard()] == [72]


def test_ctrl_c_ends_a_companion_whose_sender_hangs_and_no_note_sounds_on(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert wait_for(piano.sounding)
    piano.play(0x90, 72, 80)
    time.sleep(0.3)
    sender = companion.sender()
    os.kill(sender, signal.SIGSTOP)
    began = time.monotonic()
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert time.monotonic() - began < PATIENCE  # some two seconds, on a free machine
    assert wait_for(lambda: piano.sounding() == set(), 2.0)
    assert [take.how for take in list_takes(companion.data)] == ["interrupted"]


def test_what_sounds_when_everything_is_killed_at_once_is_silenced_at_the_next_start(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert wait_for(piano.sounding)
    sender = companion.sender()
    os.kill(sender, signal.SIGSTOP)  # so that it can't silence anything in between
    os.kill(companion.process.pid, signal.SIGKILL)
    os.kill(sender, signal.SIGKILL)
    companion.ends()
    time.sleep(0.3)
    assert piano.sounding()
    again = start("stand-in")
    assert again.hears("the companion was killed last time")
    left = {note for _, note in piano.sounding()}
    assert left <= {40, 41}
    again.signal(signal.SIGINT)
    assert again.ends() == 130
    assert piano.sounding() == set()
    offs = [m[1] for _, m in piano.received if m[0] & 0xF0 == 0x80]
    assert set(range(128)) <= set(offs)


def test_a_missing_instrument_is_one_line(start):
    companion = start("play", "--in", "harpsichord")
    assert companion.ends() == 3
    assert len(companion.said.splitlines()) == 1 and "harpsichord" in companion.said


def test_a_misspelt_name_is_said_before_any_port_is_looked_for(monkeypatch, tmp_path):
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    with pytest.raises(UseError, match=r"--treatment: .* did you mean 'walking'\?"):
        play(parse_toml(CHART), Settings(treatment="walkin"), midi="none of them", screen=StringIO())
