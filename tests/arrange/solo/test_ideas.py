"""What of a phrase is taken up, and how it comes again: examples worked by hand.

Source: A. Schoenberg, Fundamentals of Musical Composition, 1967, on varying a motive (from memory).
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.solo.ideas import again, has_character, idea_of, varied
from companion.preferences import preferences
from companion.preferences.solo import IdeaPreferences, SoloPreferences

NONE = {"displaced": 0.0, "mirrored": 0.0, "fragment": 0.0, "continued": 0.0, "reshaped": 0.0}
RULES = replace(
    preferences(SoloPreferences).idea, notes=(3, 5), bars=2, gap=1.0, lift=(2, 2), higher=(1.0, 0.0), **NONE
)
IDEA = ((Fraction(0), 60), (Fraction(1, 2), 62), (Fraction(3, 2), 59))


def row(*notes: tuple[float, int]) -> list[tuple[Fraction, int]]:
    return [(Fraction(beat), midi) for beat, midi in notes]


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ([(0, 60), (1, 62), (2, 64), (2.5, 65), (3, 67), (3.5, 69)], 5),  # gaps among its fewest don't count
        ([(0, 60), (0.5, 62), (1, 64), (1.5, 65), (2, 67), (2.5, 69)], 5),  # its most
        ([(0, 60), (0.5, 62), (1, 64), (2, 65), (2.5, 67)], 3),  # one of a quarter after them does
        ([(0, 60), (0.5, 62), (1, 64), (1.875, 65), (2.5, 67)], 5),
        ([(0, 60), (0.5, 62), (1, 64), (1.5, 65), (8, 67)], 4),  # over after two bars
        ([(0, 60), (0.5, 62), (1, 64), (1.5, 65), (2.25, 67)], 5),
        ([(6, 60), (7.75, 62), (8, 64)], 2),
        ([(0, 60)], 0),
        ([(0, 60), (9, 62)], 0),
        ([], 0),
    ],
)
def test_an_idea_is_the_first_notes_up_to_a_gap(said: list[tuple[float, int]], kept: int) -> None:
    assert idea_of(RULES, row(*said), Fraction(4)) == tuple(row(*said)[:kept])


@pytest.mark.parametrize(
    ("places", "told"),
    [
        ((0, 0.5, 1, 1.5), False),  # even
        ((0, 0.5, 1.5, 2), True),
        ((0, 1), False),  # too few
        ((0, 0.5, 1.5), True),
        ((0, 0.5, 1, 1.5, 4), False),  # beyond its first ones
    ],
)
def test_a_rhythm_has_character_where_its_first_notes_are_not_even(places: tuple[float, ...], told: bool) -> None:
    assert has_character([Fraction(one) for one in places], 3) == told


def test_an_idea_comes_again_with_its_intervals_a_little_higher_or_lower() -> None:
    up, down = (again(RULES, IDEA, rising, random.Random(1)) for rising in (True, False))
    assert up.asked == ((0, None), (Fraction(1, 2), 2), (Fraction(3, 2), -3))
    assert (up.lift, down.lift) == (2, -2) and not up.goes_on


def ways(name: str, idea: tuple[tuple[Fraction, int], ...] = IDEA, room: int = 8) -> set[tuple[object, ...]]:
    rules: IdeaPreferences = replace(RULES, **{name: 1.0})
    found = [varied(rules, idea, Fraction(1), Fraction(room), True, random.Random(seed)) for seed in range(12)]
    assert all(one.goes_on and one.lift == 2 for one in found)
    return {tuple((float(place), step) for place, step in one.asked) for one in found}


def test_an_idea_is_mirrored_continued_or_only_its_rhythm_kept() -> None:
    assert ways("mirrored") == {((0, None), (0.5, -2), (1.5, 3))}
    assert ways("continued") == {((0, None), (0.5, 2), (1.5, -3))}
    assert ways("reshaped") == {((0, None), (0.5, None), (1.5, None))}


def test_an_idea_comes_a_beat_later_or_where_there_is_one_before_earlier() -> None:
    assert ways("displaced") == {((1, None), (1.5, 2), (2.5, -3))}
    late = tuple((place + 1, midi) for place, midi in IDEA)
    assert ways("displaced", late) == {((2, None), (2.5, 2), (3.5, -3)), ((0, None), (0.5, 2), (1.5, -3))}


def test_its_beginning_comes_twice_or_three_times_as_closely_as_it_fits_on_beats() -> None:
    twice = ((0, None), (0.5, 2), (1.5, -3), (3, None), (3.5, 2), (4.5, -3))
    assert ways("fragment") == {twice, (*twice, (6, None), (6.5, 2), (7.5, -3))}
    long = tuple((Fraction(n, 2), 60 + n) for n in range(6))
    four = [(n / 2, None if n == 0 else 1) for n in range(4)]
    assert (*four, *((place + 3, step) for place, step in four)) in ways("fragment", long), "four notes of it"
    short = tuple((Fraction(n, 2), 60 + n) for n in range(2))
    assert ((0, None), (0.5, 1), (2, None), (2.5, 1)) in ways("fragment", short)


def test_what_has_no_room_is_left_out() -> None:
    assert ways("continued", room=1) == {((0, None), (0.5, 2))}
    assert ways("reshaped", IDEA[1:], room=1) == {((0.5, None),)}


def test_what_lies_on_the_first_beat_after_it_is_left_out_as_well() -> None:
    beats = ((Fraction(0), 60), (Fraction(1), 62), (Fraction(2), 64))
    assert ways("continued", beats, room=2) == {((0, None), (1, 2))}
