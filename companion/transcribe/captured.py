"""A chart from what was played to a click: a melody, and in a second pass its chords.

Conventions: seconds on one clock for each pass; beats in quarters from the first downbeat of the pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from companion.chart.imported import Imported
from companion.chart.keys import sounds_minor
from companion.chart.lead_sheet import LeadSheet, as_chart
from companion.chart.model import UNTITLED, ChordSpan, MelodyNote
from companion.chart.remarks import Remark
from companion.errors import ChartError
from companion.music.chord_names import SoundedChord, name_chords, spelled_in_key, with_bass
from companion.music.chords import Chord
from companion.music.kinds import Degree
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.music.tonality import find_key, spell
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.barring import Heading, in_bars
from companion.transcribe.lengths import TranscribedNote, notes_with_lengths
from companion.transcribe.playing import together, top_line, without_repeats
from companion.transcribe.quantise import quantise

DOUBTFUL = 2.6
"""Standard deviations from its place from which a note is marked as doubtful."""
MOST_REMARKS = 40
ROLLED = 0.3
"""Seconds within which the notes of a rolled chord are struck."""


@dataclass(frozen=True)
class Pass:
    """What was played in one pass."""

    keys: tuple[KeyPress, ...]
    beats: BeatMap


@dataclass(frozen=True)
class KnownTune:
    """What is known of the tune beforehand; None is found out."""

    title: str = UNTITLED
    metre: Metre = Metre()
    key: tuple[int, bool] | None = None
    feel: str | None = None
    tempo: float | None = None
    bars: int | None = None
    steady: bool = False
    """True when the notes are a sequencer's: exactly on their beats."""


def captured_chart(
    melody: Pass,
    chords: Pass | Sequence[tuple[Fraction, Chord]] | None = None,
    wanted: KnownTune | None = None,
    *,
    headings: Sequence[Heading] = (),
    source: str = "",
) -> Imported:
    """The chart of what was played.

    Parameters
    ----------
    melody : Pass
    chords : Pass or sequence of (beat, Chord), optional
        Played in another pass over the same bars, or given as symbols.
    wanted : KnownTune, optional
    headings : sequence of Heading
        Names of sections, where they are known.
    source : str
        The file it was recorded in.

    Returns
    -------
    Imported
        The chart, and a remark on each note that is doubtful or was left out as an ornament.

    Raises
    ------
    ChartError
        Nothing was played.
    """
    wanted = wanted or KnownTune()
    timing = preferences(CapturePreferences).timing
    line = top_line(melody.keys, again=timing.again_ms / 1000, spread=timing.spread_ms / 1000)
    if not line and not chords:
        raise ChartError("no note was played", file=source or None, mend="play the melody after the count-in")
    reading = quantise(line, melody.beats, wanted.metre, feel=wanted.feel, steady=wanted.steady)
    notes = notes_with_lengths(reading, wanted.metre)
    feel = wanted.feel or ("swing" if reading.swung else "straight")
    spans = struck_chords(chords, wanted.metre, notes, wanted.key) if isinstance(chords, Pass) else list(chords or ())
    if notes and spans and wanted.bars is None:  # a last chord that anticipates the next time through
        end = ceil((notes[-1].beat + notes[-1].length) / wanted.metre.bar) * wanted.metre.bar
        spans = spans[:-1] if spans[-1][0] == end else spans
    key = wanted.key or _key(notes, spans)
    if isinstance(chords, Pass):
        spans = [(beat, spelled_in_key(chord, *key)) for beat, chord in spans]
    pitched = spelled(notes, spans, key)
    ornaments = [note.key for note in reading.notes if note.beat is None]
    remarks = _remarks(notes, ornaments, reading.beats, wanted.metre)
    bars = in_bars(pitched, spans, wanted.metre, bars=wanted.bars, headings=headings, remarks=remarks)
    tempo = wanted.tempo or round(melody.beats.tempo(0.0))
    sheet = LeadSheet(wanted.title, None, bars, wanted.metre, key[0], key[1], tempo, feel)
    return as_chart(sheet, source)


def transcribed_line(
    keys: Sequence[KeyPress], beats: BeatMap, metre: Metre, *, feel: str | None = None, steady: bool = False
) -> tuple[list[TranscribedNote], bool]:
    """Notes as they are to be written, and whether they swing; arguments as of :func:`quantise`."""
    reading = quantise(keys, beats, metre, feel=feel, steady=steady)
    return notes_with_lengths(reading, metre), reading.swung


def _key(notes: Sequence[TranscribedNote], spans: Sequence[tuple[Fraction, Chord]]) -> tuple[int, bool]:
    lengths = _lengths(spans)
    fifths, minor = find_key(
        [(n.key.midi, float(n.length)) for n in notes], [(s.chord, float(s.end - s.start)) for s in lengths]
    )
    return fifths, minor or sounds_minor(fifths, lengths)


def _lengths(spans: Sequence[tuple[Fraction, Chord]]) -> list[ChordSpan]:
    ends = [*(beat for beat, _ in spans[1:]), spans[-1][0] + 4] if spans else []
    return [ChordSpan(beat, end, chord) for (beat, chord), end in zip(spans, ends, strict=True)]


def spelled(
    notes: Sequence[TranscribedNote], spans: Sequence[tuple[Fraction, Chord]], key: tuple[int, bool]
) -> list[MelodyNote]:
    """Notes with their pitches spelled by chord and key.

    Parameters
    ----------
    notes : sequence of TranscribedNote
    spans : sequence of (Fraction, Chord)
        Chords with the beats on which they begin, in order.
    key : (int, bool)
        Fifths of the signature, and whether it is minor.
    """
    under = [next((chord for beat, chord in reversed(spans) if beat <= note.beat), None) for note in notes]
    pitches = spell([note.key.midi for note in notes], under, *key)
    return [MelodyNote(note.beat, note.length, pitch) for note, pitch in zip(notes, pitches, strict=True)]


def _remarks(
    notes: Sequence[TranscribedNote], ornaments: Sequence[KeyPress], beats: BeatMap, metre: Metre
) -> dict[int, list[Remark]]:
    """What the player should look at, by bar."""
    found: dict[int, list[Remark]] = {}
    doubtful = sorted((note for note in notes if note.doubt > DOUBTFUL), key=lambda note: -note.doubt)
    for note in sorted(doubtful[:MOST_REMARKS], key=lambda note: note.beat):
        bar = floor(note.beat / metre.bar) + 1
        place = float(note.beat - (bar - 1) * metre.bar) / float(metre.pulse) + 1
        what = f"look at the note on beat {place:.4g}: it was played between two places"
        found.setdefault(max(bar, 0), []).append(Remark(what))
    for key in ornaments:
        bar = floor(beats.beat(key.on) / float(metre.bar)) + 1
        found.setdefault(max(bar, 0), []).append(Remark("a grace note is left out"))
    return found


# Chords


def struck_chords(
    played: Pass, metre: Metre, melody: Sequence[TranscribedNote] = (), key: tuple[int, bool] | None = None
) -> list[tuple[Fraction, Chord]]:
    """Chord symbols from chords that were played, each where it begins.

    Chords struck off the beat belong to the beat that they anticipate; one that comes late in an empty bar rules it
    from its beginning; the same chord struck again is one. A note that comes late to a chord that is still held (the
    late fourth voice) is a part of it.

    Parameters
    ----------
    played : Pass
    metre : Metre
    melody : sequence of TranscribedNote
        To find the key by, when it isn't given.
    key : (fifths, minor), optional
    """
    groups = _gathered(played)
    if not groups:
        return []
    strokes = [KeyPress(on, off, min(notes)) for on, off, notes in groups]
    reading = quantise(strokes, played.beats, metre, graces=False)
    placed: dict[Fraction, set[int]] = {}
    for (_, _, notes), note in zip(groups, reading.notes, strict=True):
        beat = note.beat if note.beat is not None else Fraction(round(played.beats.beat(note.key.on)))
        placed.setdefault(_ruled_from(beat, metre), set()).update(notes)
    placed = _widened(placed, metre)
    beats = sorted(placed)
    struck = [with_bass(sorted(placed[beat])) for beat in beats]
    struck = [one for one in struck if one.notes] or [SoundedChord((60,))]
    if key is None and melody:
        key = find_key([(n.key.midi, float(n.length)) for n in melody])
        key = None if len(melody) < 12 else key
    found: list[tuple[Fraction, Chord]] = []
    for beat, chord in zip(beats, name_chords(struck, key), strict=True):
        if not found or not _same_but_for_ninth(found[-1][1], chord):
            found.append((beat, chord))
    return found


def _same_but_for_ninth(before: Chord, after: Chord) -> bool:
    """Whether a chord is the one before struck again, with or without its ninth."""

    def told(chord: Chord) -> tuple[object, ...]:
        return chord.root, chord.bass, {tone for tone in chord.tones if tone != Degree(9)}

    return told(before) == told(after)


def _gathered(played: Pass) -> list[tuple[float, float, set[int]]]:
    """Chords in order: when they are struck and let go, and their notes.

    A single note that comes late to a held chord is drawn to it.
    """
    timing = preferences(CapturePreferences).timing
    keys = without_repeats(played.keys, timing.again_ms / 1000)
    found: list[tuple[float, set[int], float]] = []
    for group in together(keys, timing.spread_ms / 1000):
        on, notes = min(key.on for key in group), {key.midi for key in group}
        off = max(key.off for key in group)
        if found:
            last_on, last_notes, last_off = found[-1]
            rolled = on - last_on < ROLLED and last_off > on
            joins = (
                len(group) == 1 and last_off > on + 0.05 and not notes & last_notes and group[0].midi > min(last_notes)
            )
            if rolled or (joins and len(last_notes) >= 3):
                found[-1] = (last_on, last_notes | notes, max(last_off, off))
                continue
        found.append((on, notes, off))
    return [(on, off, notes) for on, notes, off in found]


def _ruled_from(beat: Fraction, metre: Metre) -> Fraction:
    """The beat from which a chord struck at a beat rules: its own, or the next one that it anticipates."""
    return max(Fraction(0), ceil(beat / metre.pulse) * metre.pulse)


def _widened(placed: dict[Fraction, set[int]], metre: Metre) -> dict[Fraction, set[int]]:
    """The chords moved to the beginning of the half bar or bar that they rule: nothing else was struck in it before."""
    pulses = round(metre.bar / metre.pulse)
    half = metre.bar / 2 if pulses % 2 == 0 else metre.bar
    found: dict[Fraction, set[int]] = {}
    for beat in sorted(placed):
        goal = beat
        for step in (half, metre.bar):
            begin = floor(beat / step) * step
            if not any(begin <= other < beat for other in (*placed, *found)):
                goal = begin
        if goal in found:
            goal = beat
        found[goal] = placed[beat] | found.get(goal, set())
    return found


def shifted(played: Pass, seconds: float) -> Pass:
    """The same pass on a clock that is so many seconds ahead."""
    keys = tuple(replace(key, on=key.on + seconds, off=key.off + seconds) for key in played.keys)
    return Pass(keys, BeatMap(tuple((beat, moment + seconds) for beat, moment in played.beats.points)))
