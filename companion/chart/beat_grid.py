"""Chords and melody of a section on a grid of beats, for a terminal: what sounds together stands in one column.

Every place of the bar at which something in the section begins or ends has a column, and so has every beat; the same
place is the same column in all bars. A ruler above says which is which: the number of a beat, ``+`` half way to the
next, ``.`` anywhere else. A note stands where it is struck and is drawn out with ``-`` as long as it is held over
further columns; where nothing is drawn there is a rest. Plain letters and signs only, so that every terminal can print
them.

Conventions: beats and lengths in quarter notes as Fractions, from the beginning of the bar.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from companion.chart.model import Section
from companion.music.meter import Metre

LEGEND = "numbers are beats, + is half way; a note is held as far as its line goes; C4 is middle C"
"""What a reader has to know."""
NARROWEST = 2
"""Characters of a column: a beat's number, and a space."""
SAME = "%"
"""A bar in which no chord begins: the one before goes on."""


@dataclass(frozen=True)
class _Mark:
    """Something that stands in a bar."""

    begins: Fraction
    ends: Fraction
    text: str
    goes_on: bool = False
    """Over the bar line."""


@dataclass(frozen=True)
class GridBar:
    """A bar, or what stands before the first one."""

    chords: str
    melody: str


class BeatGrid:
    """A section's bars on one grid.

    Parameters
    ----------
    section : Section
    metre : Metre
        Of the chart, for its beats.
    """

    def __init__(self, section: Section, metre: Metre):
        self._pulse = metre.pulse
        self._longest = max((*section.bars, metre.bar))
        starts = list(accumulate(section.bars, initial=Fraction(0)))[:-1]
        self._melody = [_melody(section, start, length) for start, length in zip(starts, section.bars, strict=True)]
        self._chords = [_chords(section, start, length) for start, length in zip(starts, section.bars, strict=True)]
        before = min((note.beat for note in section.melody), default=Fraction(0))
        self._before = _melody(section, -metre.bar, metre.bar) if -metre.bar <= before < 0 else []
        marks = [mark for bar in (*self._melody, *self._chords, self._before) for mark in bar]
        beats = [self._pulse * n for n in range(-(-self._longest // self._pulse))]
        places = {*beats, *(mark.begins for mark in marks), *(mark.ends for mark in marks)}
        self.places = sorted(place for place in places if place < self._longest)
        """Where each column begins."""
        self._widths = self._wide_enough()
        self._offsets = list(accumulate(self._widths, initial=0))

    @property
    def width(self) -> int:
        """Characters of a bar."""
        return self._offsets[-1]

    @property
    def ruler(self) -> str:
        """The beats of a bar."""
        row = self._blank()
        for column in range(len(self.places)):
            _put(row, self._offsets[column], self._label(column))
        return "".join(row)

    def bars(self) -> list[GridBar]:
        """Each bar, as wide as the grid."""
        return [
            GridBar(self._chord_row(chords), self._melody_row(melody))
            for chords, melody in zip(self._chords, self._melody, strict=True)
        ]

    def pickup(self) -> tuple[str, str]:
        """The beats and the melody before the first bar; both empty where there is none."""
        if not self._before:
            return "", ""
        first = self._offsets[self._column(min(mark.begins for mark in self._before))]
        beats, melody = self.ruler[first:].rstrip(), self._melody_row(self._before)[first:].rstrip()
        return beats.ljust(len(melody)), melody.ljust(len(beats))

    # Columns

    def _column(self, place: Fraction) -> int:
        return bisect_left(self.places, place)

    def _label(self, column: int) -> str:
        beat, into = divmod(self.places[column], self._pulse)
        return str(beat + 1) if not into else "+" if 2 * into == self._pulse else "."

    def _wide_enough(self) -> list[int]:
        """Characters of each column, so that nothing runs into what stands beside it."""
        widths = [max(NARROWEST, len(self._label(column)) + 1) for column in range(len(self.places))]
        for mark in (mark for bar in (*self._melody, self._before) for mark in bar):
            column = self._column(mark.begins)
            widths[column] = max(widths[column], len(mark.text) + 1)
        for bar in self._chords:
            for mark in bar:
                first, last = self._column(mark.begins), self._column(mark.ends)
                widths[last - 1] += max(0, len(mark.text) + 1 - sum(widths[first:last]))
        return widths

    # Rows

    def _blank(self) -> list[str]:
        return [" "] * self._offsets[-1]

    def _chord_row(self, chords: list[_Mark]) -> str:
        row = self._blank()
        for mark in chords:
            _put(row, self._offsets[self._column(mark.begins)], mark.text)
        return "".join(row)

    def _melody_row(self, melody: list[_Mark]) -> str:
        row = self._blank()
        for mark in melody:
            first, last = self._column(mark.begins), self._column(mark.ends)
            begins = self._offsets[first]
            held = self._offsets[last] - begins - (not mark.goes_on)
            if last == first + 1 and mark.text and not mark.goes_on:
                held = len(mark.text)
            _put(row, begins, mark.text.ljust(held, "-"))
        return "".join(row)


def _put(row: list[str], at: int, text: str) -> None:
    row[at : at + len(text)] = text


def _melody(section: Section, start: Fraction, length: Fraction) -> list[_Mark]:
    """The notes of a bar; one that goes on from the bar before has no name again."""
    marks = []
    for note in section.melody:
        end = note.beat + note.length
        if end > start and note.beat < start + length:
            name = str(note.pitch) if note.beat >= start else ""
            begins, ends = max(note.beat - start, Fraction(0)), min(end - start, length)
            marks.append(_Mark(begins, ends, name, goes_on=end > start + length))
    return marks


def _chords(section: Section, start: Fraction, length: Fraction) -> list[_Mark]:
    """The chords that begin in a bar, each up to the next; where none does, the sign for it."""
    begun = [span for span in section.chords if start <= span.start < start + length]
    if not begun:
        return [_Mark(Fraction(0), length, SAME)]
    ends = [*(span.start - start for span in begun[1:]), length]
    return [_Mark(span.start - start, end, span.chord.symbol) for span, end in zip(begun, ends, strict=True)]


def systems(grid: BeatGrid, width: int, numbers: list[int]) -> Iterator[str]:
    """The lines of a section, four bars a line where they fit, or two, or one.

    Parameters
    ----------
    grid : BeatGrid
    width : int
        Columns of the terminal.
    numbers : list of int
        Of each bar, as the form counts them where the section is first played; empty where it never is.
    """
    bars, (beats_before, before) = grid.bars(), grid.pickup()
    margin = max(len(before), *(len(str(number)) for number in numbers or [0]), 3)
    apart = margin + 1 + grid.width + 3 > width and len(before) > 4
    if apart:  # the pickup has a line of its own, and the bars the whole width
        yield f"pickup: {beats_before}"
        yield f"        {before}"
        beats_before = before = ""
        margin = max(len(str(number)) for number in numbers or [0])
    count = next((n for n in (4, 2) if margin + 2 + n * (grid.width + 2) <= width), 1)
    yield f"{beats_before:>{margin}} |" + "".join(f" {grid.ruler}|" for _ in bars[:count])
    for first in range(0, len(bars), count):
        line = bars[first : first + count]
        number = str(numbers[first]) if numbers else ""
        yield f"{number:>{margin}} |" + "".join(f" {bar.chords}|" for bar in line)
        yield f"{before if not first else '':>{margin}} |" + "".join(f" {bar.melody}|" for bar in line)
