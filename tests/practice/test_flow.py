"""Where a take stopped flowing: told at its bar, from alignments of which everything is known."""

from __future__ import annotations

import pytest

from companion.chart.toml.read import parse_toml
from companion.practice.alignment import Alignment, TakeMove
from companion.practice.begun_again import BegunAgain
from companion.practice.findings import Finding
from companion.practice.flow import flow_findings
from companion.practice.judging import JudgedNote
from companion.practice.sweeps import Sweep

QUARTER = 0.5
FORM = parse_toml("""
format = 1
title = "Steps"
key = "C major"
form = "A A"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| C2 D2 E2 F2 | G2 A2 B2 c2 | C2 D2 E2 F2 | G2 A2 B2 c2 |"
""").unfold()
"""Eight bars with a note on each beat."""


def sweep(low: float, high: float, start: float = 0.0, **more: tuple[tuple[float, float], ...]) -> Sweep:
    moments = tuple((low + n, start + n * QUARTER) for n in range(int(high - low) + 1))
    return Sweep(low, high, moments, **more)


def played(low: float, end: float) -> tuple[JudgedNote, ...]:
    """A note on each beat from one beat up to another, through the choruses."""
    return tuple(
        JudgedNote("right", n % 32 if n >= 0 else n, 60, 60, n * QUARTER, 0.0, chorus=max(0, int(n // 32)) + 1)
        for n in (low + k for k in range(int(end - low)))
    )


def told(alignment: Alignment, again: dict[float, BegunAgain] | None = None) -> list[tuple[float, Finding]]:
    return flow_findings(FORM, alignment, {"melody"}, again)


def moved(
    left: float,
    landed: float,
    *,
    last: float | None = None,
    first: float | None = None,
    pause: float = 0.0,
    free: tuple[tuple[float, float], ...] = (),
    free_after: tuple[tuple[float, float], ...] = (),
    low: float = 0.0,
) -> Alignment:
    """One who left the course at a beat and landed on another; what they played last and first lies there, or not."""
    before, after = sweep(low, left, free=free), sweep(landed, landed + 8, 20.0, free=free_after)
    notes = played(low, left if last is None else last + 1), played(landed if first is None else first, landed + 8)
    return Alignment(notes, (before, after), (TakeMove(20.0, left % 32, landed % 32, pause),))


@pytest.mark.parametrize(
    ("alignment", "finding"),
    [
        (moved(8, 8, pause=1.26), Finding(3, 1, "hesitated", 1.26, "bar 3: hesitated for 1.3 s")),
        (moved(8, 8, pause=1.256), Finding(3, 1, "hesitated", 1.26, "bar 3: hesitated for 1.3 s")),
        (moved(40, 40, pause=2.0), Finding(3, 2, "hesitated", 2.0, "bar 3: hesitated for 2.0 s")),
        (moved(8, 4), Finding(2, 1, "restarted", 1.0, "bar 2: begun again")),
        (moved(8, 0), Finding(2, 1, "restarted", 2.0, "bar 2: went back to bar 1")),
        (moved(12, 2), Finding(3, 1, "restarted", 2.5, "bar 3: went back to bar 1")),
        (moved(40, 32), Finding(2, 2, "restarted", 2.0, "bar 2: went back to bar 1")),
        # Who ran on to the next downbeat, and no farther, began the bar before it again ...
        (moved(9, 4), Finding(2, 1, "restarted", 1.25, "bar 2: begun again")),
        (moved(9, 4, pause=1.9), Finding(2, 1, "restarted", 1.25, "bar 2: begun again")),
        # ... but may have gone through the bar who was silent for the rest of it.
        (moved(9, 4, pause=2.1), Finding(3, 1, "restarted", 1.25, "bar 3: went back to bar 2")),
        (moved(9, 4, pause=1.99), Finding(2, 1, "restarted", 1.25, "bar 2: begun again")),
        (moved(9, 4, pause=2.0), Finding(3, 1, "restarted", 1.25, "bar 3: went back to bar 2")),
        (moved(9, 4, pause=2.01), Finding(3, 1, "restarted", 1.25, "bar 3: went back to bar 2")),
        (moved(10, 4), Finding(3, 1, "restarted", 1.5, "bar 3: went back to bar 2")),
        (moved(9, 0), Finding(3, 1, "restarted", 2.25, "bar 3: went back to bar 1")),
        (moved(32, 28), Finding(8, 1, "restarted", 1.0, "bar 8: begun again")),
        (moved(8, 16), Finding(3, 1, "skipped", 2.0, "bar 3: left out; you went on at bar 5")),
        (moved(8, 18), Finding(3, 1, "skipped", 2.5, "bar 3: left out; you went on at bar 5")),
        (moved(8, 16, last=5), Finding(2, 1, "skipped", 2.0, "bar 2: left out; you went on at bar 5")),
        (moved(8, 16, last=6), Finding(2, 1, "skipped", 2.0, "bar 2: left out; you went on at bar 5")),
        (moved(8, 3.5), Finding(2, 1, "restarted", 1.12, "bar 2: went back to bar 1")),
        (moved(1, -1), Finding(1, 1, "restarted", 0.5, "bar 1: went back to the pickup")),
        (moved(11.5, 12, last=11), Finding(3, 1, "skipped", 0.12, "bar 3: left out; you went on at bar 4")),
        (moved(36, 44), Finding(2, 2, "skipped", 2.0, "bar 2: left out; you went on at bar 4")),
        (moved(30, 36), Finding(8, 1, "skipped", 1.5, "bar 8: left out; you went on at bar 2")),
    ],
)  # fmt: skip
def test_a_leap_is_told_at_the_bar_where_the_course_was_left(alignment: Alignment, finding: Finding) -> None:
    assert told(alignment) == [(20.0, finding)]


def test_where_no_note_was_struck_the_sweeps_tell_where_the_player_was() -> None:
    silent = Alignment(((), ()), (sweep(0, 8), sweep(0, 8, 20.0)), (TakeMove(20.0, 8, 0, 0.0),))
    assert [one.text for _, one in told(silent)] == ["bar 2: went back to bar 1"]
    extra = JudgedNote("extra", 30.0, None, 61, 1.0)
    missing = JudgedNote("missing", 30.0, 61, None, None)
    other = Alignment(((extra, missing), ()), silent.sweeps, silent.moves)
    assert told(other) == told(silent), "keys that weren't asked for and notes that weren't struck tell nothing"


@pytest.mark.parametrize(
    ("free", "free_after", "many"),
    [
        (((4.0, 8.0),), (), 0),
        (((4.0, 7.0),), (), 1),
        ((), ((0.0, 4.0),), 0),
        ((), ((1.0, 4.0),), 1),
    ],
)
def test_where_something_else_was_played_nobody_knows_whether_they_leapt(
    free: tuple[tuple[float, float], ...], free_after: tuple[tuple[float, float], ...], many: int
) -> None:
    assert len(told(moved(8, 0, free=free, free_after=free_after))) == many


@pytest.mark.parametrize(
    ("beat", "by", "text"),
    [
        (4.0, 0.5, "bar 2: hesitated for 0.5 s"),
        (4.0, 0.49, None),
        (3.9, 0.96, "bar 1: hesitated for 1.0 s"),
        (36.0, 0.7, "bar 2: hesitated for 0.7 s"),
        (4.0, 0.66, "bar 2: hesitated for 0.7 s"),
        (-1.0, 0.7, "the pickup: hesitated for 0.7 s"),
    ],
)
def test_holding_back_for_half_a_second_is_told_at_its_bar(beat: float, by: float, text: str | None) -> None:
    one = sweep(-2.0, 40.0, held=((beat, by),))
    found = told(Alignment((played(-2.0, 40.0),), (one,), ()))
    assert [(moment, finding.text, finding.figure) for moment, finding in found] == (
        [] if text is None else [(pytest.approx((beat + 2) * QUARTER), text, by)]
    )
    assert all(finding.chorus == (2 if beat > 32 else 1) for _, finding in found)


@pytest.mark.parametrize(("start", "bar", "chorus"), [(4.0, 2, 1), (36.0, 2, 2), (-2.0, 0, 1)])
def test_a_bar_that_was_begun_again_after_a_pause_is_told_instead_of_the_pause(
    start: float, bar: int, chorus: int
) -> None:
    alignment = moved(8, 8, pause=1.0)
    ((moment, one),) = told(alignment, {20.0: BegunAgain(start, 0.256), 21.0: BegunAgain(0.0, 1.0)})
    place = f"bar {bar}" if bar else "the pickup"
    assert (moment, one) == (20.0, Finding(bar, chorus, "restarted", 0.26, f"{place}: begun again"))


def test_a_hesitation_is_figured_to_a_hundredth_of_a_second() -> None:
    one = sweep(0.0, 16.0, held=((4.0, 0.966),))
    ((_, found),) = told(Alignment((played(0.0, 16.0),), (one,), ()))
    assert (found.figure, found.text) == (0.97, "bar 2: hesitated for 1.0 s")
