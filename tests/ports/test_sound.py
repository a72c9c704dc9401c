"""The computer's sound: FluidSynth where it is installed, heard in the file that its file driver writes."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
import wave
from dataclasses import replace

import numpy as np
import pytest

from companion.errors import DeviceError
from companion.ports import sound
from companion.ports.instruments import Synth, read_instruments
from companion.ports.sound import SynthOutput, as_command, find_soundfont, fluidsynth_command, soundfonts

installed = pytest.mark.skipif(
    not shutil.which("fluidsynth") or not any(soundfonts()),
    reason="FluidSynth or a soundfont is not installed (Debian: apt install fluidsynth timgm6mb-soundfont)",
)


@pytest.mark.parametrize(
    ("message", "line"),
    [
        ((0x91, 40, 90), "noteon 1 40 90\n"),
        ((0x91, 40, 0), "noteoff 1 40\n"),  # a note-on with velocity 0 is a note-off (MIDI 1.0)
        ((0x81, 40, 64), "noteoff 1 40\n"),
        ((0xB2, 64, 127), "cc 2 64 127\n"),
        ((0xC1, 32), "prog 1 32\n"),
        ((0xE0, 0, 64), ""),
        ((0x9F, 127, 1), "noteon 15 127 1\n"),
        ((0x8F, 127, 0), "noteoff 15 127\n"),
        ((0xB0, 1, 2), "cc 0 1 2\n"),
        ((0xCF, 0), "prog 15 0\n"),
        ((0xA0, 60, 64), ""),
        ((0xD0, 60), ""),
    ],
)
def test_messages_are_said_in_the_words_of_fluidsynths_shell(message, line):
    assert as_command(message) == line


def test_without_fluidsynth_there_is_one_clear_line(monkeypatch):
    monkeypatch.setenv("PATH", "")
    with pytest.raises(DeviceError, match="FluidSynth is not installed; install it") as missing:
        fluidsynth_command(Synth())
    assert missing.value.exit_status == 3


def test_without_a_soundfont_there_is_one_clear_line(monkeypatch):
    monkeypatch.setattr(sound, "FOLDERS", ())
    with pytest.raises(DeviceError, match="no soundfont is installed; install one"):
        find_soundfont()
    with pytest.raises(DeviceError, match=r"my\.sf2: the soundfont is not there"):
        find_soundfont("my.sf2")


def test_a_soundfont_is_found_in_a_usual_place_and_the_systems_own_choice_comes_first(tmp_path, monkeypatch):
    for name in ("aaa.sf2", "default-GM.sf2", "notes.txt"):
        (tmp_path / name).write_bytes(b"")
    monkeypatch.setattr(sound, "FOLDERS", (str(tmp_path / "missing"), str(tmp_path)))
    assert find_soundfont() == tmp_path / "default-GM.sf2"


def test_the_buffer_is_set_and_not_left_to_the_default(monkeypatch, tmp_path):
    font = tmp_path / "some.sf2"
    font.write_bytes(b"")
    monkeypatch.setattr(sound, "find_program", lambda: "fluidsynth")
    words = fluidsynth_command(replace(read_instruments().synth, soundfont=str(font)))
    assert "audio.period-size=64" in words and "audio.periods=3" in words and words[-1] == str(font)


USUAL = "--quiet --no-midi-in --gain 0.4"


@pytest.mark.parametrize(
    ("synth", "words"),
    [
        (Synth(gain=0.25, period_frames=128, periods=2),
         "--quiet --no-midi-in --gain 0.25 -o audio.period-size=128 -o audio.periods=2 -o audio.jack.autoconnect=1"),
        (Synth(driver="jack", options=("a=1",)),
         f"{USUAL} --audio-driver jack -o audio.period-size=64 -o audio.periods=3 -o a=1 -o audio.jack.autoconnect=1"),
        (Synth(driver="alsa"),
         f"{USUAL} --audio-driver alsa -o audio.period-size=64 -o audio.periods=3"),
    ],
)  # fmt: skip
def test_fluidsynth_is_started_with_these_words(synth, words, monkeypatch, tmp_path):
    """Its manual, fluidsynth(1) and its settings, from memory."""
    font = tmp_path / "some.sf2"
    font.write_bytes(b"")
    monkeypatch.setattr(sound, "find_program", lambda: "fluidsynth")
    found = fluidsynth_command(replace(synth, soundfont=str(font)))
    assert found == ["fluidsynth", *words.split(), str(font)]


def into_file(path) -> Synth:
    return Synth(driver="file", options=(f"audio.file.name={path}", "audio.file.type=wav", "audio.file.format=s16"))


def loudness(path, rate=44100):
    """Root mean square of each tenth of a second."""
    with wave.open(str(path)) as file:
        samples = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(float)
    size = 2 * rate // 10
    return [float(np.sqrt(np.mean(samples[n : n + size] ** 2))) for n in range(0, len(samples) - size, size)]


def write_more(path, seconds, rate=44100):
    """Wait until so much more sound is in the file, however slowly it gets there."""
    enough, end = path.stat().st_size + seconds * rate * 4, time.monotonic() + 30
    while path.stat().st_size < enough and time.monotonic() < end:
        time.sleep(0.01)


@installed
@pytest.mark.real_time
def test_a_note_sounds_and_after_its_end_there_is_silence(tmp_path):
    path = tmp_path / "sound.wav"
    output = SynthOutput(into_file(path))
    assert output.present()
    output.send((0xC1, 32))
    output.send((0x91, 40, 110))
    write_more(path, 0.8)
    output.send((0x81, 40, 64))
    write_more(path, 2.0)
    output.close()
    heard = loudness(path)
    assert max(heard) > 300
    assert heard[-1] < 0.02 * max(heard)


@installed
@pytest.mark.real_time
def test_it_ends_when_whoever_plays_it_is_killed(tmp_path):
    program = f"""
import sys, time
from companion.ports.instruments import Synth
from companion.ports.sound import SynthOutput
output = SynthOutput(Synth(driver="file", options=("audio.file.name={tmp_path / "sound.wav"}",)))
output.send((0x90, 60, 90))
print(output.pid, flush=True)
time.sleep(60)
"""
    player = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    pid = int(player.stdout.readline())
    player.kill()
    player.wait()
    player.stdout.close()
    end = time.monotonic() + 8
    while is_running(pid) and time.monotonic() < end:
        time.sleep(0.02)
    assert not is_running(pid)


def is_running(pid: int) -> bool:
    try:
        with open(f"/proc/{pid}/stat") as stat:  # noqa: PTH123
            return stat.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@installed
@pytest.mark.real_time
def test_without_a_sound_card_there_is_one_clear_line():
    with pytest.raises(DeviceError, match="finds no sound card"):
        SynthOutput(Synth(driver="oss", options=("audio.oss.device=/dev/there-is-none",)))
