"""The late fourth voice: as often as it is asked for, and a line by step (common practice)."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from companion.arrange.audit.chords import chords_of
from companion.arrange.audit.late import late_figures, lines
from companion.arrange.chords.context import Strike
from companion.arrange.chords.late import gathered
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.treatments import treatment
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]
BALLADS = ["Dm7 | G7 | Cmaj7 | Am7", "Cm7b5 | F7alt | Bbm9 | Eb9sus4", "Dbmaj7 | Gbmaj7 | Fm7 | Bb7alt"]


def ballad(compose: Composer, changes: str) -> Form:
    """Long notes on the first beat, so that every bar has room."""
    return compose(" | ".join([changes] * 8), tempo=60.0, melody=[(4 * k, 4, 79 + k % 3) for k in range(32)])


@pytest.mark.parametrize("changes", BALLADS)
def test_late_voices_come_as_often_as_their_treatment_asks(compose: Composer, changes: str) -> None:
    form = ballad(compose, changes)
    for seed in range(4):
        chords = chords_of(arrange(form, "chords", Request(treatment="ballad", seed=seed)))
        late = sum(any(note.beat > beat for note in chord) for beat, chord in chords)
        assert 0.28 <= late / len(chords) <= 0.42, (late, len(chords))


@pytest.mark.parametrize("changes", BALLADS)
def test_their_notes_join_by_step_into_a_line(compose: Composer, changes: str) -> None:
    form = ballad(compose, changes)
    choruses = [arrange(form, "chords", Request(treatment="ballad", seed=seed)) for seed in range(4)]
    found = {figure.name: figure.value for figure in late_figures(form, plan(form, "ballad"), choruses)}
    assert found["late voices that go on by step"] >= 0.8
    assert found["late voices in a line over four bars or more"] >= 0.6


def test_a_late_note_stands_alone_under_the_melody_and_ends_with_its_chord(compose: Composer) -> None:
    melody = [(4 * k + b, n, p) for k in range(16) for b, n, p in ((0, 3, 74), (3, 1, 76))]
    form = compose(" | ".join(["Dm7 | G7 | Cmaj7 | Am7"] * 4), tempo=60.0, melody=melody)
    for seed in range(6):
        for beat, chord in chords_of(arrange(form, "chords", Request(treatment="ballad", seed=seed))):
            for note in (note for note in chord if note.beat > beat):
                assert note.midi > min(one.midi for one in chord)
                assert note.beat + note.length == max(one.beat + one.length for one in chord)
                assert all(abs(note.beat - sung.beat) >= Fraction(1, 4) for sung in form.melody)
                under = (m for m in form.melody if m.beat < note.beat + note.length and note.beat < m.beat + m.length)
                assert all(note.midi < sung.pitch.midi for sung in under)


def test_a_chord_that_would_be_said_again_is_left_to_the_late_voice(compose: Composer) -> None:
    """Where late voices are asked for, a chord is seldom struck twice within two beats of one harmony."""
    form = ballad(compose, BALLADS[0])
    again = {"ballad": 0, "in-two": 0}
    for named in again:
        for seed in range(6):
            chords = chords_of(arrange(form, "chords", Request(treatment=named, seed=seed)))
            again[named] += sum(b - a <= 2 and a // 4 == b // 4 for (a, _), (b, _) in pairwise(chords))
    assert again["ballad"] < again["in-two"]


def test_where_none_is_asked_for_none_comes(compose: Composer) -> None:
    form = ballad(compose, BALLADS[0])
    for beat, chord in chords_of(arrange(form, "chords", Request(treatment="walking"))):
        assert all(note.beat == beat for note in chord)


def test_the_audit_breaks_a_line_at_a_leap_and_at_a_long_wait() -> None:
    def late(beat: int, midi: int) -> Note:
        return Note(Fraction(beat), Fraction(1), pitch_in_key(midi), "chords")

    row = [late(1, 60), late(5, 62), late(9, 63), late(13, 67), late(17, 65), late(40, 64)]
    assert [len(line) for line in lines(row, Fraction(8))] == [3, 2, 1]


# where a chord is struck twice


@pytest.mark.parametrize(
    ("beats", "told", "melody", "left"),
    [
        ((1, 2), {}, [], [(1, 2)]),  # the second is left to a late voice, and the first lasts as long as both
        ((1, 3), {}, [], [(1, 3)]),
        ((1, 3.5), {}, [], [(1, 1), (3.5, 1)]),  # too far apart
        ((3, 4), {}, [], [(3, 1), (4, 1)]),  # another chord
        ((1, 2, 3), {}, [], [(1, 2), (3, 1)]),  # once only
        ((1, 2), {"late": 0.0}, [], [(1, 1), (2, 1)]),
        ((1, 2), {"away": 1}, [], [(1, 1), (2, 1)]),  # fourths that slide
        ((1, 2), {}, [(1.5, 1, 76)], [(1, 1), (2, 1)]),  # the melody moves meanwhile
        ((1, 2), {}, [(2, 1, 76)], [(1, 1), (2, 1)]),
        ((1, 2), {}, [(1, 1, 76)], [(1, 1), (2, 1)]),
        ((1, 2), {}, [(0.5, 1, 76), (2.5, 1, 77)], [(1, 2)]),
    ],
)
def test_a_chord_said_again_is_left_to_a_late_voice_where_one_is_asked_for(
    compose: Composer,
    beats: tuple[float, ...],
    told: dict[str, Any],
    melody: list[tuple[float, float, int]],
    left: list[tuple[float, float]],
) -> None:
    form = compose("Dm7 | G7 | Cmaj7", melody=melody)
    ruled = replace(treatment("ballad"), late=told.get("late", 0.5))  # asked for in half of the chords: always
    struck = [
        Strike(Fraction(beat), Fraction(1), harmonies(form)[int(beat // 4)], ruled, "", away=told.get("away"))
        for beat in beats
    ]
    found = gathered(struck, index_melody(form), random.Random(1))
    assert [(one.beat, one.length) for one in found] == left
    assert [one.again for one in found if one.length > 1] == [beats[1] for _, length in left if length > 1]


def test_what_may_ring_over_a_pedal_may_ring_as_long_again(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    ruled = replace(treatment("ballad"), late=0.5)
    for first, second, meant in ((2, 3, 4), (5, 2, 5), (0, 3, 0)):
        struck = [
            Strike(Fraction(beat), Fraction(1), harmonies(form)[0], ruled, "", meant=Fraction(long))
            for beat, long in ((1, first), (2, second))
        ]
        (one,) = gathered(struck, index_melody(form), random.Random(1))
        assert one.meant == meant
