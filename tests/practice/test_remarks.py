"""What is said over the bars of a take's paper: in a few words, at the bar, whatever way the player took."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from companion.practice.remarks import MOST, joined, placed, take_remarks, words_at_bar
from companion.practice.review import Finding
from companion.stage.take_chart import bars_gone_through, take_chart
from tests.practice.test_judged_bars import BAD
from tests.practice.test_partner import take_of
from tests.practice.test_proposal import LINE


def finding(bar: int, text: str = "E missed", what: Any = "missed-note", chorus: int = 1) -> Finding:
    return Finding(bar, chorus, what, 1.0, f"{f'bar {bar}' if bar else 'the pickup'}: {text}")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("bar 5: E missed", "E missed"),
        ("the pickup: hesitated for 1.2 s", "hesitated for 1.2 s"),
        ("bars 5 to 8: rushed by 40 ms a beat", "bars 5 to 8: rushed by 40 ms a beat"),
        ("went astray", "went astray"),
    ],
)
def test_a_bar_that_is_seen_is_not_named_but_a_row_of_bars_is(text: str, words: str) -> None:
    assert words_at_bar(Finding(5, 1, "missed-note", 1.0, text)) == words


def test_several_findings_of_a_bar_are_joined_and_what_comes_twice_is_said_once() -> None:
    assert joined([finding(5), finding(5, "F, not F♯"), finding(5)]) == "E missed; F, not F♯"


def test_of_many_the_first_are_said() -> None:
    said = joined([finding(5, f"{n} missed") for n in range(MOST + 3)])
    assert said == "0 missed; 1 missed; 2 missed; 3 missed; and 3 more"
    assert joined([finding(5, f"{n} missed") for n in range(MOST + 2)]).endswith("3 missed; and 2 more")
    assert "more" not in joined([finding(5, f"{n} missed") for n in range(MOST + 1)]), "one more has room"


def test_each_time_through_has_its_own_remarks() -> None:
    played = [(bar, chorus) for chorus in (1, 2) for bar in (1, 2, 3)]
    found = placed([finding(2), finding(1, chorus=2), finding(2, chorus=2)], played)
    assert sorted(found) == [1, 3, 4]


def test_after_going_back_what_is_said_stands_at_the_second_time() -> None:
    """Bars 1 2 3 | 2 3 4: a slip in the first bar 2, one in the second bar 3."""
    played = [(1, 1), (2, 1), (3, 1), (2, 1), (3, 1), (4, 1)]
    found = placed([finding(2), finding(3, "went back to bar 2", "restarted"), finding(3, "A missed")], played)
    assert {at: [one.text for one in said] for at, said in found.items()} == {
        1: ["bar 2: E missed"],
        2: ["bar 3: went back to bar 2"],
        4: ["bar 3: A missed"],
    }


def test_a_bar_that_is_not_on_paper_has_no_remark_and_one_counted_otherwise_finds_its_bar() -> None:
    assert placed([finding(9)], [(1, 1), (2, 1)]) == {}
    assert sorted(placed([finding(2, chorus=3)], [(1, 1), (2, 1)])) == [1]
    assert sorted(placed([finding(1), finding(1)], [(1, 1), (2, 1), (1, 1)])) == [0], "the first time that it is there"


def test_the_remarks_of_a_take_stand_over_the_bars_on_its_paper(tmp_path: Path) -> None:
    take = take_of(tmp_path, [[*LINE[:2], None, *LINE[3:]], BAD], you="melody")
    form = take_chart(take, alone=True).chart.unfold()
    assert bars_gone_through(take) == [(bar, chorus) for chorus in (1, 2) for bar in (1, 2, 3, 4)]
    assert len(form.bars) == 8
    remarks = take_remarks(take, len(form.bars), pickup=True)
    assert set(remarks) == {1, 6}, "the first bar, though a pickup is before it, and bar 2 of the second time through"
    assert "missed" in remarks[6] and "not G" in remarks[6]


def test_what_is_said_of_the_pickup_stands_before_the_first_bar() -> None:
    played = [(1, 1), (2, 1), (1, 2)]
    found = placed([finding(0), finding(1), finding(0, chorus=2), finding(1, chorus=2)], played)
    assert {at: len(said) for at, said in found.items()} == {-1: 2, 0: 1, 2: 1}


def test_going_back_to_the_pickup_leaves_the_bars_where_they_are() -> None:
    back = finding(0, "went back to the pickup", "restarted")
    assert sorted(placed([back, finding(1)], [(1, 1), (2, 1)])) == [-1, 0]
