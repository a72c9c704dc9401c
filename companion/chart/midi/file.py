"""A Standard MIDI File as music: its notes in beats and seconds, its tempo, metre, key, words and markers.

:mod:`companion.midi_file` reads the messages.

Conventions: beats in quarters from the start of the file; seconds likewise; channels 1-16.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from typing import Any

from companion.chart.keys import read_key
from companion.errors import ChartError
from companion.files import MEGABYTE
from companion.midi_file import USUAL_TEMPO, MidiTrack, StandardMidiFile, read_standard_midi
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress

DRUMS = 10
CHORD = 3
"""Notes at once that are a chord."""
MOST_AT_ONCE = 16
MOST_BYTES = MEGABYTE
MOST_NOTES = 20_000
"""Of a track: a tune of an hour."""
LATEST = 10**6
"""Quarters; a file that claims to last longer is damaged."""


@dataclass(frozen=True)
class MidiNote:
    """A note of a track: its key, and where the file has it in quarters."""

    beat: Fraction
    length: Fraction
    key: KeyPress
    channel: int
    symbol: bool = False
    """It was ended before it began, as some notation programs write chord symbols and grace notes."""


@dataclass(frozen=True)
class Text:
    """A text event."""

    beat: Fraction
    kind: str
    """'marker', 'text', 'lyrics', 'cue_marker', 'copyright', 'instrument_name'."""
    text: str


@dataclass(frozen=True)
class Track:
    """A track with its notes; in a file of type 0 a channel of its one track."""

    number: int
    name: str
    notes: tuple[MidiNote, ...]


@dataclass(frozen=True)
class MidiFile:
    """What a file holds."""

    tracks: tuple[Track, ...]
    """Those with notes, drums left out."""
    tempi: tuple[tuple[Fraction, float], ...]
    """Where each tempo begins, in quarters a minute; the first at 0."""
    metres: tuple[tuple[Fraction, Metre], ...]
    """Where each metre begins; empty when the file gives none."""
    keys: tuple[tuple[Fraction, int, bool], ...]
    """Where each key begins, its fifths and whether it is minor."""
    texts: tuple[Text, ...]
    title: str
    """Name of the first track, when that has no notes; '' otherwise."""
    drums: int
    """How many notes on the drums' channel were left out."""
    has_tempo: bool = True
    """Whether the file says a tempo; otherwise the first is that which the standard has for such a file."""

    @property
    def beats(self) -> BeatMap:
        """Seconds of the file's own beats."""
        points, at = [], 0.0
        for k, (beat, tempo) in enumerate(self.tempi):
            points.append((float(beat), at))
            if k + 1 < len(self.tempi):
                at += float(self.tempi[k + 1][0] - beat) * 60.0 / tempo
        beat, tempo = self.tempi[-1]
        return BeatMap((*points, (float(beat) + 1.0, at + 60.0 / tempo)))


def read_midi_file(path: str | os.PathLike[str]) -> MidiFile:
    """Read a file of type 0 or 1.

    Raises
    ------
    ChartError
        It can't be opened, isn't a Standard MIDI File, or is damaged.
    """
    name = os.fspath(path)
    midi = read_standard_midi(path, MOST_BYTES, "a tune in MIDI", ChartError)
    try:
        return _music(midi)
    except ChartError as error:
        raise error.within(file=name) from None


def _music(midi: StandardMidiFile) -> MidiFile:
    division = midi.ticks_a_quarter
    tempi = {Fraction(0): 60e6 / USUAL_TEMPO} | {tick / division: 60e6 / tempo for tick, tempo in midi.tempi}
    metres: dict[Fraction, Metre] = {}
    keys: dict[Fraction, tuple[int, bool]] = {}
    texts: list[Text] = []
    names: list[str] = []
    for track in midi.tracks:
        names.append(_decoded(track.name))
        for beat, message in _timed(track, division):
            if message.type == "time_signature" and message.numerator:  # a bar without beats is none
                metres[beat] = Metre(message.numerator, message.denominator)
            elif message.type == "key_signature":
                keys[beat] = read_key(message.key)
            elif message.type in ("marker", "text", "lyrics", "cue_marker", "copyright") and message.text.strip():
                texts.append(Text(beat, message.type, _decoded(message.text)))
    found = MidiFile(
        (),
        tuple(sorted(tempi.items())),
        tuple(sorted(metres.items(), key=lambda item: item[0])),
        tuple((beat, *key) for beat, key in sorted(keys.items())),
        tuple(sorted(texts, key=lambda text: text.beat)),
        "",
        0,
        bool(midi.tempi),
    )
    return _with_tracks(found, midi, names)


def _with_tracks(found: MidiFile, midi: StandardMidiFile, names: Sequence[str]) -> MidiFile:
    seconds = found.beats.seconds
    tracks: list[Track] = []
    drums = 0
    for number, track in enumerate(midi.tracks):
        notes = _track_notes(track, midi.ticks_a_quarter, seconds)
        own = [note for note in notes if note.channel != DRUMS]
        drums += len(notes) - len(own)
        channels = sorted({note.channel for note in own}) if midi.kind == 0 else [0]
        for channel in channels:
            part = tuple(note for note in own if not channel or note.channel == channel)
            if len(part) > MOST_NOTES:
                what = f"a track has more than {MOST_NOTES} notes"
                raise ChartError(what, mend="export the tune alone, once through")
            if part:
                name = names[number] if not channel or len(channels) == 1 else f"channel {channel}"
                tracks.append(Track(number, name, part))
    first = names[0] if names and not any(track.number == 0 for track in tracks) else ""
    return replace(found, tracks=tuple(tracks), title=first, drums=drums)


def _timed(track: MidiTrack, division: Fraction) -> list[tuple[Fraction, Any]]:
    """Messages and their beats. Raises ChartError."""
    if track.messages and track.messages[-1][0] > LATEST * division:
        raise ChartError("it claims to last for days", mend="export it again")
    return [(tick / division, message) for tick, message in track.messages]


def _track_notes(track: MidiTrack, division: Fraction, seconds: Callable[[float], float]) -> list[MidiNote]:
    """The notes of a track, in order of beat.

    Some notation programs write chord symbols as chords of no length, and grace notes likewise: their note-offs come
    before their note-ons and so end nothing. They are told from the melody, which may have the same keys.
    """
    moments = [(beat, [m for _, m in group]) for beat, group in groupby(_timed(track, division), key=lambda e: e[0])]
    ticked = [(beat, messages, _ended_first(messages)) for beat, messages in moments]
    down: dict[tuple[int, int], tuple[Fraction, int]] = {}
    symbols: list[tuple[Fraction, tuple[int, int], int]] = []
    notes: list[MidiNote] = []

    def sung(place: tuple[int, int], begun: Fraction, end: Fraction, velocity: int, symbol: bool = False) -> None:
        key = KeyPress(seconds(float(begun)), seconds(float(end)), place[1], velocity)
        notes.append(MidiNote(begun, end - begun, key, place[0] + 1, symbol))

    last = moments[-1][0] if moments else Fraction(0)
    for beat, messages, ended_first in ticked:
        waiting = set(ended_first) - set(down)
        if len(waiting) >= CHORD - 1:
            highest = max(key for _, key in waiting)  # below it, a key of the chord that the melody holds, too
            lacks = len(waiting) < CHORD  # two notes alone are no chord
            waiting |= {place for place in ended_first if place[1] < highest or lacks}
        waiting = waiting if len(waiting) < MOST_AT_ONCE else set()  # at the start some files let every key go
        to_end = set(waiting)
        for message in messages:
            if message.type not in ("note_on", "note_off"):
                continue
            place = (message.channel, message.note)
            begins = message.type == "note_on" and message.velocity > 0
            if not begins and place in to_end:
                to_end.discard(place)
            elif begins and place in waiting:
                waiting.discard(place)
                symbols.append((beat, place, message.velocity))
            else:
                if place in down:
                    begun, velocity = down.pop(place)
                    sung(place, begun, beat, velocity)
                if begins:
                    down[place] = (beat, message.velocity)
    for place, (begun, velocity) in down.items():
        sung(place, begun, last, velocity)
    beats = sorted({beat for beat, _, _ in symbols})
    following = dict(zip(beats, [*beats[1:], last], strict=False))
    for begun, place, velocity in symbols:
        sung(place, begun, following[begun], velocity, symbol=True)
    return sorted(notes, key=lambda note: (note.beat, note.key.midi))


def _ended_first(messages: Sequence[Any]) -> frozenset[tuple[int, int]]:
    """Keys whose note-off stands before their note-on at one moment."""
    ended: set[tuple[int, int]] = set()
    found: set[tuple[int, int]] = set()
    for message in messages:
        if message.type == "note_on" and message.velocity > 0:
            found |= {(message.channel, message.note)} & ended
        elif message.type in ("note_on", "note_off"):
            ended.add((message.channel, message.note))
    return frozenset(found)


def _decoded(text: str) -> str:
    """A text as it was meant: files say nothing of their encoding, most are UTF-8 or Latin-1."""
    raw = text.encode("latin-1", "replace")
    try:
        return " ".join(raw.decode("utf-8").split())
    except UnicodeDecodeError:
        return " ".join(raw.decode("latin-1").split())
