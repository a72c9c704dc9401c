"""What the rhythm of a beat costs, every cost counting, and what a tune's own habits make of it."""

from __future__ import annotations

from fractions import Fraction
from math import exp, log

import pytest

from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.rhythms import Rhythms, _weighed, division, divisions_of, habit_of

COSTS = preferences(CapturePreferences)
SIMPLE = {1: 0.4, 2: 1.2, 4: 4.2, 8: 9.0, 3: 4.2, 6: 8.0}
COMPOUND = {1: 0.8, 3: 0.7, 6: 4.0, 2: 5.0, 4: 6.5}


def places(text: str) -> tuple[int, ...]:
    """24ths of the beat from parts of it."""
    return tuple(round(Fraction(part) * 24) for part in text.split())


@pytest.mark.parametrize(
    ("struck", "parts"),
    [
        ("", 1), ("0", 1), ("1/2", 2), ("0 1/2", 2), ("3/4", 4), ("0 1/2 3/4", 4), ("7/8", 8), ("1/3", 3),
        ("0 2/3", 3), ("1/6", 6), ("0 1/3 1/2", 6), ("1/4 1/3", 0), ("1/24", 0), ("1/8 1/6", 0),
    ],
)  # fmt: skip
def test_the_coarsest_division_that_has_all_places(struck: str, parts: int) -> None:
    assert division(places(struck)) == parts


@pytest.mark.parametrize(
    ("struck", "even", "owed", "cost", "owes"),
    [  # division, pattern, and what hangs over from the beat before
        ("", False, "", 0.4, ""),
        ("0", False, "", 0.4, ""),
        ("", False, "beat", 0.4 + 3.2, ""),
        ("0", False, "beat", 0.4, ""),
        ("0 1/2", False, "", 1.2, ""),
        ("1/2", False, "", 1.2 + 0.4, ""),
        ("1/2", False, "beat", 1.2 + 0.4 + 3.2, ""),
        ("1/2", True, "", None, ""),  # a half that sounds half way, in a tune that swings, stands beside semiquavers
        ("1/2 3/4", True, "", 4.2 + 1.8, "beat"),
        ("0 3/4", False, "", 4.2, "beat"),
        ("0 1/4 1/2", False, "", 4.2 + 2.3, ""),
        ("1/4", False, "", 4.2 + 3.0, "beat"),
        ("0 7/8", False, "", 9.0, "beat"),
        ("0 1/3 2/3", False, "", 4.2, ""),
        ("0 1/3", False, "", 4.2 + 3.0, "beat"),
        ("0 2/3", False, "", 4.2 + 1.0, "third"),  # three crotchets in the time of two
        ("2/3", False, "", 4.2 + 1.0 + 3.0, "third"),
        ("1/3", False, "third", 1.0, ""),
        ("0", False, "third", 0.4, ""),
        ("1/2", False, "third", 1.2 + 0.4 + 3.2, ""),
        ("0 1/6 1/3 1/2 2/3 5/6", False, "", 8.0, "beat"),
        ("1/24", False, "", None, ""),
    ],
)
def test_what_a_beat_costs_in_a_simple_metre(struck: str, even: bool, owed: str, cost: float | None, owes: str) -> None:
    found = Rhythms(SIMPLE, COSTS, False, {}).close(places(struck), even, owed)
    assert found == (None if cost is None else (pytest.approx(cost), owes))


@pytest.mark.parametrize(
    ("struck", "cost", "owes"),
    [
        ("0", 0.8, ""),
        ("0 1/3 2/3", 0.7, ""),
        ("1/3", 0.7 + 0.5, ""),
        ("2/3", 0.7 + 0.3, ""),
        ("0 2/3", 0.7, ""),
        ("0 1/2", 5.0, "beat"),
        ("0 1/6 1/3", 4.0, ""),
        ("0 5/6", 4.0, "beat"),
        ("0 1/4 1/2 3/4", 6.5, "beat"),
        ("7/8", None, ""),
    ],
)
def test_what_a_dotted_beat_costs_in_a_compound_metre(struck: str, cost: float | None, owes: str) -> None:
    found = Rhythms(COMPOUND, COSTS, True, {}).close(places(struck), False, "")
    assert found == (None if cost is None else (pytest.approx(cost), owes))


def test_the_kinds_of_tune_are_those_of_the_metre_the_usual_first() -> None:
    assert (divisions_of(COSTS, False)[0], divisions_of(COSTS, True)[0]) == (SIMPLE, COMPOUND)
    assert (len(divisions_of(COSTS, False)), len(divisions_of(COSTS, True))) == (3, 2)


def test_a_tunes_own_pattern_costs_what_it_does_there() -> None:
    own = Rhythms(SIMPLE, COSTS, False, {places("1/2"): 0.1})
    assert own.close(places("1/2"), False, "") == (pytest.approx(1.3), "")


def test_what_is_met_weighs_against_what_is_usual() -> None:
    """The mean of a Dirichlet posterior, and what it pays for leaving the prior's mean: of two things as frequent as
    each other one is met six times, the other twice; the usual weighs as much as eight."""
    usual = {"a": log(2), "b": log(2)}
    costs, told = _weighed(usual, {"a": 6, "b": 2, "c": 5}, 8.0)
    assert costs == {"a": pytest.approx(-log(10 / 16)), "b": pytest.approx(-log(6 / 16))}
    assert told == pytest.approx(8 * (0.5 * (-log(10 / 16) - log(2)) + 0.5 * (-log(6 / 16) - log(2))))


def test_who_plays_as_is_usual_and_nothing_tells_nothing() -> None:
    habit = habit_of([], 0, SIMPLE, COSTS, False)
    assert habit.divisions == {n: pytest.approx(-log(30 * exp(-cost) / 30)) for n, cost in SIMPLE.items()}
    assert habit.grace == pytest.approx(0.0) and habit.told == pytest.approx(0.0)


def test_beats_without_an_onset_count_as_undivided() -> None:
    """Struck on two beats of nine: eight of the nine are on the beat alone or silent."""
    habit = habit_of([(2, 0), (10, 0), (10, 12)], 0, SIMPLE, COSTS, False)
    assert habit.divisions[1] == pytest.approx(-log((8 + 30 * exp(-0.4)) / 39))
    assert habit.divisions[2] == pytest.approx(-log((1 + 30 * exp(-1.2)) / 39))
    assert habit.divisions[3] == pytest.approx(-log(30 * exp(-4.2) / 39))


def test_grace_notes_are_rarer_in_a_tune_that_has_none() -> None:
    """One in e⁴ notes is usual and weighs as much as a hundred; none of three, or two of four."""
    usual = exp(-4.0)
    none = habit_of([(0, 0), (1, 0), (2, 0)], 0, SIMPLE, COSTS, False)
    assert none.grace == pytest.approx(-log(100 * usual / 103 / usual))
    two = habit_of([(0, 0), (1, 0), (2, 0), (3, 0)], 2, SIMPLE, COSTS, False)
    assert two.grace == pytest.approx(-log((2 + 100 * usual) / 104 / usual))


@pytest.mark.parametrize(("semiquavers", "rarer"), [(0, log(1.4)), (1, 0.0)])
def test_two_semiquavers_and_a_quaver_are_rarer_where_no_beat_has_four(semiquavers: int, rarer: float) -> None:
    """A tenth of the beats would have the second and the fourth of four; of four beats none has, or one."""
    struck = [(0, 0), (1, 0), (2, 0), (3, 0), *((3, place) for place in (6, 12, 18) if semiquavers)]
    habit = habit_of(struck, 0, SIMPLE, COSTS, False)
    without = habit.patterns[places("0 1/4 1/2")] - habit.patterns[places("0 1/4")]
    assert without == pytest.approx(2.3 - 2.5 + rarer)
    compound = habit_of(struck[:4], 0, COMPOUND, COSTS, True)
    assert compound.patterns[places("1/3")] - compound.patterns[places("2/3")] == pytest.approx(0.2)
