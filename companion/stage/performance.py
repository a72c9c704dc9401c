"""Performances as Standard MIDI Files: reading what a player played, writing what a rehearsal heard and ordered.

Conventions: seconds from the start of the file. Files are read by :mod:`companion.midi_file`, at any division and with
their tempo map; they are written as type 1 with 960 ticks a quarter at 120 quarters a minute throughout, so that 1920
ticks are one second. Channels here count from 1, as musicians and keyboards count them.

A type 1 file with a track named ``player`` is one of our own: only that track is the player's. In any other file all
tracks are; the drum channel (10) is left out, unless nothing else is in the file.

Source: Standard MIDI Files 1.0; General MIDI level 1 (programs, drum channel and its wood block).
"""

from __future__ import annotations

import io
import os
from collections.abc import Iterable, Sequence
from typing import Any

import mido

from companion.errors import PerformanceError
from companion.files import MEGABYTE, write_whole
from companion.messages import PARTS, Heard, Order
from companion.midi_file import StandardMidiFile, parse_standard_midi, read_standard_midi

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
"""Seconds; a file that claims to last longer is damaged."""
MOST_BYTES = 32 * MEGABYTE
"""Of a recording: an evening of eight hours with a pedal that never rests has half as many."""
KINDS = frozenset(("note_on", "note_off", "control_change"))
"""What is read of a file."""


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
    return _read(path)[0]


def performance_length(path: str | os.PathLike[str]) -> float:
    """Seconds up to the end of the last track: a recording goes on after the last key is up.

    Raises
    ------
    PerformanceError
        As :func:`read_performance`.
    """
    return _read(path)[1]


def performance_from_bytes(data: bytes, name: str = "performance") -> list[Heard]:
    """The same as :func:`read_performance` from the bytes of a file; ``name`` is what errors call it."""
    return _performance(parse_standard_midi(data, name, PerformanceError), name)[0]


def _read(path: str | os.PathLike[str]) -> tuple[list[Heard], float]:
    name = os.fspath(path)
    return _performance(read_standard_midi(path, MOST_BYTES, "a recording of one evening", PerformanceError), name)


def _performance(midi: StandardMidiFile, name: str) -> tuple[list[Heard], float]:
    """What was played, and the seconds at which the last track ends."""
    ours = midi.kind == 1 and any(track.name == PLAYER for track in midi.tracks)
    players = {n for n, track in enumerate(midi.tracks) if not ours or track.name == PLAYER}
    timed = list(midi.timeline())
    end = timed[-1][0] if timed else 0.0
    if end > LONGEST:
        raise PerformanceError("it claims to last more than a day", file=name, mend="export it again")
    played = [(seconds, m) for seconds, number, m in timed if number in players and m.type in KINDS]
    drums_only = not any(m.type == "note_on" and m.channel != DRUM_CHANNEL - 1 for _, m in played)
    heard = [_one(seconds, m) for seconds, m in played if drums_only or m.channel != DRUM_CHANNEL - 1]
    if not ours and not any(h.is_note_on for h in heard):
        raise PerformanceError("no note in it", file=name, mend="record the keyboard's notes, not only its sound")
    return heard, end


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
