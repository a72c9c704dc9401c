"""Look-ups over the form: bars and beats as musicians name them, and what sounds between two beats."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.lookup import NoteIndex, bar_and_beat, harmony_at, numbered_bars, treatment_at
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]


@pytest.mark.parametrize(
    ("start", "end", "midi"),
    [(0, 1, [60]), (3, 4, [60]), (4, 5, [62]), (3.5, 4.5, [60, 62]), (4.5, 4.75, [62]), (5, 6, []), (6, 9, [64, 65]),
     (6.5, 6.5, [64]), (8, 9, [65]), (2, 2, [60])],
)  # fmt: skip
def test_what_sounds_between_two_beats(start: float, end: float, midi: list[int]) -> None:
    notes = [
        Note(Fraction(beat), Fraction(length), pitch_in_key(pitch), "melody")
        for beat, length, pitch in ((6, 2, 64), (0, 4, 60), (4, 1, 62), (7, 3, 65))
    ]
    assert [note.midi for note in NoteIndex(notes).between(Fraction(start), Fraction(end))] == midi


def test_bars_beats_chords_and_treatments_are_found(compose: Composer) -> None:
    form = compose("C | F G | Am", metre="3/4", sections=[("A", 2, "open"), ("B", 1, "walking")])
    assert [bar_and_beat(form, Fraction(beat)) for beat in (0, 2.5, 3, 8, 9, -1)] == [
        "bar 1 beat 1", "bar 1 beat 3.5", "bar 2 beat 1", "bar 3 beat 3", "bar 1 beat 1", "bar 3 beat 3",
    ]  # fmt: skip
    assert numbered_bars(form) == [(1, 0, 3), (2, 3, 6), (3, 6, 9)]
    beats = (0, 2.99, 3, 4.5, 6, 8.99, 9, -0.5)
    assert [harmony_at(form, Fraction(beat)).root for beat in beats] == [0, 0, 5, 7, 9, 9, 0, 9]
    named = [treatment_at(plan(form), Fraction(beat)).name for beat in (-0.5, 0, 5.5, 6, 8)]
    assert named == ["open", "open", "open", "walking", "walking"]
