"""Marks on the notes of a written arrangement: hand, pedal, weight and length, by the means that ABC gives.

A plain note is struck by the part's usual hand, at the part's level, and sounds its part's usual share of what is
written (a walking bass lets go before the next beat). Decorations say what is otherwise (ABC 2.1, section 4.14):

=============  ========================================================
``!left!``     struck by the left hand; ``!right!`` by the right
``!ped!``      held by the pedal after the finger has left
``!>!``        accented
``!ghost!``    ghosted, and short
``!tenuto!``   sounds all that is written
``.``          let go early: a fifth of a quarter before the end
``!voice3!``   the third voice from below, where that isn't its place
``"_0.85"``    an annotation (section 4.19): so many times the level
=============  ========================================================

Conventions: lengths in quarter notes as Fractions; weights are shares of the part's level.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.chart.model import WrittenNote
from companion.errors import ChartError
from companion.messages import HANDS, Hand

FULL = Fraction(1)
EARLY = Fraction(1, 5)
"""Quarters before the end of what is written that a note with a dot is let go."""


@dataclass(frozen=True)
class Stress:
    """What a mark does to a note."""

    weight: float
    hold: Fraction | None = None
    """Share of its written length that sounds; None: as usual."""


STRESSES = {"ghost": Stress(0.4, Fraction(2, 3)), ">": Stress(1.08)}
_ALSO = {"accent": ">", "emphasis": ">"}
"""Other names that ABC has for a mark."""
_VOICE = re.compile(r"voice([1-9])")
_TIMES = re.compile(r"_(\d+(?:\.\d+)?)")


@dataclass(frozen=True)
class NoteMarks:
    """What the marks of a note say; None where they say nothing."""

    hand: Hand | None = None
    pedal: bool = False
    weight: float = 1.0
    hold: Fraction | None = None
    early: bool = False
    voice: int | None = None

    def marked(self, name: str) -> NoteMarks:
        """These marks and a decoration by its name. Raises ChartError when it has no meaning here."""
        name = _ALSO.get(name, name)
        if name in HANDS:
            return replace(self, hand=name)
        if name == "ped":
            return replace(self, pedal=True)
        if name == "tenuto":
            return replace(self, hold=FULL)
        if name == ".":
            return replace(self, early=True)
        if name in STRESSES:
            return replace(self, weight=STRESSES[name].weight, hold=STRESSES[name].hold or self.hold)
        if voice := _VOICE.fullmatch(name):
            return replace(self, voice=int(voice[1]))
        known = "!left!, !right!, !ped!, !>!, !ghost!, !tenuto!, !voice2! or a dot"
        raise ChartError(f"'!{name}!' has no meaning here", mend=f"use {known}")

    def sounding(self, value: Fraction, usual: Fraction) -> Fraction:
        """What sounds of a written length; ``usual`` is the part's share."""
        if self.early and value > EARLY:
            return value - EARLY
        return value * (usual if self.hold is None else self.hold)

    def annotated(self, text: str) -> NoteMarks:
        """These marks and an annotation; one that is no number below the note says nothing."""
        times = _TIMES.fullmatch(text)
        return replace(self, weight=float(times[1])) if times else self


def usual_hand(part: str) -> Hand:
    """The hand that plays a part unless a note says otherwise."""
    return "left" if part == "bass" else "right"


def usual_voices(notes: Sequence[WrittenNote], part: str) -> list[int]:
    """The voice of each note unless it says otherwise: of chords, its place from below among those that end together.

    So the late fourth voice of a chord has its place between the others.
    """
    if part != "chords":
        return [1] * len(notes)
    together: dict[Fraction, list[int]] = {}
    for note in notes:
        together.setdefault(note.beat + note.length, []).append(note.pitch.midi)
    return [1 + sum(midi < note.pitch.midi for midi in together[note.beat + note.length]) for note in notes]


def usual_hold(notes: Iterable[WrittenNote]) -> Fraction:
    """The share of its written length that a note of these most often sounds; 1 when none is usual."""
    shares: Counter[Fraction] = Counter()
    for note in notes:
        if any(stress.hold and stress.weight == note.weight for stress in STRESSES.values()):
            continue
        steps = -(-2 * note.length // 1)
        shares[2 * note.length / steps] += 1
    decimal = {share: count for share, count in shares.items() if 1000 % share.denominator == 0 and share >= FULL / 2}
    return max(decimal, key=lambda share: (decimal[share], share), default=FULL)


def written_length(note: WrittenNote, hold: Fraction, room: Fraction | None = None) -> Fraction:
    """What is written for a note, in quarters, where so much of it sounds as its marks say.

    Parameters
    ----------
    note : WrittenNote
    hold : Fraction
        The part's usual share.
    room : Fraction, optional
        How far it is to the next note of the part; what is written stops short of it if what sounds does.
    """
    ways = [note.length / share for share in (_stress_hold(note), hold) if share is not None]
    if not _plain(note.length):
        ways.append(note.length + EARLY)
    fitting = (value for value in ways if _plain(value) and (room is None or value <= room or note.length > room))
    return next(fitting, note.length)


def _stress_hold(note: WrittenNote) -> Fraction | None:
    return next((s.hold for s in STRESSES.values() if s.weight == note.weight and s.hold is not None), None)


def _plain(value: Fraction) -> bool:
    """Whether a length is one that musicians write: halves of halves, or thirds of them."""
    return value.denominator in (1, 2, 4, 8, 3, 6, 12)


def marks_of(note: WrittenNote, value: Fraction, part: str, hold: Fraction, voice: int) -> list[str]:
    """The marks of a note that is written with a length of ``value``; ``voice`` is its usual one."""
    marks = [] if note.hand == usual_hand(part) else [f"!{note.hand}!"]
    if note.pedal:
        marks.append("!ped!")
    share, stress = note.length / value, _stress(note, note.length / value)
    if stress is not None:
        marks.append(f"!{stress}!")
        hold = STRESSES[stress].hold or hold
    elif note.weight != 1.0:
        marks.append(f'"_{note.weight!r}"')
    if share != hold:
        marks.append("." if value - note.length == EARLY else "!tenuto!")
    if note.voice != voice:
        marks.append(f"!voice{note.voice}!")
    return marks


def _stress(note: WrittenNote, share: Fraction) -> str | None:
    fitting = (name for name, s in STRESSES.items() if s.weight == note.weight and s.hold in (None, share))
    return next(fitting, None)
