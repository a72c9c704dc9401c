"""What is said of a chord: its form, how the hand came there, and what the melody leaves room for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.arrange.chords.context import Strike
from companion.arrange.chords.reasons import (
    _farthest,
    _leap,
    _left_out,
    _place,
    _want,
    _way,
    called,
    movement,
    voicing_reason,
)
from companion.arrange.chords.shape import Shape
from companion.arrange.chords.soundness import row
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import MelodyIndex, index_melody
from companion.arrange.treatments import treatment
from companion.chart.model import Form

Composer = Callable[..., Form]
F = Fraction


def voiced(*midi: int, family: str = "rootless", name: str = "from the third", forced: bool = False) -> Voicing:
    return Voicing(Shape(family, name, (), 0, 0.0), midi, 0.0, forced)


def struck(
    compose: Composer, symbol: str = "Dm7", melody: Sequence[tuple[float, float, int]] = (), **told: Any
) -> tuple[Strike, MelodyIndex]:
    """A chord on the second beat for two."""
    form = compose(f"{symbol} | G7", melody=melody)
    how = {"placement": "gaps"} | {key: told.pop(key) for key in ("placement",) if key in told}
    ruled = replace(treatment("walking"), **how)
    return Strike(F(1), F(2), harmonies(form)[0], ruled, told.pop("reason", "on 2"), **told), index_melody(form)


@pytest.mark.parametrize(
    ("family", "name", "words"),
    [
        ("rootless", "from the third", "rootless from the third"),
        ("inversions", "from the fifth", "rootless from the fifth"),
        ("open", "with the ninth", "open with the ninth"),
        ("three", "third and seventh", "thinned to third and seventh"),
        ("two", "third and seventh", "thinned to third and seventh"),
        ("three", "fourths on the third", "fourths on the third"),
        ("quartal", "fourths on the ninth", "fourths on the ninth"),
    ],
)
def test_what_musicians_call_a_shape(family: str, name: str, words: str) -> None:
    assert called(Shape(family, name, (), 0, 0.0)) == words


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ((53, 57, 60, 64), (53, 57, 60, 64), "the same again"),
        ((53, 57, 60, 64), (53, 57, 59, 64), "three notes stay, the rest moves by step"),
        ((53, 57, 60, 64), (55, 57, 60, 62), "two notes stay, the rest moves by step"),
        ((53, 57, 60, 64), (52, 55, 59, 64), "one note stays, the rest moves by step"),
        ((53, 57, 60, 64), (52, 55, 59, 62), "every voice moves by step"),
        ((53, 57, 60, 64), (50, 55, 59, 62), ""),  # a third is no step
        ((53, 57, 60, 64), (53, 57, 60, 67), "three notes stay"),
        ((53, 57, 60, 64), (53, 57, 60), "three notes stay"),
        ((53, 57, 60), (50, 55, 59, 62), ""),
    ],
)
def test_how_the_hand_came_there(before: tuple[int, ...], after: tuple[int, ...], words: str) -> None:
    assert movement(voiced(*after), voiced(*before)) == words
    assert movement(voiced(*after), None) == ""


def test_the_same_keys_for_another_chord_need_no_move(compose: Composer) -> None:
    d, g = harmonies(compose("Dm7 | G7"))
    here, there = (
        Voicing(Shape("rootless", "", row(one, (53, 57, 59, 64)), 0, 0.0), (53, 57, 59, 64), 0.0) for one in (d, g)
    )
    assert movement(there, here) == "the hand need not move"


def test_the_voice_that_moves_most_tells_a_leap(compose: Composer) -> None:
    assert _farthest(voiced(53, 57, 60), voiced(55, 57, 66)) == 6 and _farthest(voiced(53, 57), voiced(53, 57, 60)) == 0
    strike, above = struck(compose)
    assert _way(strike, voiced(57, 60, 64), voiced(53, 57, 60), above) == "two notes stay"
    assert _way(strike, voiced(58, 62, 65), voiced(53, 57, 60), above) == "the hand goes up", "by a fourth"
    assert _way(strike, voiced(57, 61, 64), voiced(53, 57, 60), above) == "one note stays", "by a third"
    assert _way(strike, voiced(53, 57, 60), None, above) == ""


@pytest.mark.parametrize(
    ("melody", "before", "after", "words"),
    [
        ((), (60, 64, 67), (53, 57, 60), "the hand goes down"),
        ((), (53, 57, 60), (60, 64, 67), "the hand goes up"),
        (((0, 4, 69),), (60, 64, 67), (53, 57, 60), "the hand goes down, to stay under the melody's A4"),
        (((0, 4, 70),), (60, 64, 67), (53, 57, 60), "the hand goes down"),  # there was room
        (((0, 4, 69),), (53, 57, 60), (60, 64, 67), "the hand goes up"),
        (((3.5, 1, 68),), (60, 64, 67), (53, 57, 60), "the hand goes down, to stay under the melody's Ab4"),
    ],
)
def test_why_the_hand_leaps(
    compose: Composer, melody: tuple[Any, ...], before: tuple[int, ...], after: tuple[int, ...], words: str
) -> None:
    strike, above = struck(compose, melody=melody)
    assert _leap(strike, voiced(*after), voiced(*before), above) == words


@pytest.mark.parametrize(
    ("melody", "told", "words"),
    [
        (((0, 4, 65),), {}, "its ninth would rub against the melody's F4"),  # E under F
        (((0, 4, 70),), {"midi": (53, 60)}, "its fifth would rub against the melody's Bb4"),  # A under B flat
        (((0, 4, 65),), {"midi": (53, 60, 64)}, "one hand holds it with the melody's F4"),  # E is there
        (((0, 4, 69),), {}, "one hand holds it with the melody's A4"),
        (((1, 2, 69),), {}, "it leads the top note on"),
        ((), {}, "it leads the top note on"),
        ((), {"forced": True}, "there is no room for more"),
        (((0, 4, 69),), {"forced": True}, "between the bass and the melody's A4 is no room for more"),
        (((0, 4, 65),), {"family": "rootless"}, ""),
    ],
)
def test_why_there_is_not_more_of_a_chord(
    compose: Composer, melody: tuple[Any, ...], told: dict[str, Any], words: str
) -> None:
    strike, above = struck(compose, melody=melody)
    midi = told.pop("midi", (53, 57, 60))
    assert _want(strike, voiced(*midi, **({"family": "three"} | told)), above) == words


@pytest.mark.parametrize(
    ("symbol", "midi", "melody", "words"),
    [
        ("Dm7", (53, 60, 57), 76, "the ninth is the melody's note, so 5 instead"),
        ("Dm7", (53, 60, 64), 69, "the fifth is the melody's note, so 9 instead"),
        ("G7", (53, 59, 57), 76, "the thirteenth is the melody's note, so 9 instead"),
        ("G7", (53, 59, 64), 69, "the ninth is the melody's note, so 13 instead"),
        ("Dm7", (53, 60, 57), 77, ""),
    ],
)
def test_a_chord_of_three_has_the_note_that_the_melody_has_not(
    compose: Composer, symbol: str, midi: tuple[int, ...], melody: int, words: str
) -> None:
    strike, above = struck(compose, symbol, [(0, 4, melody)])
    shape = Shape("three", "", row(strike.harmony, midi), 0, 0.0)
    assert _left_out(strike, Voicing(shape, midi, 0.0), above) == words
    assert _left_out(strike, Voicing(replace(shape, family="two"), midi, 0.0), above) == ""


@pytest.mark.parametrize(
    ("melody", "told", "words"),
    [
        (((0, 4, 69),), {}, "on 2, while the melody holds A4"),
        (((0, 0.5, 69), (3, 1, 71)), {}, "on 2, where the melody rests"),
        (((0, 4, 69),), {"reason": ""}, "while the melody holds A4"),
        (((1, 2, 69),), {}, "on 2, where the melody rests"),  # it begins with the chord
        ((), {}, "on 2"),
        (((0, 4, 69),), {"placement": "accents"}, "on 2"),
        (((0, 4, 69),), {"aim": 76}, "on 2, with the melody's own note on top"),
        (((0, 4, 69),), {"aim": 64}, "on 2, with the melody's own note on top"),  # in another octave
        (((0, 4, 69),), {"aim": 65}, "on 2, while the melody holds A4"),
    ],
)
def test_where_a_chord_falls_and_what_the_melody_does(
    compose: Composer, melody: tuple[Any, ...], told: dict[str, Any], words: str
) -> None:
    strike, above = struck(compose, melody=melody, **told)
    assert _place(strike, voiced(53, 57, 60, 64), above) == words


def test_all_of_it_in_one_sentence(compose: Composer) -> None:
    strike, above = struck(compose, melody=[(0, 4, 69)])
    found = voicing_reason(strike, voiced(53, 57, 60, 64), voiced(53, 57, 59, 64), above)
    assert found == "rootless from the third: three notes stay, the rest moves by step; on 2, while the melody holds A4"
    assert voicing_reason(strike, voiced(53, 57, 60, 64), None, above) == (
        "rootless from the third; on 2, while the melody holds A4"
    )
    sliding = replace(voiced(53, 58, 63), shape=Shape("quartal", "", (), 0, 0.0, why="sliding up"))
    assert voicing_reason(replace(strike, away=2), sliding, None, above) == "fourths sliding up; on 2"
