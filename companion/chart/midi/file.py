"""A Standard MIDI File as music: its notes in beats and seconds, its tempo, metre, key, words and markers.

Conventions: beats in quarters from the start of the file; seconds likewise; channels 1-16. Source: Standard MIDI Files
1.0 (tempo 120 and metre 4/4 unless said otherwise; chunks other than MThd and MTrk are passed over).
"""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from typing import Any

from companion.errors import ChartError
from companion.files import MEGABYTE, read_limited
from companion.music.meter import Metre
from companion.music.played import BeatMap, Key

DRUMS = 10
USUAL_TEMPO = 500_000
"""Microseconds a quarter when the file says nothing."""
CHORD = 3
"""Notes at once that are a chord."""
MOST_AT_ONCE = 16
MOST_BYTES = MEGABYTE
MOST_NOTES = 20_000
"""Of a track: a tune of an hour."""
LATEST = 10**6
"""Quarters; a file that claims to last longer is damaged."""


@dataclass(frozen=True)
class Sung:
    """A note of a track: its key, and where the file has it in quarters."""

    beat: Fraction
    length: Fraction
    key: Key
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
    track: int


@dataclass(frozen=True)
class Track:
    """A track with its notes; in a file of type 0 a channel of its one track."""

    number: int
    name: str
    notes: tuple[Sung, ...]


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


def tempo_map(path: str | os.PathLike[str]) -> BeatMap:
    """Where the beats of a file are, in seconds. Raises ChartError."""
    return read_midi_file(path).beats


def read_midi_file(path: str | os.PathLike[str]) -> MidiFile:
    """Read a file of type 0 or 1.

    Raises
    ------
    ChartError
        It can't be opened, isn't a Standard MIDI File, or is damaged.
    """
    name = os.fspath(path)
    data = read_limited(path, MOST_BYTES, "a tune in MIDI", ChartError)
    if data[:4] == b"RIFF":
        data = data[max(data.find(b"MThd"), 0) :]
    if data[:4] != b"MThd":
        raise ChartError("not a Standard MIDI File", file=name, mend="give a .mid file")
    try:
        return _read(data)
    except ChartError as error:
        raise error.within(file=name) from None
    except Exception as error:  # mido raises whatever the damage ran into
        reason = "it ends in mid-track" if isinstance(error, EOFError) else str(error) or type(error).__name__
        raise ChartError(f"damaged Standard MIDI File ({reason})", file=name, mend="export it again") from None


def _read(data: bytes) -> MidiFile:
    import mido

    midi = mido.MidiFile(file=io.BytesIO(data), charset="latin-1")
    if midi.type == 2 or midi.ticks_per_beat <= 0:
        raise ChartError("a kind of MIDI file without bars", mend="export it as type 0 or 1, with ticks a quarter")
    division = midi.ticks_per_beat
    tempi: dict[Fraction, float] = {Fraction(0): 60e6 / USUAL_TEMPO}
    metres: dict[Fraction, Metre] = {}
    keys: dict[Fraction, tuple[int, bool]] = {}
    texts: list[Text] = []
    names: list[str] = []
    for number, track in enumerate(midi.tracks):
        names.append(_decoded(track.name))
        for beat, message in _timed(track, division):
            if message.type == "set_tempo" and message.tempo:
                tempi[beat] = 60e6 / message.tempo
            elif message.type == "time_signature":
                metres[beat] = Metre(message.numerator, message.denominator)
            elif message.type == "key_signature":
                keys[beat] = _key(message.key)
            elif message.type in ("marker", "text", "lyrics", "cue_marker", "copyright") and message.text.strip():
                texts.append(Text(beat, message.type, _decoded(message.text), number))
    found = MidiFile(
        (),
        tuple(sorted(tempi.items())),
        tuple(sorted(metres.items(), key=lambda item: item[0])),
        tuple((beat, *key) for beat, key in sorted(keys.items())),
        tuple(sorted(texts, key=lambda text: text.beat)),
        "",
        0,
    )
    return _with_tracks(found, midi, names)


def _with_tracks(found: MidiFile, midi: Any, names: Sequence[str]) -> MidiFile:
    seconds = found.beats.seconds
    tracks: list[Track] = []
    drums = 0
    for number, track in enumerate(midi.tracks):
        notes = _notes(track, midi.ticks_per_beat, seconds)
        own = [note for note in notes if note.channel != DRUMS]
        drums += len(notes) - len(own)
        channels = sorted({note.channel for note in own}) if midi.type == 0 else [0]
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


def _timed(track: Any, division: int) -> list[tuple[Fraction, Any]]:
    tick, found = 0, []
    for message in track:
        tick += message.time
        if tick > LATEST * division:
            raise ChartError("it claims to last for days", mend="export it again")
        found.append((Fraction(tick, division), message))
    return found


def _notes(track: Any, division: int, seconds: Callable[[float], float]) -> list[Sung]:
    """The notes of a track, in order of beat.

    Some notation programs write chord symbols as chords of no length, and grace notes likewise: their note-offs come
    before their note-ons and so end nothing. They are told from the melody, which may have the same keys.
    """
    moments = [(beat, [m for _, m in group]) for beat, group in groupby(_timed(track, division), key=lambda e: e[0])]
    ticked = [(beat, messages, _ended_first(messages)) for beat, messages in moments]
    down: dict[tuple[int, int], tuple[Fraction, int]] = {}
    symbols: list[tuple[Fraction, tuple[int, int], int]] = []
    notes: list[Sung] = []

    def sung(place: tuple[int, int], begun: Fraction, end: Fraction, velocity: int, symbol: bool = False) -> None:
        key = Key(seconds(float(begun)), seconds(float(end)), place[1], velocity)
        notes.append(Sung(begun, end - begun, key, place[0] + 1, symbol))

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


def _key(text: str) -> tuple[int, bool]:
    """Fifths and mode from mido's name of a key."""
    from companion.chart.keys import read_key

    return read_key(text)


def _decoded(text: str) -> str:
    """A text as it was meant: files say nothing of their encoding, most are UTF-8 or Latin-1."""
    raw = text.encode("latin-1", "replace")
    try:
        return " ".join(raw.decode("utf-8").split())
    except UnicodeDecodeError:
        return " ".join(raw.decode("latin-1").split())
