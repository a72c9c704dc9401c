"""A sheet: all that stands on paper, bar by bar, before it is put into any file format.

Conventions: beats in quarters as Fractions; a bar's own content counts from the bar's start. Staff 1 is the right
hand's, 2 the left hand's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from companion.chart.written import BarMarks
from companion.engrave.values import Head
from companion.music.chords import Chord
from companion.music.meter import Metre

RIGHT, LEFT = 1, 2
"""Staves."""
Sign = tuple[Fraction, str]
"""A beat, and 'start' (of a pedal that was up: 'first') or 'stop'."""


@dataclass(frozen=True)
class Voice:
    """One voice of one staff in one bar."""

    staff: int
    number: int
    heads: tuple[Head, ...]

    @property
    def hidden(self) -> bool:
        """Nothing of it is printed: a silence that is kept so that other readers find the voice."""
        return all(head.hidden for head in self.heads)


@dataclass(frozen=True)
class Bar:
    """One bar of the page."""

    number: int
    """1 = the first full bar of the form as it is played; 0 and below: a pickup or an introduction."""
    length: Fraction
    metre: Metre
    voices: tuple[Voice, ...]
    chords: tuple[tuple[Fraction, Chord], ...] = ()
    pedals: tuple[Sign, ...] = ()
    """Where the pedal goes down and comes up, in order."""
    octaves: tuple[Sign, ...] = ()
    """Where the left hand is written an octave higher than it sounds (8vb)."""
    high: tuple[Sign, ...] = ()
    """Where the right hand is written an octave lower than it sounds (8va)."""
    heading: str | None = None
    """The section that begins here."""
    double: bool = False
    """A section ends here."""
    marks: BarMarks = field(default_factory=BarMarks)
    """Repeats, endings and leaps; its heading and double bar stand above."""
    fermata: bool = False
    """Its last notes are held."""
    manner: str = ""
    """Said over its beginning: how it is played from here on."""
    words: str = ""
    """Said under its end: what is played before the leap."""
    remark: str = ""
    """Said over it in small type: what became of it in a take."""
    with_repeats: bool = False
    """Repeats are made again after the leap that it ends with."""
    new_line: bool = False
    new_page: bool = False


@dataclass(frozen=True)
class Sheet:
    """All that is printed."""

    title: str
    composer: str | None
    metre: Metre
    fifths: int
    minor: bool
    tempo: float
    """Quarters a minute."""
    feel: str
    staves: tuple[int, ...]
    """1: the right hand's, 2: the left hand's."""
    bars: tuple[Bar, ...]
    form: tuple[str, ...] = ()
    """Names of the sections in the order of playing."""
    order: str = ""
    """The order of events in words."""
    slashes: bool = False
    """It has chord symbols alone: slashes stand for the beats."""
