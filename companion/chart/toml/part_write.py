"""One part of a written arrangement as text: bars of ABC notes, four a line, bar lines under bar lines.

Conventions: beats and lengths in quarter notes as Fractions, from the first downbeat of the place that is written. What
sounds at once is a chord in brackets (ABC 2.1, section 4.17); what overlaps otherwise, or is the other hand's, stands
after an ``&`` (section 7.4, voice overlay). ``X`` is a bar that isn't written and stays free; where a note is tied into
it, invisible rests (``x``) follow, or a space (``y``) where it lasts to the end of the bar. Marks are those of
:mod:`companion.chart.toml.marks`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from companion.chart.abc.write import AbcChord, SoundingSpan, write_line
from companion.chart.model import WrittenNote
from companion.chart.toml.marks import marks_of, usual_voices, written_length
from companion.music.meter import Metre

FREE_BAR = "X"


@dataclass(frozen=True)
class PartText:
    """A part's bars as text, before they are laid out."""

    pickup: str
    bars: tuple[str, ...]
    after: str
    """What goes after the last bar line: the rest of notes tied over it."""


def write_part(
    notes: Sequence[WrittenNote],
    part: str,
    bars: Sequence[Fraction],
    written: Collection[int],
    *,
    metre: Metre,
    unit: Fraction,
    fifths: int,
    hold: Fraction,
) -> PartText:
    """Write the notes that begin in one place of the form.

    Parameters
    ----------
    notes : sequence of WrittenNote
        In order; those of a pickup have negative beats.
    part : str
    bars : sequence of Fraction
        Length of each bar.
    written : collection of int
        Numbers of the bars that are written, 1 = the first.
    metre : Metre
    unit : Fraction
        Length of a plain note.
    fifths : int
        Key signature.
    hold : Fraction
        Share of its written length that a note usually sounds.
    """
    beat = metre.pulse if metre.compound else Fraction(1)
    struck = _struck(notes, part, hold)
    taken = [set[str](), *_ambiguous(struck, bars)]
    lines = [write_line(line, bars, unit, fifths, beat, taken) for line in _lines(struck)]
    cells = []
    for number, length in enumerate(bars, 1):
        text = _overlaid(inside[number - 1] for _, inside, _ in lines)
        if number in written:
            cells.append(text or f"z{_units(length / unit)}")
        else:
            cells.append(_left_free(text) or FREE_BAR)
    return PartText(_overlaid(line[0] for line in lines), tuple(cells), _overlaid(line[2] for line in lines))


def _left_free(text: str) -> str:
    """A bar in which nothing but the end of a tied note is written."""
    first, sign, others = text.replace("z", "x").partition(" & ")
    return f"{first}{'' if 'x' in first or not first else ' y'}{sign}{others}"


def _units(length: Fraction) -> str:
    return "" if length == 1 else str(length)


def _overlaid(texts: Iterable[str]) -> str:
    """The lines of one bar; rests of all but the first are left invisible."""
    first, *others = [text for text in texts if text] or [""]
    return " & ".join([first, *(text.replace("z", "x") for text in others)])


def _struck(notes: Sequence[WrittenNote], part: str, hold: Fraction) -> list[tuple[str, SoundingSpan]]:
    """Notes of one hand that begin and are written to end together, as what is struck; with their hand."""
    voices = usual_voices(notes, part)
    onsets = sorted({note.beat for note in notes})
    following = dict(pairwise(onsets))
    rows = []
    for note, voice in zip(notes, voices, strict=True):
        room = following[note.beat] - note.beat if note.beat in following else None
        value = written_length(note, hold, room)
        rows.append((note, value, marks_of(note, value, part, hold, voice)))
    rows.sort(key=lambda row: (row[0].beat, row[0].hand != "right", -row[1], row[0].pitch.midi))
    found = []
    for (at, hand, value), group in groupby(rows, key=lambda row: (row[0].beat, row[0].hand, row[1])):
        chord = list(group)
        shared = [mark for mark in chord[0][2] if all(mark in marks for _, _, marks in chord)]
        each = tuple("".join(mark for mark in marks if mark not in shared) for _, _, marks in chord)
        struck = AbcChord(tuple(note.pitch for note, _, _ in chord), "".join(shared), each)
        found.append((hand, SoundingSpan(at, at + value, struck)))
    return found


def _ambiguous(struck: Sequence[tuple[str, SoundingSpan]], bars: Sequence[Fraction]) -> list[set[str]]:
    """For each bar and what comes after, letters on which two pitches of one octave sound as it begins.

    One may be tied and the other not, so that each needs its accidental.
    """
    found = []
    for start in accumulate(bars, initial=Fraction(0)):
        sounding = {pitch for _, one in struck if one.start <= start < one.end for pitch in one.struck.pitches}
        places = [(pitch.step, pitch.octave) for pitch in sounding]
        found.append({step for step, octave in places if places.count((step, octave)) > 1})
    return found


def _lines(struck: Sequence[tuple[str, SoundingSpan]]) -> list[list[SoundingSpan]]:
    """Lines of one hand each, in which nothing overlaps."""
    lines: list[tuple[str, list[SoundingSpan]]] = []
    for hand, stretch in struck:
        free = (line for whose, line in lines if whose == hand and line[-1].end <= stretch.start)
        line = next(free, None)
        if line is None:
            lines.append((hand, [stretch]))
        else:
            line.append(stretch)
    return [line for _, line in lines]


def laid_out(text: PartText, bars_a_line: int) -> list[str]:
    """Lines of text: bar lines under bar lines."""
    columns = min(bars_a_line, len(text.bars))
    widths = [max(len(text.bars[k]) for k in range(c, len(text.bars), bars_a_line)) for c in range(columns)]
    margin = len(text.pickup) + 1 if text.pickup else 0
    lines = []
    for first in range(0, len(text.bars), bars_a_line):
        cells = zip(text.bars[first : first + bars_a_line], widths, strict=False)
        lines.append(" " * margin + "|" + "".join(f" {bar:<{width}} |" for bar, width in cells))
    if text.pickup:
        lines[0] = f"{text.pickup} {lines[0][margin:]}"
    if text.after:
        lines[-1] += f" {text.after}"
    return lines
