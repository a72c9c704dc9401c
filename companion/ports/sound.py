"""Sound from the computer: FluidSynth, where it is installed, in a process of its own.

It is played through the commands that it reads from its standard input ("noteon 0 60 90"), so it needs no MIDI service,
and it falls silent and ends as soon as whoever plays it is gone, however they went.

The buffer is set here: FluidSynth's own default is 23 ms on Linux and 93 ms on Windows. Source: FluidSynth's manual
(settings ``audio.period-size``, ``audio.periods``; shell commands). A soundfont is looked for, never shipped.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from companion.errors import DeviceError
from companion.ports.instruments import Synth

PROGRAM = "fluidsynth"
NAME = "the computer's sound"
FOLDERS = (
    "~/.local/share/soundfonts",
    "~/soundfonts",
    "/usr/share/sounds/sf2",
    "/usr/share/sounds/sf3",
    "/usr/share/soundfonts",
    "/usr/local/share/soundfonts",
    "/usr/local/share/sounds/sf2",
    "/opt/homebrew/share/soundfonts",
    "~/Library/Audio/Sounds/Banks",
    "/Library/Audio/Sounds/Banks",
    "C:/soundfonts",
)
"""Where distributions, package managers and players keep soundfonts."""
LONGEST_START = 10.0
"""Seconds after which FluidSynth is taken to have started, whether it has answered or not."""
PREFERRED = "default"
"""A distribution's own choice of a soundfont begins so."""


def find_program() -> str:
    """The path of FluidSynth. Raises DeviceError when it isn't installed."""
    path = shutil.which(PROGRAM)
    if path is None:
        mend = "install it (Debian: apt install fluidsynth), or leave out --sound"
        raise DeviceError("FluidSynth is not installed", mend=mend)
    return path


def soundfonts() -> Iterator[Path]:
    """The soundfonts in the usual places, the likeliest first."""
    for folder in FOLDERS:
        try:
            files = sorted(f for f in Path(folder).expanduser().iterdir() if f.suffix.lower() in (".sf2", ".sf3"))
        except (OSError, RuntimeError):
            continue
        yield from sorted((f for f in files if f.is_file()), key=lambda f: (not f.name.startswith(PREFERRED), f.name))


def find_soundfont(wanted: str = "") -> Path:
    """The soundfont to use: the one asked for, or the first there is. Raises DeviceError when there is none."""
    if wanted:
        path = Path(wanted).expanduser()
        if path.is_file():
            return path
        raise DeviceError("the soundfont is not there", file=wanted, mend="name another in configs/instruments.toml")
    for path in soundfonts():
        return path
    mend = "install one (Debian: apt install timgm6mb-soundfont), or name one in configs/instruments.toml"
    raise DeviceError("no soundfont is installed", mend=mend)


def fluidsynth_command(synth: Synth) -> list[str]:
    """The words that start FluidSynth. Raises DeviceError when it or a soundfont is missing."""
    words = [find_program(), "--quiet", "--no-midi-in", "--gain", f"{synth.gain:g}"]
    if synth.driver:
        words += ["--audio-driver", synth.driver]
    settings = [f"audio.period-size={synth.period_frames}", f"audio.periods={synth.periods}", *synth.options]
    if synth.driver == "jack" or not synth.driver:
        settings.append("audio.jack.autoconnect=1")
    for setting in settings:
        words += ["-o", setting]
    return [*words, str(find_soundfont(synth.soundfont))]


class SynthOutput:
    """FluidSynth as an output, with the methods of :class:`companion.ports.midi.Output`.

    Raises
    ------
    DeviceError
        It isn't installed, there is no soundfont, or it finds no sound card.
    """

    name = NAME

    def __init__(self, synth: Synth):
        with tempfile.TemporaryFile(buffering=0) as answers:  # short: it repeats what it is told
            self._process = subprocess.Popen(
                fluidsynth_command(synth),
                stdin=subprocess.PIPE,
                stdout=answers,
                stderr=subprocess.DEVNULL,
                start_new_session=sys.platform != "win32",
                creationflags=0x200 if sys.platform == "win32" else 0,  # CREATE_NEW_PROCESS_GROUP
            )
            self._await_start(answers.fileno())
        if self._process.poll() is not None:
            self._process.communicate()
            mend = "set driver under [synth] in configs/instruments.toml, or leave out --sound"
            raise DeviceError("FluidSynth finds no sound card", mend=mend)

    def _await_start(self, answers: int) -> None:
        """Wait until it answers for the first time, as it does once it has a sound card, or has ended for want of one.

        Before that it reads the soundfont, which takes a second or more with a large one.
        """
        end = time.monotonic() + LONGEST_START
        while self._process.poll() is None and not os.fstat(answers).st_size and time.monotonic() < end:
            time.sleep(0.01)

    @property
    def pid(self) -> int:
        """Number of its process."""
        return self._process.pid

    def send(self, message: Sequence[int]) -> None:
        """Sound one message now."""
        line = as_command(message)
        pipe = self._process.stdin
        if line and pipe:
            with contextlib.suppress(OSError, ValueError):  # a dead one is noticed by present()
                os.write(pipe.fileno(), line.encode("ascii"))

    def present(self) -> bool:
        """Whether it still runs."""
        return self._process.poll() is None

    def connected(self) -> bool:
        """As :meth:`present`: there is no cable."""
        return self.present()

    def reconnect(self) -> bool:
        """It can only be started again."""
        return False

    def find_again(self) -> str | None:
        """Its name: it can be started again at any time."""
        return self.name

    def close(self) -> None:
        """Let it end; it falls silent at once."""
        with contextlib.suppress(OSError, ValueError):
            if self._process.stdin:
                os.write(self._process.stdin.fileno(), b"reset\nquit\n")
                self._process.stdin.close()
        try:
            self._process.wait(2.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


def as_command(message: Sequence[int]) -> str:
    """A MIDI message as a line of FluidSynth's shell; '' for what it needn't get.

    >>> as_command((0x91, 40, 90))
    'noteon 1 40 90\\n'
    """
    kind, channel, data = message[0] & 0xF0, message[0] & 0x0F, message[1:]
    if kind == 0x90 and data[1] > 0:
        return f"noteon {channel} {data[0]} {data[1]}\n"
    if kind in (0x80, 0x90):
        return f"noteoff {channel} {data[0]}\n"
    if kind == 0xB0:
        return f"cc {channel} {data[0]} {data[1]}\n"
    if kind == 0xC0:
        return f"prog {channel} {data[0]}\n"
    return ""
