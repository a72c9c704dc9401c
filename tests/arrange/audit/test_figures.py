"""Figures with targets: when one is reached, what several charts come to, and which misses are listed."""

from __future__ import annotations

import pytest

from companion.arrange.audit.figures import AuditFigure, HitCount, enough, totals


@pytest.mark.parametrize(
    ("value", "at_least", "at_most", "of", "reached"),
    [
        (0.5, 0.5, None, 1, True),
        (0.5 - 1e-6, 0.5, None, 1, False),
        (0.6, 0.5, 0.6, 1, True),
        (0.6 + 1e-6, 0.5, 0.6, 1, False),
        (0.4, None, 0.6, 1, True),
        (0.7, None, 0.6, 1, False),
        (0.7, None, None, 1, True),
        (0.0, 0.5, None, 0, True),  # nothing to count
        (0.7, 0.8, 0.6, 1, False),
    ],
)
def test_a_figure_is_reached_within_its_targets(
    value: float, at_least: float | None, at_most: float | None, of: int, reached: bool
) -> None:
    assert AuditFigure("x", value, at_least, at_most, of).reached == reached


def test_over_several_charts_each_case_counts_and_the_worst_is_the_farthest_beside_its_target() -> None:
    one, two = AuditFigure("x", 0.5, 0.8, None, 10, part="bass"), AuditFigure("x", 0.9, 0.8, None, 30, part="bass")
    other = AuditFigure("x", 0.3, None, 0.2, 4, part="chords")
    found = totals([("a", [one, other]), ("b", [two]), ("c", [AuditFigure("x", 0.0, 0.8, None, 0, part="bass")])])
    assert [(t.figure, t.worst, t.worst_chart, t.missed) for t in found] == [
        (one, 0.5, "a", ("a",)),
        (other, 0.3, "a", ("a",)),
    ]
    assert [t.mean for t in found] == pytest.approx([0.8, 0.3])


@pytest.mark.parametrize(("value", "worst"), [(0.85, "b"), (0.1, "a")])
def test_between_two_targets_the_nearer_one_counts(value: float, worst: str) -> None:
    one, two = AuditFigure("x", value, 0.2, 0.8), AuditFigure("x", 0.5, 0.2, 0.8)
    (total,) = totals([("a" if worst == "a" else "b", [one]), ("other", [two])])
    assert (total.worst, total.worst_chart) == (value, worst)
    (free,) = totals([("a", [AuditFigure("x", 0.5)])])
    assert (free.worst, free.missed) == (0.5, ())


@pytest.mark.parametrize(
    ("of", "at_least", "at_most", "kept"),
    [
        (199, 0.5, None, False),
        (200, 0.5, None, True),
        (1, None, 4.0, True),
        (2, None, 4.0, False),
        (1, 0.5, None, False),
    ],
)
def test_few_cases_have_no_target_but_a_longest_run_has(
    of: int, at_least: float | None, at_most: float | None, kept: bool
) -> None:
    one = AuditFigure("x", 0.3, at_least, at_most, of)
    (found,) = enough([one])
    assert found == (one if kept else AuditFigure("x", 0.3, of=of))


def test_hits_are_counted_and_the_first_eight_misses_listed() -> None:
    count = HitCount()
    for n in range(12):
        count.add(n == 0, (lambda n=n: f"bar {n}") if n % 2 else f"bar {n}", n > 0)
    figure = count.figure("x", at_least=0.5, at_most=0.9)
    assert (figure.value, figure.of, figure.at_least, figure.at_most) == (1 / 12, 12, 0.5, 0.9)
    assert figure.places == tuple(f"bar {n}" for n in range(1, 9))
    assert HitCount().figure("x").value == 0
