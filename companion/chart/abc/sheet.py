"""The voices of an ABC tune put together as the bars of one lead sheet, and the order in which its parts are played.

Source: The ABC Music Standard 2.1 (December 2011), sections 3.1.9 parts, 4.6 transposition, 7 multiple voices.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from companion.chart.abc.fields import expand_parts
from companion.chart.abc.voice import VoiceReader
from companion.chart.model import MOST_BARS
from companion.chart.remarks import Remark
from companion.chart.repeats import playing_order
from companion.chart.written import WrittenBar
from companion.errors import ChartError
from companion.music.chords import transpose
from companion.music.pitch import name_at_fifth

_MELODIC = re.compile(r"(?i)\b(melody|lead|tune|vocals?|voice|sing(er|ing)?|head|soprano)\b")


def melody_voice(voices: Sequence[VoiceReader], wanted: str | None) -> VoiceReader:
    """The voice with the melody: the one wanted, the one that is called so, or the first that isn't a bass.

    Raises
    ------
    ChartError
        When there is no such voice, or nothing to play at all.
    """
    if wanted is not None:
        for voice in voices:
            if voice.bars and wanted.lower() in (voice.name.lower(), voice.title.lower()):
                return voice
        there = ", ".join(f"{v.name} {v.title!r}" if v.title else v.name for v in voices)
        raise ChartError(f"has no voice {wanted!r}", mend=f"there are {there}")
    singing = [voice for voice in voices if any(bar.notes for bar in voice.bars)]
    if not singing:
        with_chords = [voice for voice in voices if any(bar.chords for bar in voice.bars)]
        if with_chords:
            return with_chords[0]
        raise ChartError("holds neither melody nor chords", mend="give a tune in ABC notation")
    named = [voice for voice in singing if _MELODIC.search(f"{voice.name} {voice.title}")]
    high = [voice for voice in singing if voice.clef != "bass"]
    return (named or high or singing)[0]


def bars_with_others(voice: VoiceReader, others: Sequence[VoiceReader]) -> list[WrittenBar]:
    """The melody's bars, with another voice's chord symbols where it has none; the others are in the remarks."""
    bars = list(voice.bars)
    if not any(bar.chords for bar in bars):
        symbols = max(others, key=lambda v: sum(len(bar.chords) for bar in v.bars), default=None)
        if symbols is not None:
            bars = [
                replace(bar, chords=symbols.bars[k].chords) if k < len(symbols.bars) else bar
                for k, bar in enumerate(bars)
            ]
    for other in others:
        name = f"voice {other.name}" + (f" ({other.title})" if other.title else "")
        for k, (bar, raw) in enumerate(zip(other.bars, other.raw, strict=True)):
            if bar.notes:
                at = min(k, len(bars) - 1)
                bars[at] = replace(bars[at], remarks=(*bars[at].remarks, Remark(name, raw)))
    return bars


def part_order(order: str, parts: Sequence[tuple[str, int]], bars: Sequence[WrittenBar]) -> tuple[int, ...] | None:
    """The order of playing that a P: field in the header gives; None where it gives none, or names no part there is.

    Parameters
    ----------
    order : str
        The field's text.
    parts : sequence of (str, int)
        Each part that the body names, and the bar with which it begins.
    bars : sequence of WrittenBar
    """
    if not order:
        return None
    stops = [*[start for _, start in parts], len(bars)][1:]
    known: dict[str, range] = {}
    for (name, start), stop in zip(parts, stops, strict=True):
        known.setdefault(name, range(start, stop))
    played = list(range(parts[0][1])) if parts else []
    named = [name for name in expand_parts(order) if name in known]
    within = {name: playing_order([bars[k].marks for k in known[name]]) for name in dict.fromkeys(named)}
    if len(played) + sum(len(within[name]) for name in named) > MOST_BARS:
        raise ChartError(f"plays more than {MOST_BARS} bars", where="its P: field", mend="name its parts less often")
    for name in named:
        played += [known[name][k] for k in within[name]]
    return tuple(played) if named and played else None


def bars_at_pitch(bars: list[WrittenBar], semitones: int, fifths: int | None) -> tuple[list[WrittenBar], int | None]:
    """Bars as they sound, so many semitones higher."""
    letters = round(semitones * 7 / 12) % 7 + 1
    moved = []
    for bar in bars:
        notes = [
            replace(note, pitch=note.pitch.name.above(letters, semitones % 12).at(note.pitch.midi + semitones))
            for note in bar.notes
        ]
        chords = [(beat, transpose(chord, letters, semitones % 12)) for beat, chord in bar.chords]
        moved.append(replace(bar, notes=tuple(notes), chords=tuple(chords)))
    if fifths is not None:
        tonic = name_at_fifth(fifths).above(letters, semitones % 12)
        fifths = tonic.fifth - 12 if tonic.fifth > 7 else tonic.fifth + 12 if tonic.fifth < -7 else tonic.fifth
    return moved, fifths
