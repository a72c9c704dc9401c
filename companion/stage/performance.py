"""Performances as Standard MIDI Files: reading what a player played, writing what a rehearsal heard and ordered.

Conventions: seconds from the start of the file. Files are read at any division (ticks a quarter, or SMPTE frames) with
their tempo map; they are written as type 1 with 960 ticks a quarter at 120 quarters a minute throughout, so that 1920
ticks are one second. Channels here count from 1, as musicians and keyboards count them.

A type 1 file with a track named ``player`` is one of our own: only that track is the player's. In any other file all
tracks are; the drum channel (10) is left out, unless nothing else is in the file.

Source: Standard MIDI Files 1.0 (chunks other than MThd and MTrk are to be passed over); General MIDI level 1 (programs,
drum channel and its wood block).
"""

from __future__ import annotations

import io
import os
import struct
from collections.abc import Iterable, Sequence
from typing import Any

import mido

from companion.errors import PerformanceError
from companion.files import MEGABYTE, read_limited, write_whole
from companion.messages import PARTS, Heard, Order

TICKS_A_QUARTER = 960
MICROSECONDS_A_QUARTER = 500_000
TICKS_A_SECOND = 1920
PLAYER = "player"
PLAYER_CHANNEL = 1
CHANNELS = {"bass": 2, "chords": 3, "melody": 4, "solo": 4, "click": 10}
"""Channel of each part in a file, 1-16."""
PROGRAMS = {1: 1, 2: 33, 3: 1, 4: 1}
"""General MIDI program by channel, both from 1: acoustic grand piano, and acoustic bass on the bass's channel."""
DRUM_CHANNEL = 10
LONGEST = 24 * 3600.0
MOST_BYTES = 32 * MEGABYTE
"""Of a recording: an evening of eight hours with a pedal that never rests has half as many."""
"""Seconds; a file that claims to last longer is damaged."""
KINDS = {"note_on": 0x90, "note_off": 0x80, "control_change": 0xB0}

_Timed = tuple[int, int, Any]
"""Tick from the start, number of the track, mido message."""


def read_performance(path: str | os.PathLike[str]) -> list[Heard]:
    """What the player played in a Standard MIDI File: notes and controllers, in order of time.

    Parameters
    ----------
    path : path
        Any Standard MIDI File, also inside a RIFF wrapper.

    Returns
    -------
    list of Heard
        Seconds from the start of the file; a note-on with velocity 0 comes as a note-off. Empty only for a file of our
        own in which the player played nothing.

    Raises
    ------
    PerformanceError
        The file can't be opened, isn't a Standard MIDI File, is damaged, or holds no note.
    """
    return performance_from_bytes(_bytes(path), os.fspath(path))


def performance_length(path: str | os.PathLike[str]) -> float:
    """Seconds up to the end of the last track: a recording goes on after the last key is up.

    Raises
    ------
    PerformanceError
        As :func:`read_performance`.
    """
    return _parsed(_bytes(path), os.fspath(path))[1]


def performance_from_bytes(data: bytes, name: str = "performance") -> list[Heard]:
    """The same as :func:`read_performance` from the bytes of a file; ``name`` is what errors call it."""
    return _parsed(data, name)[0]


def _bytes(path: str | os.PathLike[str]) -> bytes:
    return read_limited(path, MOST_BYTES, "a recording of one evening", PerformanceError)


def _parsed(data: bytes, name: str) -> tuple[list[Heard], float]:
    """What was played, and the seconds at which the last track ends."""
    try:
        midi = mido.MidiFile(file=io.BytesIO(_standard_chunks(data)))
        _check(midi)
        ours = midi.type == 1 and any(track.name == PLAYER for track in midi.tracks)
        timed = [event for number, track in enumerate(midi.tracks) for event in _ticks(track, number)]
        timed.sort(key=lambda event: event[:2])
        players = {n for n, track in enumerate(midi.tracks) if not ours or track.name == PLAYER}
        heard, end = _heard(timed, players, midi.ticks_per_beat)
    except PerformanceError as error:
        raise error.within(file=name) from None
    except Exception as error:  # mido raises whatever the damage ran into: OSError, EOFError, ValueError, IndexError
        reason = "it ends in mid-track" if isinstance(error, EOFError) else str(error) or type(error).__name__
        raise PerformanceError(f"damaged Standard MIDI File ({reason})", file=name, mend="export it again") from None
    if not ours and not any(h.is_note_on for h in heard):
        raise PerformanceError("no note in it", file=name, mend="record the keyboard's notes, not only its sound")
    return heard, end


def _standard_chunks(data: bytes) -> bytes:
    """Only the header and the tracks: a RIFF wrapper taken off, chunks of other kinds passed over."""
    if data[:4] == b"RIFF" and data[8:12] == b"RMID":
        data = data[max(data.find(b"MThd"), 0) :]
    if data[:4] != b"MThd" or len(data) < 14:
        raise PerformanceError("not a Standard MIDI File", mend="give a .mid file from a keyboard or sequencer")
    kept, tracks, at = [], 0, 8 + struct.unpack(">L", data[4:8])[0]
    while at + 8 <= len(data):
        kind, size = data[at : at + 4], struct.unpack(">L", data[at + 4 : at + 8])[0]
        if kind == b"MTrk":
            tracks += 1
            kept.append(data[at : at + 8 + size])
        at += 8 + size
    declared = struct.unpack(">H", data[10:12])[0]
    if tracks < declared:
        raise PerformanceError(f"{tracks} of its {declared} tracks are there", mend="copy or export it again")
    return b"MThd" + struct.pack(">L", 6) + data[8:10] + struct.pack(">H", declared) + data[12:14] + b"".join(kept)


def _check(midi: mido.MidiFile) -> None:
    if midi.type == 2 and len(midi.tracks) > 1:
        raise PerformanceError("its tracks are separate pieces (type 2)", mend="export it as type 0 or 1")
    if midi.type not in (0, 1, 2):
        raise PerformanceError(f"there is no type {midi.type} of Standard MIDI File", mend="export it as type 0 or 1")
    if midi.ticks_per_beat == 0:
        raise PerformanceError("its clock has no ticks", mend="export it again")


def _ticks(track: Iterable[Any], number: int) -> Iterable[_Timed]:
    tick = 0
    for message in track:
        tick += message.time
        yield tick, number, message


def _heard(timed: Sequence[_Timed], players: set[int], division: int) -> tuple[list[Heard], float]:
    """Messages of the player's tracks in seconds, and when all is over; the tempo is taken from every track."""
    drums_only = not any(m.type == "note_on" and m.channel != DRUM_CHANNEL - 1 for _, n, m in timed if n in players)
    smpte = division < 0
    scale = 1.0 / _smpte_rate(division) if smpte else MICROSECONDS_A_QUARTER / 1e6 / division
    seconds, last, heard = 0.0, 0, []
    for tick, number, message in timed:
        seconds += (tick - last) * scale
        last = tick
        if seconds > LONGEST:
            raise PerformanceError("it claims to last more than a day", mend="export it again")
        if message.type == "set_tempo" and not smpte:
            if message.tempo == 0:
                raise PerformanceError("a tempo in it is infinite", mend="export it again")
            scale = message.tempo / 1e6 / division
        elif number in players and message.type in KINDS and (drums_only or message.channel != DRUM_CHANNEL - 1):
            heard.append(_one(seconds, message))
    return heard, seconds


def _smpte_rate(division: int) -> float:
    """Ticks a second of an SMPTE division: minus the frames a second in the high byte, ticks a frame in the low one."""
    frames, ticks = -(division >> 8), division & 0xFF
    if frames not in (24, 25, 29, 30) or not ticks:
        raise PerformanceError(f"{frames} frames a second is no SMPTE rate", mend="export it with ticks a quarter")
    return (30000 / 1001 if frames == 29 else frames) * ticks


def _one(seconds: float, message: Any) -> Heard:
    if message.type == "control_change":
        return Heard(seconds, 0xB0, message.control, message.value)
    if message.type == "note_on" and message.velocity > 0:
        return Heard(seconds, 0x90, message.note, message.velocity)
    return Heard(seconds, 0x80, message.note, message.velocity)


def recording_bytes(
    heard: Sequence[Heard],
    orders: Sequence[Order],
    *,
    parts: Iterable[str] = (),
    title: str | None = None,
    markers: Iterable[tuple[float, str]] = (),
    origin: float = 0.0,
) -> bytes:
    """A rehearsal as the bytes of a type 1 Standard MIDI File; arguments as in :func:`write_recording`."""
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS_A_QUARTER, charset="utf-8")
    first = [(0, mido.MetaMessage("set_tempo", tempo=MICROSECONDS_A_QUARTER))]
    first += [(_tick(s - origin), mido.MetaMessage("marker", text=text)) for s, text in markers]
    midi.tracks.append(_track(title, first))
    midi.tracks.append(_part_track(PLAYER, PLAYER_CHANNEL, heard, origin))
    wanted = {order.part for order in orders} | set(parts)
    for part in [p for p in PARTS if p in wanted]:
        midi.tracks.append(_part_track(part, CHANNELS[part], [o for o in orders if o.part == part], origin))
    if unknown := wanted - set(PARTS):
        raise ValueError(f"no such part: {', '.join(sorted(unknown))}")
    buffer = io.BytesIO()
    midi.save(file=buffer)
    return buffer.getvalue()


def write_recording(
    path: str | os.PathLike[str],
    heard: Sequence[Heard],
    orders: Sequence[Order],
    *,
    parts: Iterable[str] = (),
    title: str | None = None,
    markers: Iterable[tuple[float, str]] = (),
    origin: float = 0.0,
) -> None:
    """Write what was heard and what was ordered as a type 1 Standard MIDI File.

    A first track with the tempo and the markers, a track ``player``, then one for each part, named by its part. The
    file is complete or isn't there: it is written beside its place and moved into it.

    Parameters
    ----------
    path : path
    heard : sequence of Heard
        What the player played.
    orders : sequence of Order
        What the companion played, at the moments at which it was due.
    parts : iterable of str
        Parts that get a track even when they have nothing in it.
    title : str, optional
        Name of the first track.
    markers : iterable of (seconds, text)
        Marker events, such as the sections.
    origin : float
        The moment, in the seconds of ``heard`` and ``orders``, that becomes the start of the file. What lies before is
        put at the start.

    Raises
    ------
    InputError
        The file can't be written there.
    """
    write_whole(path, recording_bytes(heard, orders, parts=parts, title=title, markers=markers, origin=origin))


def _tick(seconds: float) -> int:
    return max(0, round(seconds * TICKS_A_SECOND))


def _track(name: str | None, timed: Iterable[tuple[int, Any]]) -> mido.MidiTrack:
    """A track from messages with ticks from the start of the file; equal ticks keep their order."""
    track = mido.MidiTrack()
    if name:
        track.append(mido.MetaMessage("track_name", name=name))
    last = 0
    for tick, message in sorted(timed, key=lambda pair: pair[0]):
        track.append(message.copy(time=tick - last))
        last = tick
    return track


def _part_track(name: str, channel: int, messages: Iterable[Heard | Order], origin: float) -> mido.MidiTrack:
    timed: list[tuple[int, Any]] = []
    if channel in PROGRAMS:
        timed.append((0, mido.Message("program_change", channel=channel - 1, program=PROGRAMS[channel] - 1)))
    for m in messages:
        status = (m.status & 0xF0) | (channel - 1)
        data = [m.data1] if m.status & 0xF0 in (0xC0, 0xD0) else [m.data1, m.data2]
        timed.append((_tick(m.seconds - origin), mido.Message.from_bytes([status, *data])))
    return _track(name, timed)
