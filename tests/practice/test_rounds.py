"""What a round's verdict counts."""

from __future__ import annotations

import pytest

from companion.practice.judging import JudgedNote
from companion.practice.passage import passage
from companion.practice.rounds import RoundPlayed, Verdict
from companion.preferences.drills import MemoryStep
from tests.practice.test_partner import TUNE


def noted(*late: float | None, forgiven: bool = False) -> Verdict:
    notes = [JudgedNote("right", float(n), 60, 60, 1.0, one) for n, one in enumerate(late)]
    other = JudgedNote("extra", 9.0, None, 61, 1.0, 80.0, forgiven=forgiven)
    return Verdict(True, "clean", (*notes, other))


@pytest.mark.parametrize(
    ("late", "spread"),
    [
        ((), None),
        ((10.0, 20.0), None),
        ((10.0, 20.0, 30.0), 8.2),
        ((0.0, None, 0.0), None),
        ((0.0, 0.0, 30.0, 30.0), 15.0),
    ],
)
def test_how_even_a_round_was_is_told_from_three_notes_on(late: tuple[float | None, ...], spread: float | None) -> None:
    """Standard deviation of the whole; what is no right note doesn't count."""
    assert noted(*late).spread_ms == spread


def test_what_is_forgiven_is_not_counted() -> None:
    assert noted(1.0, 2.0).counts() == {"right": 2, "wrong": 0, "missing": 0, "extra": 1}
    assert noted(1.0, 2.0, forgiven=True).counts()["extra"] == 0


@pytest.mark.parametrize(
    ("withheld", "hidden"), [("companion", False), ("roots", True), ("click", True), ("alone", True)]
)
def test_nothing_of_the_tune_is_shown_from_the_first_step_towards_memory_on(withheld: MemoryStep, hidden: bool) -> None:
    played = RoundPlayed(1, (1, 4), frozenset({"melody"}), "C", 60.0, passage(TUNE, 1, 4), 0.0, 4.0, withheld)
    assert played.hidden is hidden
