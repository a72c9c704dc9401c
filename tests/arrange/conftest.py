"""Forms for the arranger's tests: changes between bar lines, a melody as (beat, length, MIDI number)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.chart.model import ChordSpan, Form, FormSection, MelodyNote
from companion.music.chords import parse_chord
from companion.music.meter import parse_metre
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]


def _compose(
    changes: str,
    *,
    metre: str = "4/4",
    fifths: int = 0,
    minor: bool = False,
    tempo: float = 140.0,
    feel: str = "swing",
    melody: Sequence[tuple[float, float, int]] = (),
    sections: Sequence[tuple[str, int, str | None]] = (),
) -> Form:
    """A form from changes such as 'Dm7 | G7 | Cmaj7 A7'; sections as (name, bars, treatment)."""
    bar = parse_metre(metre).bar
    spans, starts, at = [], [], Fraction(0)
    for written in changes.split("|"):
        symbols = written.split()
        starts.append(at)
        for symbol in symbols:
            spans.append(ChordSpan(at, at + bar / len(symbols), parse_chord(symbol)))
            at += bar / len(symbols)
    places, start = [], Fraction(0)
    for name, bars, treatment in sections or [("A", len(starts), None)]:
        places.append(FormSection(name, start, start + bars * bar, treatment))
        start += bars * bar
    notes = [
        MelodyNote(Fraction(b).limit_denominator(48), Fraction(n).limit_denominator(48), pitch_in_key(p, fifths))
        for b, n, p in melody
    ]
    return Form(
        parse_metre(metre), fifths, minor, tempo, feel, at, tuple(starts), tuple(places), tuple(spans), tuple(notes)
    )


@pytest.fixture(scope="session")
def compose() -> Composer:
    return _compose


MINOR_SWING = "Gm6 | C7 | Ebmaj7 | Am7b5 D7alt | Gm7 | Bbm7 Eb7 | Abmaj7 | Am7b5 D7b9 | " * 3 + (
    "F9sus4 | F9sus4 | Bbmaj9 | Bbmaj9 | Cm7 | F13 | Am7b5 | D7alt"
)


@pytest.fixture(scope="session")
def minor_swing() -> Form:
    """32 bars in G minor whose melody moves in the first half of each bar and then holds or rests."""
    phrase = [(0, 0.5, 70), (0.5, 0.5, 72), (1, 1, 74), (4, 3, 74), (8.5, 0.5, 75), (9, 1.5, 74)]
    melody = [(16 * k + b, n, p) for k in range(8) for b, n, p in phrase]
    return _compose(MINOR_SWING, fifths=-2, minor=True, tempo=132.0, melody=melody)
