"""Bars as they stand on the page, before repeats and leaps are played: what every reader of staff notation fills in.

Conventions: beats and lengths in quarter notes from the bar's start, as Fractions. Marks sit on the bar they belong
to; whether a bar is played, and when, is for :mod:`companion.chart.repeats`; how played bars become the sections of a
chart is for :mod:`companion.chart.sections`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby

from companion.chart.remarks import Remark
from companion.music.chords import Chord
from companion.music.pitch import Pitch


@dataclass(frozen=True)
class NoteHead:
    """A note head of the melody; ties are not joined yet."""

    beat: Fraction
    length: Fraction
    pitch: Pitch
    tied_back: bool = False
    """Goes on from a note before it."""
    tied_on: bool = False
    """Goes on into the next one."""


@dataclass(frozen=True)
class BarMarks:
    """Everything at a bar that steers the order of playing or begins a section."""

    repeat_start: bool = False
    repeat_end: int = 0
    """How often the stretch is played in all when this bar ends a repeat; 0: it doesn't."""
    repeat_after_jump: bool = False
    """The repeat is also made after a D.C. or D.S. (usually it isn't: common practice)."""
    ending: tuple[int, ...] = ()
    """A bracket begins here: the times through in which it is played."""
    ending_stops: bool = False
    """The bracket ends with this bar."""
    segno: bool = False
    coda: bool = False
    """The coda begins with this bar."""
    to_coda: bool = False
    """After this bar one leaps to the coda (once a D.C. or D.S. has been taken)."""
    fine: bool = False
    jump: str = ""
    """After this bar one leaps back: 'capo' (D.C.) or 'segno' (D.S.)."""
    until: str = ""
    """What the leap back names as its end: 'fine', 'coda', or '' when it names none."""
    heading: str | None = None
    """A rehearsal mark, or a word such as 'Refrain', over this bar."""
    heading_beat: Fraction = Fraction(0)
    """Where in the bar it stands; after the first beat it heads the next bar, and what follows it here is a pickup."""
    double_bar: bool = False
    """A double bar line ends this bar."""


@dataclass(frozen=True)
class WrittenBar:
    """One bar of the page."""

    number: str
    """As the file numbers it."""
    length: Fraction
    """What it really holds, in quarters."""
    nominal: Fraction
    """What the time signature in force asks for, in quarters."""
    notes: tuple[NoteHead, ...] = ()
    chords: tuple[tuple[Fraction, Chord], ...] = ()
    """Chord symbols and their beats."""
    marks: BarMarks = field(default_factory=BarMarks)
    remarks: tuple[Remark, ...] = ()
    """What stands in it and has no place in a chart."""
    uncounted: bool = False
    """The file says that it isn't counted among the bars, as pickups aren't."""
    pickup: bool = False
    """It is a pickup, though it is as long as its metre asks for."""

    @property
    def short(self) -> bool:
        """It holds less than its time signature asks for, as pickups do."""
        return self.length < self.nominal


def one_a_beat(
    chords: Iterable[tuple[Fraction, Chord]], length: Fraction, notes: bool
) -> tuple[list[tuple[Fraction, Chord]], list[str]]:
    """Chord symbols at their beats, and the ones that give way: of several over one note the last is next to it.

    In a bar without notes they share the bar evenly.
    """
    found, given_way = [], []
    for beat, same in groupby(sorted(chords, key=lambda placed: placed[0]), key=lambda placed: placed[0]):
        symbols = [chord for _, chord in same]
        if notes:
            given_way += [symbol.symbol for symbol in symbols[:-1]]
            found.append((beat, symbols[-1]))
        else:
            found += [(beat + k * (length - beat) / len(symbols), symbol) for k, symbol in enumerate(symbols)]
    return found, given_way
