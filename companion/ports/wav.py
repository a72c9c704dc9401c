"""A performance rendered as a WAV file.

Conventions: seconds from the start of the performance, which is the start of the file; 16 bits, stereo, the player to
the right of the middle and the companion to the left. FluidSynth renders it where it is installed with a soundfont;
anywhere else the small synthesiser in :mod:`companion.ports.synth` does. The loudest sample lies 1 dB below the most
there can be, so nothing is clipped.

Source: Waveform Audio File Format, written by the standard library's ``wave``; controllers 7, 10 and 64 of MIDI 1.0.
"""

from __future__ import annotations

import os
import subprocess
import tempfile
import wave
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.errors import CompanionError, UseError
from companion.files import unwritable
from companion.messages import Heard, Order
from companion.ports.instruments import read_instruments
from companion.ports.sound import find_program, find_soundfont

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from companion.ports.synth import Tone

SUSTAIN, VOLUME, PAN = 64, 7, 10
PEAK = 10 ** (-1 / 20)
TAIL = 1.2
"""Seconds kept after the last note for it to ring."""

PLACES: dict[str, tuple[str, float, float]] = {
    "player": ("piano", 1.0, 0.28),
    "bass": ("bass", 0.85, -0.12),
    "chords": ("piano", 0.55, -0.34),
    "melody": ("piano", 0.95, -0.3),
    "solo": ("piano", 0.95, -0.3),
    "click": ("click", 0.22, 0.0),
}
"""Voice, gain, and place from -1 (left) to 1 (right) of each part."""
GENERAL_MIDI = {"piano": 1, "bass": 33}
"""Programs, counted from 1 (General MIDI level 1)."""


def render(
    path: str | os.PathLike[str],
    heard: Sequence[Heard],
    orders: Sequence[Order],
    *,
    rate: int = 44100,
    synthesiser: str = "any",
    progress: Callable[[float], None] | None = None,
) -> str:
    """Write what the player and the companion played as a WAV file.

    Parameters
    ----------
    path : path
        Written whole or not at all.
    heard : sequence of Heard
        The player's messages.
    orders : sequence of Order
        The companion's.
    rate : int
        Samples a second, 8000 to 192000.
    synthesiser : str
        'any': FluidSynth where there is one, else the small one; 'fluidsynth' or 'small': that one.
    progress : callable, optional
        Told the share done, 0-1.

    Returns
    -------
    str
        What it was rendered with, for people to read.

    Raises
    ------
    InputError
        The file can't be written there.
    DeviceError
        'fluidsynth' was asked for and isn't installed, or has no soundfont.
    """
    if not 8000 <= rate <= 192000 or synthesiser not in ("any", "fluidsynth", "small"):
        raise UseError(f"no sound at {rate} samples a second by '{synthesiser}'", mend="try 44100")
    place = Path(path)
    beside = place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        by = _render(beside, heard, orders, rate, synthesiser, progress)
        beside.replace(place)
    except OSError as error:
        if isinstance(error, CompanionError):
            raise
        raise unwritable(path, error) from None
    finally:
        with suppress(OSError):
            beside.unlink()
    return by


def _render(
    beside: Path,
    heard: Sequence[Heard],
    orders: Sequence[Order],
    rate: int,
    synthesiser: str,
    progress: Callable[[float], None] | None,
) -> str:
    if synthesiser != "small":
        try:
            return _with_fluidsynth(beside, heard, orders, rate)
        except CompanionError:
            if synthesiser == "fluidsynth":
                raise
    from companion.ports.synth import mix

    _write(beside, mix(tones(heard, orders), rate, progress), rate)
    return "the built-in synthesiser"


def tones(heard: Sequence[Heard], orders: Sequence[Order]) -> list[Tone]:
    """Every note with the moment at which its damper falls: the key up and the pedal too.

    A key that is struck again damps its own last note; a note that nobody ends rings until it has died away.
    """
    streams: dict[str, list[Heard | Order]] = {"player": sorted(heard, key=lambda m: m.seconds)}
    for order in sorted(orders, key=lambda m: m.seconds):
        streams.setdefault(order.part, []).append(order)
    return [tone for part, messages in streams.items() for tone in _stream(part, messages)]


def _stream(part: str, messages: Iterable[Heard | Order]) -> list[Tone]:
    from companion.ports.synth import Tone

    voice, gain, pan = PLACES[part]
    made: list[Tone] = []
    down: dict[int, tuple[float, int]] = {}
    kept: dict[int, tuple[float, int]] = {}
    pedal = False

    def end(key: int, note: tuple[float, int] | None, at: float) -> None:
        if note:
            made.append(Tone(note[0], at, key, note[1], voice, gain, pan))

    for m in messages:
        kind, key = m.status & 0xF0, m.data1
        if kind == 0x90 and m.data2 > 0:
            end(key, down.pop(key, None) or kept.pop(key, None), m.seconds)
            down[key] = (m.seconds, m.data2)
        elif kind in (0x80, 0x90) and key in down:
            if pedal:
                kept[key] = down.pop(key)
            else:
                end(key, down.pop(key), m.seconds)
        elif kind == 0xB0 and key == SUSTAIN:
            pedal = m.data2 >= 64
            if not pedal:
                for held, note in kept.items():
                    end(held, note, m.seconds)
                kept.clear()
    for key, note in [*down.items(), *kept.items()]:
        end(key, note, float("inf"))
    return made


def _write(place: Path, blocks: Iterable[NDArray[np.float32]], rate: int) -> None:
    """Keep the blocks aside until the loudest sample is known, then write them scaled to 16 bits."""
    import numpy as np

    loudest = 0.0
    with tempfile.TemporaryFile() as aside, place.open("wb") as out, wave.open(out, "wb") as sound:
        for block in blocks:
            loudest = max(loudest, float(np.abs(block).max(initial=0.0)))
            aside.write(np.ascontiguousarray(block, np.float32).tobytes())
        aside.seek(0)
        sound.setnchannels(2)
        sound.setsampwidth(2)
        sound.setframerate(rate)
        scale = 32767.0 * PEAK / loudest if loudest > 0 else 0.0
        while part := aside.read(1 << 22):
            sound.writeframesraw(np.rint(np.frombuffer(part, np.float32) * scale).astype("<i2").tobytes())


def _with_fluidsynth(place: Path, heard: Sequence[Heard], orders: Sequence[Order], rate: int) -> str:
    """Let FluidSynth render a song with the parts at their places, and take its samples."""
    synth = read_instruments().synth
    program, font = find_program(), find_soundfont(synth.soundfont)
    with tempfile.TemporaryDirectory() as folder:
        song, raw = Path(folder, "song.mid"), Path(folder, "song.wav")
        song_of(heard, orders).save(song)
        words = [program, "-ni", "-q", "-F", str(raw), "-T", "wav", "-O", "s16", "-r", str(rate), "-g", "0.35"]
        words += [str(font), str(song)]
        done = subprocess.run(words, stdin=subprocess.DEVNULL, capture_output=True, check=False)
        if done.returncode or not raw.exists():
            raise CompanionError("FluidSynth could not render it")
        _write(place, _blocks(raw), rate)
    return f"FluidSynth with {font.name}"


def _blocks(raw: Path) -> Iterable[NDArray[np.float32]]:
    import numpy as np

    with wave.open(str(raw), "rb") as sound:
        while part := sound.readframes(1 << 17):
            yield np.frombuffer(part, "<i2").reshape(-1, 2).astype(np.float32) / np.float32(32768.0)


def song_of(heard: Sequence[Heard], orders: Sequence[Order]) -> Any:
    """A Standard MIDI File with each part on a channel of its own, at its place and level; 1 ms a tick."""
    import mido

    timed: list[tuple[int, Any]] = []
    last = 0
    for channel, part in enumerate(PLACES):
        voice, gain, pan = PLACES[part]
        if voice == "click":
            channel = 9
        else:
            timed.append((0, mido.Message("program_change", channel=channel, program=GENERAL_MIDI[voice] - 1)))
        volume = round(100 * min(1.0, gain) ** 0.5)  # its effect is the square of its value (General MIDI level 2)
        for control, value in ((VOLUME, volume), (PAN, round(64 + 63 * pan))):
            timed.append((0, mido.Message("control_change", channel=channel, control=control, value=value)))
        for m in heard if part == "player" else [o for o in orders if o.part == part]:
            if m.status & 0xF0 in (0x80, 0x90, 0xB0):
                tick = max(0, round(m.seconds * 1000))
                timed.append((tick, mido.Message.from_bytes([m.status & 0xF0 | channel, m.data1, m.data2])))
                last = max(last, tick)
    end = last + round(TAIL * 1000)
    timed += [(end, mido.Message("control_change", channel=c, control=123, value=0)) for c in range(16)]
    song = mido.MidiFile(type=0, ticks_per_beat=500)  # 500 ticks a quarter at 120: a tick is a millisecond
    track = mido.MidiTrack()
    at = 0
    for tick, message in sorted(timed, key=lambda pair: pair[0]):
        track.append(message.copy(time=tick - at))
        at = tick
    song.tracks.append(track)
    return song
