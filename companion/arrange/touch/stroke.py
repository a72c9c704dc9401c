"""Strokes: the notes of a part as a hand strikes them: how late, how firmly, and how much of their length is held.

A hand drifts about the beat, its fingers reach a chord one after the other, it grows louder over a phrase and over
eight bars, and holds a note by what follows it. None of that is written; it is put on when a part is played, to a file
and at the piano alike. The same notes with the same seed are struck alike.

Conventions: beats in quarters, written; lateness in seconds, early below 0; firmness as a factor to the part's level;
what is held as a share of the written length. The figures are in ``configs/touch.toml`` and ``configs/accents.toml``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from random import Random

from companion.arrange.accents import accent
from companion.arrange.part import Note
from companion.arrange.touch.drift import drift
from companion.arrange.touch.phrases import CLOSE, StruckChord, arches, follows_at_once, is_syncopated, swell
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.accents import AccentPreferences
from companion.preferences.touch import PartTouch, TouchLengths, TouchPreferences

STEP, FIFTH = 2, 7
"""Semitones."""


@dataclass(frozen=True)
class Stroke:
    """How one note is struck."""

    late: float = 0.0
    """Seconds after its place."""
    firmness: float = 1.0
    """Factor to the part's level; what the note itself says is left out."""
    held: float = 1.0
    """Share of the written length."""


PLAIN = Stroke()
"""As written."""


def strokes(form: Form, notes: Sequence[Note], seed: str = "") -> list[Stroke]:
    """How each note of one part is struck.

    Parameters
    ----------
    form : Form
    notes : sequence of Note
        Of one part, in any order.
    seed : str
        Another seed, another hand.

    Returns
    -------
    list of Stroke
        One a note, in the order of the notes.
    """
    if not notes:
        return []
    touch = preferences(TouchPreferences).parts[notes[0].part]
    dice = Random(f"touch/{notes[0].part}/{seed}")
    order = sorted(range(len(notes)), key=lambda n: notes[n].beat)
    groups = [list(group) for _, group in groupby(order, key=lambda n: notes[n].beat)]
    line = [_chord([notes[n] for n in group]) for group in groups]
    late = _lateness(form, line, touch, dice)
    firm = _firmness(form, [notes[group[0]] for group in groups], line, touch, dice)
    held = _held(form, line, touch, dice)
    found = [PLAIN] * len(notes)
    for n, (group, chord) in enumerate(zip(groups, line, strict=True)):
        for k in group:
            rank = chord.midi.index(notes[k].midi)
            found[k] = Stroke(_finger(touch, chord, late[n], rank), firm[n] * _voiced(touch, chord, rank), held[n])
    return found


def _chord(notes: Sequence[Note]) -> StruckChord:
    end = max(note.beat + note.length for note in notes)
    return StruckChord(float(notes[0].beat), float(end), tuple(sorted({note.midi for note in notes}, reverse=True)))


# When


def _lateness(form: Form, line: Sequence[StruckChord], touch: PartTouch, dice: Random) -> list[float]:
    """Milliseconds, chord by chord."""
    how, pulse = touch.timing, float(form.metre.pulse)
    drifts = drift([chord.beat for chord in line], how.memory, dice)
    return [
        how.spread_ms * one + (how.behind_ms if chord.beat % pulse < CLOSE else 0.0)
        for one, chord in zip(drifts, line, strict=True)
    ]


def _finger(touch: PartTouch, chord: StruckChord, late: float, rank: int) -> float:
    """Seconds: the fingers reach a chord from the top down, about the moment that is meant."""
    how = touch.timing
    if len(chord.midi) > 1:
        late += how.fingers_ms * (rank / (len(chord.midi) - 1) - 0.5)
    return max(-how.most_ms, min(how.most_ms, late)) / 1000.0


# How firmly


def _firmness(
    form: Form, notes: Sequence[Note], line: Sequence[StruckChord], touch: PartTouch, dice: Random
) -> list[float]:
    """Factors to the level, chord by chord; ``notes`` are one of each chord."""
    how, phrasing, accents = touch.loudness, preferences(TouchPreferences).phrases, preferences(AccentPreferences)
    drifts = drift([chord.beat for chord in line], touch.timing.memory, dice)
    found = []
    for n, (height, one) in enumerate(zip(arches(line, phrasing.rest), drifts, strict=True)):
        chance = how.spread * max(-2.0, min(2.0, one))
        shape = how.peak * height + how.swell * swell(form, line[n].beat, phrasing)
        pushed = how.syncopation * is_syncopated(form, line[n], _next(line, n))
        found.append(accent(accents, form, notes[n]) * max(0.0, 1.0 + chance + shape + pushed))
    return found


def _voiced(touch: PartTouch, chord: StruckChord, rank: int) -> float:
    """Factor to a chord's firmness for one of its notes, by its rank from the top."""
    if len(chord.midi) == 1:
        return 1.0
    return 1.0 - touch.loudness.inner if rank else 1.0 + touch.loudness.top


# How long


def _held(form: Form, line: Sequence[StruckChord], touch: PartTouch, dice: Random) -> list[float]:
    """Shares of the written length, chord by chord; none is held over what follows because of its context."""
    rest, most = preferences(TouchPreferences).phrases.rest, max(1.0, touch.length)
    chances = [1.0 + touch.lengths.spread * dice.uniform(-1.0, 1.0) for _ in line]
    return [
        min(most, touch.length * chance * _length(form, touch.lengths, line[n], _next(line, n), rest))
        for n, chance in enumerate(chances)
    ]


def _length(form: Form, how: TouchLengths, chord: StruckChord, after: StruckChord | None, rest: float) -> float:
    """Factor to the part's usual share, by what follows."""
    pulse = float(form.metre.pulse)
    if after is not None and follows_at_once(chord, after):
        if after.midi == chord.midi:
            return how.again
        move = abs(after.top - chord.top)
        return how.step if 0 < move <= STEP else how.leap if move > FIFTH else 1.0
    if chord.end - chord.beat <= pulse / 2 + CLOSE and chord.beat % pulse > CLOSE:
        return how.short
    return how.last if after is None or after.beat - chord.end >= rest - CLOSE else 1.0


def _next(line: Sequence[StruckChord], n: int) -> StruckChord | None:
    return line[n + 1] if n + 1 < len(line) else None
