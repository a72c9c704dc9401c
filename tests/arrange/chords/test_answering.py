"""Voicings for answers: the arrangement's own of the same chord, else a new one, always under what sounds above."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.chords.answering import answer
from companion.arrange.harmony import harmonies
from companion.arrange.part import Note
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]


@pytest.fixture(scope="module")
def form(compose: Composer) -> Form:
    return compose("Dm7 | G7 | Dm7 | G7")


def chord(beat: float, *midi: int) -> list[Note]:
    return [Note(Fraction(beat), Fraction(1), pitch_in_key(m), "chords", degree=str(m)) for m in midi]


OWN = [*chord(1, 53, 57, 60, 64), *chord(5, 53, 57, 59, 64), *chord(9, 60, 64, 65, 69), *chord(12, 60)]


def answered(form: Form, beat: float, above: tuple[int, ...] = (), arranged: list[Note] = OWN) -> list[int]:
    ruling = harmonies(form)[int(beat // 4)]
    notes = answer(
        form, ruling, Fraction(beat), Fraction(3, 2), arranged=arranged, above=above, weight=0.8, reason="so"
    )
    assert all((n.beat, n.length, n.weight, n.reason) == (Fraction(beat), Fraction(3, 2), 0.8, "so") for n in notes)
    assert [n.voice for n in notes] == list(range(1, len(notes) + 1))
    return [n.midi for n in notes]


@pytest.mark.parametrize(
    ("beat", "above", "midi"),
    [
        (2, (), [53, 57, 60, 64]),
        (4, (), [53, 57, 59, 64]),
        (4.5, (), [53, 57, 59, 64]),
        (10, (), [60, 64, 65, 69]),  # the nearest
        (14, (), [53, 57, 59, 64]),  # of the same chord
        (2, (64,), [53, 57, 60]),  # only what lies under the melody
        (2, (65,), [53, 57, 60]),  # without a semitone under it
        (2, (66,), [57, 60, 64]),  # nor a minor ninth
        (2, (67, 61), [53, 57]),
    ],
)
def test_an_answer_is_the_arrangements_own_chord_under_what_sounds(
    form: Form, beat: float, above: tuple[int, ...], midi: list[int]
) -> None:
    assert answered(form, beat, above) == midi


def test_where_too_little_of_it_is_left_a_new_one_is_made_near_the_hand(form: Form) -> None:
    low = answered(form, 2, (58,))
    assert len(low) >= 2 and all(m < 58 and 58 - m not in (1, 13) for m in low)
    near = [answered(form, 6, (), chord(5, *midi)[:0] + chord(1, *midi)) for midi in ((48, 52), (67, 72))]
    assert sum(near[0]) / len(near[0]) < sum(near[1]) / len(near[1])
    assert {m % 12 for m in near[0]} >= {5, 11}, "third and seventh of G7"


def test_where_there_is_no_room_nothing_is_struck(form: Form) -> None:
    assert answered(form, 2, (49,)) == []


def test_a_chord_on_the_quaver_before_another_is_not_taken_for_its_bars(form: Form) -> None:
    early = [*chord(3.5, 53, 59), *chord(9, 60, 64)]
    assert answered(form, 2, (), early) == [60, 64]
