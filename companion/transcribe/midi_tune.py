"""A tune from a Standard MIDI File: melody, chords, form, and remarks on what a chart has no place for.

The melody is a track (found, or named), or the top of one. Chords are symbols among the file's markers, texts or
lyrics; else the notes of a track of chords, named with the bass's help. A file whose notes lie on its own beats, as a
notation program writes it, is taken at its word; one that swings or was played is quantised
(:mod:`companion.transcribe.quantise`); in one that knows nothing of beats (a keyboard's recording) they are found first
(:mod:`companion.transcribe.tempo`).

Conventions: beats in quarters. A file may begin with a pickup, or with a bar that holds it: the place of the bar lines
that agrees best with the chords and with long notes on first beats is taken, the file's own in doubt.
"""

from __future__ import annotations

import os
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import ceil, floor
from pathlib import Path

from companion.chart.imported import Imported
from companion.chart.keys import sounds_minor, write_key
from companion.chart.lead_sheet import LeadSheet, as_chart, check_metre
from companion.chart.midi.file import CHORD, MidiFile, MidiNote, Text, Track, read_midi_file
from companion.chart.model import MOST_BARS, Chart, ChordSpan
from companion.chart.remarks import Remark
from companion.chart.toml.read import check_tempo
from companion.chart.words import read_chord_word
from companion.errors import ChartError
from companion.music.chord_names import SoundedChord, name_chords
from companion.music.chords import Chord
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.music.tonality import find_key
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.barring import Heading, in_bars
from companion.transcribe.captured import ROLLED, Pass, spelled, struck_chords, transcribed_line
from companion.transcribe.lengths import TranscribedNote
from companion.transcribe.playing import held_chords
from companion.transcribe.tempo import find_beats

EXACT = 0.012
"""Quarters by which a note may lie off its place and count as on it: ticks are whole numbers."""
LATE = Fraction(1, 8)
"""Quarters by which a chord may lie behind its beat and still be on it."""
MOST_A_SECOND, FEW = 50.0, 12
"""Notes of a melody one after the other, faster than any hand; of fewer notes that says nothing."""
MOSTLY = 0.95
"""Share of the notes that have to lie on their places for a file to count as written, not played."""
MELODY_WORDS = ("melody", "lead", "vocal", "voice", "tune", "theme", "solo", "sing", "player")
CHORD_WORDS = ("chord", "harmon", "comp", "pad", "accomp")
BASS_WORDS = ("bass",)
OWN_RECORDING = "player"
"""The track of a companion's recording that has what the player played."""


@dataclass(frozen=True)
class SungLine:
    """The melody as it is written down."""

    notes: tuple[TranscribedNote, ...]
    beats: BeatMap
    """Where the beats are."""
    swung: bool = False
    played: bool = False
    """The notes didn't lie on their places, and were moved to those that they were meant for."""
    timed: bool = False
    """They had nothing to do with the file's own beats, and others were found."""


@dataclass(frozen=True)
class TuneInFile:
    """What has been found in a file, in quarters from its start."""

    line: SungLine
    chords: tuple[tuple[Fraction, Chord], ...]
    metre: Metre
    tempo: float
    headings: tuple[Heading, ...] = ()
    remarks: tuple[tuple[Fraction | None, Remark], ...] = field(default=())
    """Each with its beat, or None when it goes for the whole tune."""


def read_midi(path: str | os.PathLike[str], melody: str | None = None, chords: str | None = None) -> Imported:
    """Import a file of type 0 or 1.

    Parameters
    ----------
    path : path
    melody, chords : str, optional
        The track that has the melody, or the chords: its name or a part of it, or its number (1 = the first with
        notes). They are found unless named.

    Returns
    -------
    Imported

    Raises
    ------
    ChartError
        It isn't a Standard MIDI File, is damaged, has no notes, or no track of that name.
    """
    name = os.fspath(path)
    file = read_midi_file(path)
    if not file.tracks:
        raise ChartError("no note in it", file=name, mend="export the melody as a track")
    try:
        return _chart(file, _tune(file, melody, chords), name)
    except ChartError as error:
        raise error.within(file=name) from None


def _tune(file: MidiFile, melody: str | None, chords: str | None) -> TuneInFile:
    lead = _named(file.tracks, melody) if melody else _melody_track(file.tracks)
    metre = file.metres[0][1] if file.metres else Metre()
    check_metre(metre)
    check_tempo(round(file.tempi[0][1], 2))
    symbols, others = _symbols(file.texts)
    line, blocks = _parted(lead)
    _check_length(lead, metre)
    _check_speed(line)
    harmony = _named(file.tracks, chords) if chords else _chord_track(file.tracks, lead)
    low = next((t for t in file.tracks if t is not lead and t is not harmony and _is_bass(t)), None)
    bass = low if harmony is not None and not symbols else None
    taken = "the file's chord symbols" if symbols else "another track" if harmony is not None else ""
    remarks = [*_left_out(file, lead, None if symbols else harmony, bass, taken), *_words(file, others)]
    remarks += _changes(file, metre)
    headings = tuple(Heading(text.beat, text.text) for text in others if text.kind == "marker")
    sung = _written_melody(line, file, metre)
    notes, beats = sung.notes, sung.beats
    if not symbols and harmony is not None:
        played = Pass(tuple(note.key for note in harmony.notes), beats)
        if bass is not None:
            played = Pass(tuple(sorted((*played.keys, *_under(harmony, bass)), key=lambda key: key.on)), beats)
        symbols = struck_chords(played, metre, notes)
    elif not symbols and blocks:
        symbols = _blocks(blocks)
    tempo = _found_tempo(beats, line) if sung.timed else file.tempi[0][1]
    return TuneInFile(sung, tuple(symbols), metre, tempo, headings, tuple(remarks))


def _found_tempo(beats: BeatMap, line: Sequence[MidiNote]) -> float:
    """The median tempo, in whole quarters a minute, of beats that were found."""
    first, last = (beats.beat(moment) for moment in (line[0].key.on, line[-1].key.on))
    return float(
        round(statistics.median(beats.tempo(beat) for beat in range(ceil(first), max(ceil(first), floor(last)) + 1)))
    )


def own_beats(path: str | os.PathLike[str], tempo: float | None = None) -> tuple[BeatMap, float]:
    """Where the beats of a recording are, and when its first note begins, in seconds.

    They are the file's own where its notes have to do with them, or its tempo is the one that is said; else they are
    found. Raises ChartError.
    """
    file = read_midi_file(path)
    if not file.tracks:
        raise ChartError("no note in it", file=os.fspath(path), mend="record the melody")
    line, _ = _parted(_melody_track(file.tracks))
    try:
        _check_speed(line)
    except ChartError as error:
        raise error.within(file=os.fspath(path)) from None
    related = tempo is not None or not _unrelated(line)
    return file.beats if related else find_beats([note.key for note in line]), line[0].key.on


# Tracks


def _named(tracks: Sequence[Track], wanted: str) -> Track:
    if wanted.isdigit() and 1 <= int(wanted) <= len(tracks):
        return tracks[int(wanted) - 1]
    found = [track for track in tracks if wanted.casefold() in track.name.casefold()]
    if not found:
        there = ", ".join(f"{number} {track.name}".strip() for number, track in enumerate(tracks, 1))
        raise ChartError(f"there is no track '{wanted}'", mend=f"there are: {there}")
    exact = [track for track in found if track.name.casefold() == wanted.casefold()]
    return (exact or found)[0]


def _has(track: Track, words: Sequence[str]) -> bool:
    return any(word in track.name.casefold() for word in words)


def _struck(track: Track) -> list[list[MidiNote]]:
    """A track's notes by the moments at which they are struck: hands strike a chord within some milliseconds."""
    spread = preferences(CapturePreferences).timing.spread_ms / 1000
    groups = held_chords([note.key for note in track.notes], spread, ROLLED)
    return [[track.notes[n] for n in group] for group in groups]


def _together(track: Track) -> float:
    """Notes that begin at once, on average."""
    return len(track.notes) / max(1, len(_struck(track)))


def _is_bass(track: Track) -> bool:
    return _has(track, BASS_WORDS) or (_pitch(track) < 48 and _together(track) < 1.3)


def _pitch(track: Track) -> float:
    return statistics.fmean(note.key.midi for note in track.notes)


def _melody_track(tracks: Sequence[Track]) -> Track:
    """By its name, or the one voice that lies highest and sings most."""

    def worth(track: Track) -> float:
        named = 3.0 * _has(track, MELODY_WORDS) - 3.0 * _has(track, (*CHORD_WORDS, *BASS_WORDS))
        share = len(_struck(track)) / most
        return named + share - 1.2 * (_together(track) - 1.0) - 2.0 * _is_bass(track) + _pitch(track) / 60.0

    most = max(len(_struck(track)) for track in tracks)
    own = [track for track in tracks if track.name == OWN_RECORDING]
    return own[0] if own else max(tracks, key=worth)


def _chord_track(tracks: Sequence[Track], lead: Track) -> Track | None:
    """By its name, or the one with most notes at once."""
    others = [track for track in tracks if track is not lead and not _is_bass(track)]
    named = [track for track in others if _has(track, CHORD_WORDS) and _together(track) > 1.5]
    thick = [track for track in others if _together(track) >= 2.4]
    return max(named or thick, key=_together, default=None)


def _parted(track: Track) -> tuple[list[MidiNote], list[list[MidiNote]]]:
    """The melody of a track, and the chords struck in it: three notes and more at once, under the melody's own.

    Notation programs write chord symbols so, as chords that no note-off ends.
    """
    groups = _struck(track)
    if not any(note.symbol for note in track.notes):
        blocks = [group for group in groups if len(group) >= 4] if _together(track) >= 1.6 else []
        return [max(group, key=lambda note: note.key.midi) for group in groups], blocks
    line, blocks = [], []
    for group in groups:
        struck = [note for note in group if note.symbol]
        sung = [note for note in group if not note.symbol]
        if len(struck) >= CHORD:
            blocks.append(struck)
        if sung:
            line.append(max(sung, key=lambda note: note.key.midi))
    return line, blocks


def _under(harmony: Track, bass: Track) -> list[KeyPress]:
    """The bass's note under each chord, moved to its moment."""
    found = []
    for chord in _struck(harmony):
        goal = ceil(chord[0].beat - LATE)  # a chord off the beat anticipates it
        near = min(bass.notes, key=lambda note: (abs(note.beat - goal), note.beat))
        if abs(near.beat - goal) < 1:
            low = near.key.midi % 12 + 24
            found.append(replace(chord[0].key, midi=low))
    return found


def _blocks(blocks: Sequence[Sequence[MidiNote]]) -> list[tuple[Fraction, Chord]]:
    """Chords that stand for symbols: the lowest note is the bass."""
    pitches = [sorted({note.key.midi for note in block}) for block in blocks]
    names = name_chords([SoundedChord(tuple(notes[1:]), notes[0]) for notes in pitches])
    return [(_on_grid(block[0].beat), chord) for block, chord in zip(blocks, names, strict=True)]


# Notes


def _on_grid(beat: Fraction) -> Fraction:
    return min((Fraction(round(beat * n), n) for n in (16, 12)), key=lambda place: abs(place - beat))


def _is_exact(beats: Sequence[Fraction]) -> bool:
    near = sum(abs(_on_grid(beat) - beat) <= EXACT for beat in beats)
    return near >= MOSTLY * len(beats)


def _written_melody(line: Sequence[MidiNote], file: MidiFile, metre: Metre) -> SungLine:
    """The melody's notes, whether they swing, and where the beats are."""
    if not line:
        return SungLine((), file.beats)
    ends = [note.beat + note.length for note in line]
    if _is_exact([note.beat for note in line]) and _is_exact(ends):
        return SungLine(tuple(_as_they_stand(line)), file.beats)
    keys = [note.key for note in line]
    beats = file.beats
    exact = _is_exact([note.beat for note in line if abs(note.beat - round(note.beat)) < Fraction(1, 24)])
    on_beats = sum(abs(note.beat - round(note.beat)) <= EXACT for note in line)
    known = exact and on_beats >= 0.3 * len(line)
    timed = not known and _unrelated(line)
    if timed:
        beats = find_beats(keys, metre)
    notes, swung = transcribed_line(keys, beats, metre, steady=known)
    return SungLine(tuple(notes), beats, swung, True, timed)


def _unrelated(line: Sequence[MidiNote]) -> bool:
    """The notes lie anywhere between the file's own beats: it was recorded without a click."""
    places = [float(note.beat % 1) for note in line]
    near = sum(min(place, 1.0 - place) < 0.1 for place in places)
    return near < 0.35 * len(places)


def _as_they_stand(line: Sequence[MidiNote]) -> list[TranscribedNote]:
    notes: list[TranscribedNote] = []
    for k, note in enumerate(line):
        beat, end = _on_grid(note.beat), _on_grid(note.beat + note.length)
        after = _on_grid(line[k + 1].beat) if k + 1 < len(line) else None
        if after is not None and (end > after or 0 < after - end < Fraction(1, 16)):
            end = after
        if end > beat and (not notes or notes[-1].beat != beat):
            notes.append(TranscribedNote(beat, end - beat, note.key))
    return notes


# Words


def _symbols(texts: Sequence[Text]) -> tuple[list[tuple[Fraction, Chord]], list[Text]]:
    """Chord symbols among the texts, and the other texts; one kind has them, that in which most words are chords."""
    best: list[tuple[Text, Chord]] = []
    for kind in ("marker", "text", "lyrics", "cue_marker"):
        own = [text for text in texts if text.kind == kind]
        read = [(text, chord) for text in own if (chord := read_chord_word(text.text)) is not None]
        letters = all(len(text.text.strip()) == 1 for text, _ in read)  # sections are called so, too
        if not letters and len(read) > len(best) and len(read) >= 0.6 * len(own):
            best = read
    taken = {id(text) for text, _ in best}
    chords: list[tuple[Fraction, Chord]] = []
    for text, chord in best:
        beat = _on_grid(text.beat)
        if chords and chords[-1][0] == beat:
            chords.pop()
        if not chords or chords[-1][1] != chord:
            chords.append((beat, chord))
    return chords, [text for text in texts if id(text) not in taken]


def _words(file: MidiFile, texts: Sequence[Text]) -> list[tuple[Fraction | None, Remark]]:
    sung = [text for text in texts if text.kind == "lyrics"]
    said = [text for text in texts if text.kind in ("text", "cue_marker", "copyright")]
    found: list[tuple[Fraction | None, Remark]] = [(text.beat, Remark("words to sing", text.text)) for text in sung]
    return found + [(text.beat if text.beat else None, Remark("a text", text.text)) for text in said]


def _left_out(
    file: MidiFile, lead: Track, harmony: Track | None, bass: Track | None, chords_from: str
) -> list[tuple[Fraction | None, Remark]]:
    """The tracks that a chart has no place for, each with the reason.

    ``bass`` has told the roots of the chords; ``chords_from`` is what the chords have been taken from, if anything.
    """
    found: list[tuple[Fraction | None, Remark]] = []
    for track in file.tracks:
        if track is lead or track is harmony:
            continue
        name = track.name or f"track {track.number + 1}"
        if _is_bass(track):
            why = "a chart has no bass part" + ("; it has told the roots of the chords" if track is bass else "")
        elif _together(track) > 1.5:
            why = f"the chords are from {chords_from}" if chords_from else "it strikes too few notes at once for chords"
        else:
            why = f"the melody is {lead.name or f'track {lead.number + 1}'}"
        found.append((None, Remark("a track that is left out", f"{name}, {len(track.notes)} notes: {why}")))
    if file.drums:
        found.append((None, Remark("drums are left out", f"{file.drums} notes")))
    return found


def _changes(file: MidiFile, metre: Metre) -> list[tuple[Fraction | None, Remark]]:
    """Changes of tempo, key and metre within the tune."""
    found: list[tuple[Fraction | None, Remark]] = []
    tempi = [tempo for _, tempo in file.tempi]
    if len(tempi) > 8:
        text = f"{min(tempi):.0f} to {max(tempi):.0f}, in {len(tempi)} steps"
        found.append((None, Remark("the tempo changes", text)))
    else:
        found += [(beat, Remark("the tempo changes", f"{tempo:g}")) for beat, tempo in file.tempi[1:]]
    found += [(beat, Remark("the key changes", write_key(fifths, minor))) for beat, fifths, minor in file.keys[1:]]
    return found


# The chart


def _chart(file: MidiFile, tune: TuneInFile, name: str) -> Imported:
    zero = _first_downbeat(tune)
    notes = [replace(note, beat=note.beat - zero) for note in tune.line.notes]
    chords = [(beat - zero, chord) for beat, chord in tune.chords]
    key = _key(file, notes, chords)
    remarks: dict[int, list[Remark]] = {}
    whole = []
    for beat, remark in tune.remarks:
        if beat is None:
            whole.append(remark)
        else:
            remarks.setdefault(max(0, floor((beat - zero) / tune.metre.bar) + 1), []).append(remark)
    bars = in_bars(
        spelled(notes, chords, key),
        chords,
        tune.metre,
        headings=[Heading(heading.beat - zero, heading.name) for heading in tune.headings],
        remarks=remarks,
        lengths=_lengths(file, zero, notes) or None,
    )
    feel = "swing" if tune.line.swung else None
    title = file.title or Path(name).stem
    sheet = LeadSheet(title, None, bars, tune.metre, key[0], key[1], round(tune.tempo, 2), feel, remarks=tuple(whole))
    imported = as_chart(sheet, name)
    return replace(imported, assumed=tuple(_assumed(file, tune, imported.chart, bool(chords))))


def _assumed(file: MidiFile, tune: TuneInFile, chart: Chart, chords: bool) -> Iterator[Remark]:
    """What the file doesn't say of itself, how it was settled, and why."""
    if tune.line.timed:
        says = f"{file.tempi[0][1]:g}" if file.has_tempo else "none"
        yield Remark(
            "tempo", f"{chart.tempo:g}, found in the notes: they don't keep to the file's beats (it says {says})"
        )
    elif not file.has_tempo:
        yield Remark("tempo", f"{chart.tempo:g}, which a MIDI file means that says none")
    if not file.metres:
        yield Remark("metre", f"{chart.metre}, which a MIDI file means that says none")
    key = write_key(chart.fifths, chart.minor)
    if not file.keys:
        yield Remark("key", f"{key}, found in the notes{' and the chords' if chords else ''}: the file says none")
    elif chart.minor and not file.keys[0][2]:
        yield Remark("key", f"{key}: the file says {write_key(chart.fifths, False)}, and the chords sound minor")
    if tune.line.played:
        swung = ", and swung quavers as even ones" if tune.line.swung else ""
        yield Remark("rhythm", f"notes that lie off the beat were written where they were meant{swung}")


def _check_length(lead: Track, metre: Metre) -> None:
    """Refuse what would make more bars than a tune has. Raises ChartError."""
    first, last = lead.notes[0].beat, max(note.beat + note.length for note in lead.notes)
    if (last - first) / metre.bar > MOST_BARS:
        raise ChartError(f"has more than {MOST_BARS} bars", mend="export the tune alone, once through")


def _check_speed(line: Sequence[MidiNote]) -> None:
    """Refuse what nobody can have meant: the file's clock is wrong. Raises ChartError."""
    took = line[-1].key.on - line[0].key.on if line else 0.0
    if len(line) >= FEW and len(line) - 1 > MOST_A_SECOND * took:
        what = f"its melody has more than {MOST_A_SECOND:g} notes a second"
        raise ChartError(what, mend="see to its tempo and its ticks a quarter, or name the melody with --melody")


def _lengths(file: MidiFile, zero: Fraction, notes: Sequence[TranscribedNote]) -> list[Fraction]:
    """Lengths of the bars of a file whose metre changes; empty when it doesn't."""
    changes = [(beat - zero, metre) for beat, metre in file.metres]
    if len({metre.bar for _, metre in changes}) < 2:
        return []
    end = max((note.beat + note.length for note in notes), default=Fraction(0))
    lengths: list[Fraction] = []
    at = Fraction(0)
    while at < end:
        metre = next((m for beat, m in reversed(changes) if beat <= at), changes[0][1])
        after = next((beat for beat, _ in changes if beat > at), None)
        length = metre.bar if after is None else min(metre.bar, after - at)
        lengths.append(length)
        at += length
    return lengths


def _key(
    file: MidiFile, notes: Sequence[TranscribedNote], chords: Sequence[tuple[Fraction, Chord]]
) -> tuple[int, bool]:
    ends = [*(beat for beat, _ in chords[1:]), chords[-1][0] + 4] if chords else []
    spans = [ChordSpan(beat, end, chord) for (beat, chord), end in zip(chords, ends, strict=True)]
    if file.keys:
        _, fifths, minor = file.keys[0]
        return fifths, minor or sounds_minor(fifths, spans)
    lengths = [(span.chord, float(span.end - span.start)) for span in spans]
    return find_key([(note.key.midi, float(note.length)) for note in notes], lengths)


def _first_downbeat(tune: TuneInFile) -> Fraction:
    """Where in the file the first full bar begins: what sounds before it is a pickup, less than a bar.

    Bar lines may be the file's own, or moved by a pickup with which the file begins.
    """
    bar, step = tune.metre.bar, Fraction(1, 2)
    if not tune.line.notes:
        return tune.chords[0][0] if tune.chords else Fraction(0)
    first = tune.line.notes[0].beat
    whole = sum(min(float(note.length), 4.0) for note in tune.line.notes)
    bars = float((tune.line.notes[-1].beat - first) / bar)
    headed = {heading.beat for heading in tune.headings}

    def worth(zero: Fraction) -> float:
        agreed = sum(1.0 for beat, _ in tune.chords if (beat - zero) % bar == 0)
        longs = sum(min(float(note.length), 4.0) for note in tune.line.notes if (note.beat - zero) % bar == 0)
        named = sum(1.0 for beat in headed if (beat - zero) % bar == 0) / max(1, len(headed)) + (zero in headed)
        begins = FIRST_CHORD if tune.chords and zero == tune.chords[0][0] else 0.0
        own = OWN_BARS if zero % bar == 0 else 0.0
        return own + begins + named + 2.0 * agreed / max(1.0, min(len(tune.chords), bars)) + longs / whole

    silent = first // bar * bar
    choices = {silent + k * step for k in range(max(1, int(bar / step)))} | {
        beat for beat in headed if first - bar < beat < first + bar
    }
    if first > silent:  # what begins within a bar of the file may be a pickup that the bar holds
        choices.add(silent + bar)
    return max(choices, key=lambda zero: (worth(zero), -zero))


OWN_BARS, FIRST_CHORD = 0.35, 0.4
"""Weights of the file's own bar lines, and of a first chord on the first downbeat, as shares of all chords and long
notes."""
