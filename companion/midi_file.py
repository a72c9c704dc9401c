"""A Standard MIDI File read with care: its tracks of messages, where each tempo begins, and when everything sounds.

Whatever a file is read for (a performance, a tune, a take), it is read here, so that it reads alike everywhere. A RIFF
wrapper is taken off, chunks of other kinds are passed over, a longer header is read as far as it is known, and ticks
may be parts of a quarter or of an SMPTE frame. mido reads the messages.

Conventions: ticks and seconds count from the start of the file; messages are mido's (channels 0-15, texts as Latin-1).
In a file whose ticks are parts of an SMPTE frame a tempo means nothing; its quarters are half seconds, as at 120.

Source: Standard MIDI Files 1.0 (the tempo is 120 unless said otherwise; chunks other than MThd and MTrk are to be
passed over).
"""

from __future__ import annotations

import io
import os
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from companion.errors import InputError
from companion.files import read_limited

USUAL_TEMPO = 500_000
"""Microseconds a quarter when the file says nothing."""
FRAMES = {24: Fraction(24), 25: Fraction(25), 29: Fraction(30_000, 1001), 30: Fraction(30)}
"""Frames a second by the number that stands for them; 29 is 30 drop-frame."""


@dataclass(frozen=True)
class MidiTrack:
    """A track of a file."""

    name: str
    messages: tuple[tuple[int, Any], ...]
    """Tick and message, in order; the end of the track is the last."""


@dataclass(frozen=True)
class StandardMidiFile:
    """What stands in a file."""

    kind: int
    """0: one track of everything; 1: tracks that sound together. One track of a kind 2 is given as 0."""
    tracks: tuple[MidiTrack, ...]
    ticks_a_quarter: Fraction
    tempi: tuple[tuple[int, int], ...]
    """Tick at which each tempo begins, whichever track holds it, and its microseconds a quarter."""

    def timeline(self) -> Iterator[tuple[float, int, Any]]:
        """Every message of every track in order of time: its seconds, the number of its track (0 the first), itself."""
        merged = [(tick, n, message) for n, track in enumerate(self.tracks) for tick, message in track.messages]
        merged.sort(key=lambda event: event[:2])
        per_tick = USUAL_TEMPO / 1e6 / float(self.ticks_a_quarter)
        seconds, last = 0.0, 0
        for tick, number, message in merged:
            seconds += (tick - last) * per_tick
            last = tick
            if message.type == "set_tempo" and self.tempi:
                per_tick = message.tempo / 1e6 / float(self.ticks_a_quarter)
            yield seconds, number, message


def read_standard_midi(
    path: str | os.PathLike[str], most: int, purpose: str, error: type[InputError] = InputError
) -> StandardMidiFile:
    """Read a file of type 0 or 1, or of type 2 with one track.

    Parameters
    ----------
    path : path
    most : int
        Bytes; a larger file is refused.
    purpose : str
        What it should hold: 'a tune in MIDI'.
    error : type
        The kind of error that is raised; it names the file.

    Raises
    ------
    InputError
        It can't be opened, is too large, isn't a Standard MIDI File, or is damaged.
    """
    return parse_standard_midi(read_limited(path, most, purpose, error), os.fspath(path), error)


def parse_standard_midi(data: bytes, name: str, error: type[InputError] = InputError) -> StandardMidiFile:
    """The same as :func:`read_standard_midi` from the bytes of a file; ``name`` is what errors call it."""
    try:
        return _parsed(data, error)
    except InputError as fault:
        raise fault.within(file=name) from None
    except Exception as fault:  # mido raises whatever the damage ran into: OSError, EOFError, ValueError, IndexError
        reason = "it ends in mid-track" if isinstance(fault, EOFError) else str(fault) or type(fault).__name__
        raise error(f"damaged Standard MIDI File ({reason})", file=name, mend="export it again") from None


def _parsed(data: bytes, error: type[InputError]) -> StandardMidiFile:
    import mido

    midi = mido.MidiFile(file=io.BytesIO(_standard_chunks(data, error)))
    if midi.type == 2 and len(midi.tracks) > 1:
        raise error("its tracks are separate pieces (type 2)", mend="export it as type 0 or 1")
    if midi.type not in (0, 1, 2):
        raise error(f"there is no type {midi.type} of Standard MIDI File", mend="export it as type 0 or 1")
    smpte = midi.ticks_per_beat < 0
    division = _smpte_rate(midi.ticks_per_beat, error) / 2 if smpte else Fraction(midi.ticks_per_beat)
    if division == 0:
        raise error("its clock has no ticks", mend="export it again")
    tracks = tuple(MidiTrack(track.name, tuple(_timed(track))) for track in midi.tracks)
    return StandardMidiFile(midi.type % 2, tracks, division, () if smpte else _tempi(tracks, error))


def _tempi(tracks: Sequence[MidiTrack], error: type[InputError]) -> tuple[tuple[int, int], ...]:
    """Where each tempo begins; of two at one tick the later track's comes last."""
    found = [(tick, m.tempo) for track in tracks for tick, m in track.messages if m.type == "set_tempo"]
    if any(tempo == 0 for _, tempo in found):
        raise error("a tempo in it is infinite", mend="export it again")
    return tuple(sorted(found, key=lambda change: change[0]))


def _standard_chunks(data: bytes, error: type[InputError]) -> bytes:
    """Only the header and the tracks: a RIFF wrapper taken off, chunks of other kinds passed over."""
    if data[:4] == b"RIFF" and data[8:12] == b"RMID":
        data = data[data.find(b"MThd") :]
    if data[:4] != b"MThd" or len(data) < 14:
        raise error("not a Standard MIDI File", mend="give a .mid file from a keyboard, sequencer or notation program")
    kept, tracks, at = [], 0, 8 + int.from_bytes(data[4:8], "big")
    while at + 8 <= len(data):
        kind, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        if kind == b"MTrk":
            tracks += 1
            kept.append(data[at : at + 8 + size])
        at += 8 + size
    declared = int.from_bytes(data[10:12], "big")
    if tracks < declared:
        raise error(f"{tracks} of its {declared} tracks are there", mend="copy or export it again")
    return b"MThd" + struct.pack(">L", 6) + data[8:10] + struct.pack(">H", declared) + data[12:14] + b"".join(kept)


def _timed(track: Any) -> Iterator[tuple[int, Any]]:
    tick = 0
    for message in track:
        tick += message.time
        yield tick, message


def _smpte_rate(division: int, error: type[InputError]) -> Fraction:
    """Ticks a second of an SMPTE division: minus the frames a second in the high byte, ticks a frame in the low one."""
    frames, ticks = -(division >> 8), division & 0xFF
    if frames not in FRAMES or not ticks:
        raise error(f"{frames} frames a second is no SMPTE rate", mend="export it with ticks a quarter")
    return FRAMES[frames] * ticks
