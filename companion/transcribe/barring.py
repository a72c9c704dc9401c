"""Notes and chords in written beats, put into bars as a sheet of music has them.

Conventions: beats in quarters from the first downbeat, as Fractions; what lies before it is a pickup.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from companion.chart.model import MOST_BARS, MelodyNote
from companion.chart.remarks import Remark
from companion.chart.written import BarMarks, NoteHead, WrittenBar
from companion.errors import ChartError
from companion.music.chords import NO_CHORD, Chord
from companion.music.meter import Metre

PHRASE = 4
"""Bars: a tune that lacks one bar of a multiple of these has it silent (common practice)."""


@dataclass(frozen=True)
class Heading:
    """The name of a section, where it begins."""

    beat: Fraction
    name: str


def in_bars(
    melody: Sequence[MelodyNote],
    chords: Sequence[tuple[Fraction, Chord]],
    metre: Metre,
    *,
    bars: int | None = None,
    headings: Sequence[Heading] = (),
    remarks: Mapping[int, Sequence[Remark]] | None = None,
    lengths: Sequence[Fraction] | None = None,
) -> tuple[WrittenBar, ...]:
    """The bars of a sheet.

    Parameters
    ----------
    melody : sequence of MelodyNote
        In order, one at a time.
    chords : sequence of (beat, Chord)
        Where each chord begins, in order; before the first there is none.
    metre : Metre
    bars : int, optional
        How many; as many as the notes need unless given, and a silent one that fills up the phrase.
    headings : sequence of Heading
    remarks : mapping of int to sequence of Remark
        By bar, 1 = the first full one, 0 = the pickup.
    lengths : sequence of Fraction, optional
        Lengths of the bars in quarters where not all have the metre's.

    Returns
    -------
    tuple of WrittenBar
        The pickup first, where there is one: a bar as long as its notes ask for, in whole beats or halves of one.

    Raises
    ------
    ChartError
        There are more bars than a chart may have.
    """
    start = _start(melody, metre)
    whole = floor(-start / metre.bar) if start < 0 else 0
    shift = whole * metre.bar
    melody = [replace(note, beat=note.beat + shift) for note in melody]
    chords = [(max(beat + shift, Fraction(0)), chord) for beat, chord in chords]
    start += shift
    starts = _starts(melody, chords, metre, bars and bars + whole, lengths)
    if chords and chords[0][0] > 0:
        chords = [(Fraction(0), NO_CHORD), *chords]
    named = {heading.beat + shift: heading.name for heading in headings}
    said = {number + whole: tuple(found) for number, found in (remarks or {}).items()}
    found = [_pickup(melody, start, metre, said.get(0, ()))] if start < 0 else []
    note_beats, chord_beats = [note.beat for note in melody], [beat for beat, _ in chords]
    for number, (begin, length) in enumerate(starts, 1):
        found.append(
            WrittenBar(
                number=str(number),
                length=length,
                nominal=length,
                notes=_note_heads(melody[_from(note_beats, begin, begin + length)], begin),
                chords=tuple(
                    (beat - begin, chord) for beat, chord in chords[_from(chord_beats, begin, begin + length)]
                ),
                marks=BarMarks(heading=named.get(begin)),
                remarks=said.get(number, ()),
            )
        )
    return tuple(found)


def _start(melody: Sequence[MelodyNote], metre: Metre) -> Fraction:
    """Where the pickup begins; 0 without one."""
    first = min((note.beat for note in melody), default=Fraction(0))
    step = metre.pulse / 2 if not metre.compound else metre.pulse / 3
    return min(Fraction(0), floor(first / step) * step)


def _starts(
    melody: Sequence[MelodyNote],
    chords: Sequence[tuple[Fraction, Chord]],
    metre: Metre,
    bars: int | None,
    lengths: Sequence[Fraction] | None,
) -> list[tuple[Fraction, Fraction]]:
    """Start and length of each bar."""
    end = max([note.beat + note.length for note in melody] + [beat + 1 for beat, _ in chords], default=metre.bar)
    found: list[tuple[Fraction, Fraction]] = []
    at = Fraction(0)
    for length in lengths or ():
        found.append((at, length))
        at += length
    needed = bars if bars is not None else len(found) + max(0, ceil((end - at) / metre.bar))
    if bars is None and needed % PHRASE == PHRASE - 1:
        needed += 1
    if needed > MOST_BARS:
        raise ChartError(f"has more than {MOST_BARS} bars", mend="look for a chord or a note long after the last")
    for _ in range(max(1, needed) - len(found)):
        found.append((at, metre.bar))
        at += metre.bar
    return found


def _pickup(melody: Sequence[MelodyNote], start: Fraction, metre: Metre, remarks: tuple[Remark, ...]) -> WrittenBar:
    before = melody[_from([note.beat for note in melody], start, Fraction(0))]
    return WrittenBar("0", -start, metre.bar, _note_heads(before, start), remarks=remarks)


def _from(beats: Sequence[Fraction], begin: Fraction, end: Fraction) -> slice:
    """Which of what is in order lie from one beat to before another."""
    return slice(bisect_left(beats, begin), bisect_left(beats, end))


def _note_heads(melody: Sequence[MelodyNote], begin: Fraction) -> tuple[NoteHead, ...]:
    return tuple(NoteHead(note.beat - begin, note.length, note.pitch) for note in melody)
