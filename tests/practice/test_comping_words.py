"""What was learnt of a player's chords, said as one says it."""

from __future__ import annotations

import pytest

from companion.arrange.chords.comping_style import CompingStyle, UsedRhythm, UsedShape
from companion.practice.comping_words import in_short, join_words, rhythm_words, shape_words, style_lines


def shape(quality: str, row: str, left: int = 0) -> UsedShape:
    return UsedShape(quality, row, left, 0.9, 64, 69, 24, 5)


def rhythm(*at: float, metre: str = "4/4") -> UsedRhythm:
    return UsedRhythm(metre, "swing", at, (0.5,) * len(at), 0.8, 13, 4)


@pytest.mark.parametrize(
    ("quality", "row", "words"),
    [
        ("m7", "b3 5 b7 9", "♭3 5 ♭7 9, rootless from the third"),
        ("7", "b7 9 3 13", "♭7 9 3 13, rootless from the seventh"),
        ("7", "3 b13 b7 #9", "3 ♭13 ♭7 ♯9, rootless from the third"),
        ("m7", "b3 b7 9", "♭3 ♭7 9, third, seventh, ninth"),
        ("m7", "1 b7", "1 ♭7, root and seventh"),
        ("m7", "5 b7 b3 11", "5 ♭7 ♭3 11"),
    ],
)
def test_a_shape_has_its_degrees_and_the_name_of_the_handbooks(quality: str, row: str, words: str) -> None:
    """Levine, The Jazz Piano Book, 1989 (from memory)."""
    assert shape_words(shape(quality, row)) == words


def test_two_hands_are_said() -> None:
    assert shape_words(shape("m7", "5 9 b3 b7 11", 2)).endswith("open minor eleventh, two of them in the left hand")


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (rhythm(0.0, 1.5), "on 1 and the and of 2"),
        (rhythm(0.0, 2.0), "on 1 and on 3"),
        (rhythm(-0.5, 1.0, 3.5), "the quaver before the bar, on 2 and the and of 4"),
        (rhythm(0.5, 2.0, metre="6/8"), "on 2 and on 5"),
    ],
)
def test_a_rhythm_is_said_by_its_places(one: UsedRhythm, words: str) -> None:
    assert rhythm_words(one) == words


def test_all_that_is_known_is_said_line_by_line() -> None:
    style = CompingStyle((shape("m7", "b3 5 b7 9"), shape("m7", "b7 9 b3 5")), (rhythm(0.0, 1.5),), 5)
    lead = "on minor sevenths you play"
    assert style_lines(style) == [
        "your chords, from 5 takes; a habit came 3 times or more, in 2 takes or more",
        f"{lead} ♭3 5 ♭7 9, rootless from the third, 24 times in 5 takes; the top note from E4 to A4",
        "  and ♭7 9 ♭3 5, rootless from the seventh, 24 times in 5 takes; the top note from E4 to A4",
        "in 4/4, swing, you strike on 1 and the and of 2, 13 times in 4 takes",
    ]
    assert in_short(style) == "2 shapes and 1 rhythm of yours, from 5 takes"


def test_without_takes_or_habits_it_says_what_is_lacking() -> None:
    (line,) = style_lines(CompingStyle())
    assert "--you chords" in line
    (line,) = style_lines(CompingStyle(takes=1))
    assert line.startswith("nothing in 1 take") and "3 times or more, in 2 takes or more" in line


def test_words_in_a_row() -> None:
    assert [join_words(one) for one in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == ["", "a", "a and b", "a, b and c"]


def test_shapes_alone_and_rhythms_alone_are_said() -> None:
    alone = UsedShape("m7", "b3 5 b7 9", 0, 0.9, 66, 66, 1, 1)
    assert style_lines(CompingStyle((alone,), (), 2))[1:] == [
        "on minor sevenths you play ♭3 5 ♭7 9, rootless from the third, 1 time in 1 take; the top note F♯4"
    ]
    higher = UsedShape("m7", "b3 5 b7 9", 0, 0.9, 61, 66, 2, 2)
    assert style_lines(CompingStyle((higher,), (), 2))[1].endswith("2 times in 2 takes; the top note from D♭4 to F♯4")
    assert style_lines(CompingStyle((), (rhythm(0.0),), 2))[1:] == [
        "in 4/4, swing, you strike on 1, 13 times in 4 takes"
    ]
