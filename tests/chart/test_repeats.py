"""The order of playing: repeats, endings, leaps (MusicXML 4.0, elements repeat, ending and sound; common practice)."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.repeats import MOST_BARS, playing_order
from companion.chart.written import BarMarks
from companion.errors import ChartError

PLAIN = BarMarks()


def played(*marks: BarMarks) -> list[int]:
    """Bars in the order of playing, counted from 1."""
    return [bar + 1 for bar in playing_order(marks)]


def test_without_signs_bars_are_played_as_they_stand() -> None:
    assert played(PLAIN, PLAIN, PLAIN) == [1, 2, 3]


def test_a_repeat_returns_to_its_sign_and_without_one_to_the_beginning() -> None:
    assert played(PLAIN, BarMarks(repeat_start=True), BarMarks(repeat_end=2), PLAIN) == [1, 2, 3, 2, 3, 4]
    assert played(PLAIN, BarMarks(repeat_end=2), PLAIN) == [1, 2, 1, 2, 3]


def test_a_second_repeat_without_a_sign_returns_to_the_end_of_the_first() -> None:
    assert played(PLAIN, BarMarks(repeat_end=2), PLAIN, BarMarks(repeat_end=2)) == [1, 2, 1, 2, 3, 4, 3, 4]


def test_a_repeat_may_be_played_more_than_twice() -> None:
    assert played(BarMarks(repeat_end=3)) == [1, 1, 1]


def test_a_first_ending_is_left_out_the_second_time() -> None:
    first, second = BarMarks(ending=(1,), ending_stops=True, repeat_end=2), BarMarks(ending=(2,), ending_stops=True)
    assert played(PLAIN, first, second, PLAIN) == [1, 2, 1, 3, 4]


def test_a_bracket_for_two_times_and_one_for_the_third() -> None:
    first = BarMarks(ending=(1, 2), ending_stops=True, repeat_end=2)
    assert played(PLAIN, first, BarMarks(ending=(3,), ending_stops=True)) == [1, 2, 1, 2, 1, 3]


def test_brackets_numbered_one_and_three_play_the_first_one_twice() -> None:
    first = BarMarks(ending=(1,), ending_stops=True, repeat_end=2)
    assert played(PLAIN, first, BarMarks(ending=(3,), ending_stops=True)) == [1, 2, 1, 2, 1, 3]


def test_a_bracket_that_stops_short_of_its_repeat_reaches_it() -> None:
    marks = [
        PLAIN,
        BarMarks(ending=(1,), ending_stops=True),
        BarMarks(repeat_end=2),
        BarMarks(ending=(2,), ending_stops=True),
    ]
    assert played(*marks, PLAIN) == [1, 2, 3, 1, 4, 5]


def test_three_brackets_each_with_their_repeat() -> None:
    ends = [BarMarks(ending=(n,), ending_stops=True, repeat_end=2) for n in (1, 2)]
    assert played(PLAIN, *ends, BarMarks(ending=(3,), ending_stops=True)) == [1, 2, 1, 3, 1, 4]


def test_a_lone_first_ending_is_skipped_the_second_time() -> None:
    assert played(PLAIN, BarMarks(ending=(1,), ending_stops=True, repeat_end=2), PLAIN) == [1, 2, 1, 3]


def test_brackets_of_one_repeat_do_not_reach_into_the_next() -> None:
    pair = [BarMarks(ending=(1,), ending_stops=True, repeat_end=2), BarMarks(ending=(2,), ending_stops=True)]
    marks = [BarMarks(repeat_start=True), *pair, BarMarks(repeat_start=True), *pair]
    assert played(*marks) == [1, 2, 1, 3, 4, 5, 4, 6]


def test_da_capo_al_fine_ends_at_the_fine() -> None:
    assert played(PLAIN, BarMarks(fine=True), PLAIN, BarMarks(jump="capo", until="fine")) == [1, 2, 3, 4, 1, 2]


def test_dal_segno_al_coda_leaps_to_the_coda() -> None:
    marks = [
        PLAIN,
        BarMarks(segno=True),
        BarMarks(to_coda=True),
        BarMarks(jump="segno", until="coda"),
        BarMarks(coda=True),
        PLAIN,
    ]
    assert played(*marks) == [1, 2, 3, 4, 2, 3, 5, 6]


def test_after_a_leap_back_repeats_are_not_made_and_the_last_ending_is_taken() -> None:
    marks = [
        PLAIN,
        BarMarks(ending=(1,), ending_stops=True, repeat_end=2),
        BarMarks(ending=(2,), ending_stops=True, fine=True),
        BarMarks(jump="capo", until="fine"),
    ]
    assert played(*marks) == [1, 2, 1, 3, 4, 1, 3]


def test_after_a_leap_back_the_ending_with_the_fine_is_taken() -> None:
    marks = [
        PLAIN,
        BarMarks(ending=(1,), ending_stops=True, repeat_end=2, fine=True),
        BarMarks(ending=(2,), ending_stops=True),
        BarMarks(jump="capo", until="fine"),
    ]
    assert played(*marks) == [1, 2, 1, 3, 4, 1, 2]


def test_a_repeat_marked_for_it_is_made_after_the_leap_too() -> None:
    marks = [BarMarks(repeat_end=2, repeat_after_jump=True), BarMarks(jump="capo"), PLAIN]
    assert played(*marks) == [1, 1, 2, 1, 1, 2, 3]


def test_a_fine_is_passed_over_before_the_leap_and_a_leap_is_taken_once() -> None:
    assert played(BarMarks(fine=True), BarMarks(jump="capo")) == [1, 2, 1]
    assert played(PLAIN, BarMarks(jump="capo"), PLAIN) == [1, 2, 1, 2, 3]


def test_signs_without_a_leap_change_nothing() -> None:
    assert played(BarMarks(segno=True), BarMarks(to_coda=True), BarMarks(coda=True), BarMarks(fine=True)) == [
        1,
        2,
        3,
        4,
    ]


def test_repeats_without_end_are_refused() -> None:
    with pytest.raises(ChartError, match="lead to more than"):
        playing_order([PLAIN] * (MOST_BARS // 16) + [BarMarks(repeat_end=17)])


MARKS = st.builds(
    BarMarks,
    repeat_start=st.booleans(),
    repeat_end=st.sampled_from([0, 0, 2, 3]),
    repeat_after_jump=st.booleans(),
    ending=st.sampled_from([(), (), (1,), (2,), (1, 2), (3,)]),
    ending_stops=st.booleans(),
    segno=st.booleans(),
    coda=st.booleans(),
    to_coda=st.booleans(),
    fine=st.booleans(),
    jump=st.sampled_from(["", "", "", "capo", "segno"]),
    until=st.sampled_from(["", "fine", "coda"]),
)


@given(st.lists(MARKS, min_size=1, max_size=12))
def test_any_marks_come_to_an_end(marks: list[BarMarks]) -> None:
    try:
        order = playing_order(marks)
    except ChartError:
        return
    assert order and set(order) <= set(range(len(marks)))


def test_a_repeat_that_says_so_is_made_again_after_the_leap_and_the_coda_waits_for_its_last_time() -> None:
    last = BarMarks(repeat_end=2, repeat_after_jump=True, to_coda=True, jump="capo", until="coda")
    assert played(PLAIN, last, BarMarks(coda=True)) == [1, 2, 1, 2, 1, 2, 1, 2, 3]
    first = BarMarks(ending=(1,))
    close = BarMarks(ending_stops=True, repeat_end=2, repeat_after_jump=True)
    second = BarMarks(ending=(2,), ending_stops=True, to_coda=True, jump="capo", until="coda")
    assert played(PLAIN, first, close, second, BarMarks(coda=True)) == [1, 2, 3, 1, 4, 1, 2, 3, 1, 4, 5]


SIGNS = {
    "[": {"repeat_start": True}, "]": {"repeat_end": 2}, "3": {"repeat_end": 3}, "*": {"repeat_after_jump": True},
    "/": {"ending_stops": True}, "S": {"segno": True}, "O": {"coda": True}, "t": {"to_coda": True},
    "f": {"fine": True}, "C": {"jump": "capo"}, "D": {"jump": "segno"}, "F": {"until": "fine"},
    "K": {"until": "coda"}, "a": {"ending": (1,)}, "b": {"ending": (2,)}, "c": {"ending": (3,)},
    "x": {"ending": (1, 2)}, "y": {"ending": (1, 3)}, ".": {},
}  # fmt: skip
"""A letter or sign for each mark of a bar: endings small, leaps and their places in capitals."""


@pytest.mark.parametrize(
    ("page", "order"),
    [
        (". a/] b/ . ]", "1 2 1 3 4 5 4 5"),
        (". [ . ] .", "1 2 3 4 2 3 4 5"), ("[ . ] [ . ] .", "1 2 3 1 2 3 4 5 6 4 5 6 7"),
        (". ] . ] .", "1 2 1 2 3 4 3 4 5"), (". [ 3 . ]", "1 2 3 2 3 2 3 4 5 4 5"),
        (". a . ] b . / .", "1 2 3 4 1 5 6 7 8"), (". a/ . ] b/ .", "1 2 3 4 1 5 6"),
        (". a/] b/] c/ .", "1 2 1 3 1 4 5"), (". a/] b/] .", "1 2 1 3 4"), (". x/] c/ .", "1 2 1 2 1 3 4"),
        (". y/] b/] .", "1 2 1 3 1 2 4"), (". y/] b/ .", "1 2 1 3 4"), (". a . b . .", "1 2 3 4 5 6"),
        (". a/ b/ .", "1 2 3 4"), ("[ a/] b/ [ a/] b/ .", "1 2 1 3 4 5 4 6 7"),
        ("[ a/] b/] [ a/] b/] .", "1 2 1 3 4 5 4 6 7"), (". a/] . . a/] .", "1 2 1 3 4 5 3 4 6"),
        (". a/] . ] .", "1 2 1 3 4 3 4 5"), (". a/ [ . ] b/ .", "1 2 3 4 5 3 4 5 6 7"),
        (". a/ . [ ] b/ .", "1 2 3 4 5 4 5 6 7"), (". a . ] . ] b/", "1 2 3 4 1 5 6 5 6 7"),
        (". . f . CF", "1 2 3 4 5 1 2 3"), (". f] . CF", "1 2 1 2 3 4 1 2"), (". S . DF f", "1 2 3 4 2 3 4 5"),
        (". S f . DF .", "1 2 3 4 5 2 3"), (". S t . DK O .", "1 2 3 4 5 2 3 6 7"),
        (". t . CK O .", "1 2 3 4 1 2 5 6"), (". t ] . CK O .", "1 2 3 1 2 3 4 5 1 2 6 7"),
        (". t f CK O f .", "1 2 3 4 1 2 5 6"), (". t f CF O f .", "1 2 3 4 1 2 3"), (". f t C O .", "1 2 3 4 1 2"),
        (". t f C O . f .", "1 2 3 4 1 2 5 6 7"), (". S . S . D .", "1 2 3 4 5 6 4 5 6 7"),
        (". . D S .", "1 2 3 4 5"), (". a/] b/f CF .", "1 2 1 3 4 1 3"), (". a/]t b/ CK O .", "1 2 1 3 4 1 2 5 6"),
        (". a/] b/t CK O .", "1 2 1 3 4 1 3 5 6"), (". a/*] b/ C .", "1 2 1 3 4 1 2 1 3 4 5"),
        (". a/*]f b/ CF .", "1 2 1 3 4 1 2 1 3 4 5"), (". ]* f CF .", "1 2 1 2 3 4 1 2 1 2 3"),
        (". ]*f . CF .", "1 2 1 2 3 4 1 2 1 2"), (". ]*t . CK O .", "1 2 1 2 3 4 1 2 1 2 5 6"),
        (". ] CF f ]", "1 2 1 2 3 1 2 3 4"), (". C . C f", "1 2 1 2 3 4 1 2 3 4 5"),
        (". C . D S .", "1 2 1 2 3 4 5 6"), ("O t . CK . O", "1 2 3 4 1 2 6"), (". a/] b/C .", "1 2 1 3 1 3 4"),
        (". a/] b/ C .", "1 2 1 3 4 1 3 4 5"), ("[ . ] . C", "1 2 3 1 2 3 4 5 1 2 3 4 5"),
        (". [ . C ] .", "1 2 3 4 1 2 3 4 5 6"), (". a/C b/ .", "1 2 1 2 3 4"),
        (". a/] b/ . D S a/] b/ .", "1 2 1 3 4 5 6 8 9"), (". S a/] b/ DF f", "1 2 3 1 2 4 5 2 4 5 6"),
        (". S a/]f b/ DF .", "1 2 3 1 2 4 5 2 3"),
        ("a ]", "1 2"), (". a ] .", "1 2 3 1 4"), ("a/ ] a/] .", "1 2 3 4"), (". a/ ] ] b/ .", "1 2 3 3 4 4 5 6"),
        (". a/ ] .", "1 2 3 3 4"), ("D t .", "1 1 2 3"), ("D O t .", "1 1 2 3 2 3 4"),
        (". O O t C .", "1 2 3 4 5 1 2 3 4 3 4 5 6"), ("D S S .", "1 2 3 4"), ("D .", "1 1 2"),
        (". . D S S . .", "1 2 3 4 5 6 7"), (". y/] b ] .", "1 2 1 3 4 1 2 5"),
    ],
)  # fmt: skip
def test_a_page_is_played_as_its_signs_say(page: str, order: str) -> None:
    marks: list[BarMarks] = []
    for bar in page.split():
        told: dict[str, Any] = {}
        for sign in bar:
            told |= SIGNS[sign]
        marks.append(BarMarks(**told))
    assert " ".join(map(str, played(*marks))) == order
