"""Figures with targets, and counters for them, shared by the audits.

Conventions: shares are fractions of 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from companion.arrange.part import Note

Choruses = Sequence[Sequence[Note]]
"""The notes of a part, chorus by chorus."""


@dataclass(frozen=True)
class AuditFigure:
    """One figure of an audit."""

    name: str
    value: float
    at_least: float | None = None
    at_most: float | None = None
    of: int = 1
    """How many cases it was counted over."""
    places: tuple[str, ...] = ()
    """Where it went wrong, the first few."""
    part: str = ""
    """What it is about: 'walking bass', 'bass', 'chords', 'touch', 'harmony'."""

    @property
    def reached(self) -> bool:
        """Whether the target is met; so is one with nothing to count."""
        if not self.of:
            return True
        low = self.at_least is None or self.value >= self.at_least - 1e-9
        return low and (self.at_most is None or self.value <= self.at_most + 1e-9)


@dataclass(frozen=True)
class Total:
    """One figure over several charts."""

    figure: AuditFigure
    """As it is of the first chart that has it: its name, its part and its target."""
    mean: float
    """Over all cases of all charts."""
    worst: float
    worst_chart: str
    missed: tuple[str, ...]
    """The charts that miss the target."""


def totals(found: Sequence[tuple[str, Sequence[AuditFigure]]]) -> list[Total]:
    """The figures of several charts, each with the chart's name, summed up; those with nothing to count left out."""
    rows: dict[tuple[str, str], list[tuple[str, AuditFigure]]] = {}
    for chart, figures in found:
        for figure in figures:
            if figure.of:
                rows.setdefault((figure.part, figure.name), []).append((chart, figure))
    return [_total(row) for row in rows.values()]


def _total(row: Sequence[tuple[str, AuditFigure]]) -> Total:
    one = row[0][1]
    chart, worst = max(row, key=lambda entry: _shortfall(entry[1]))
    mean = sum(figure.value * figure.of for _, figure in row) / sum(figure.of for _, figure in row)
    return Total(one, mean, worst.value, chart, tuple(name for name, figure in row if not figure.reached))


def _shortfall(figure: AuditFigure) -> float:
    """How far a figure is from its target, on the wrong side; negative on the right one."""
    low = figure.at_least - figure.value if figure.at_least is not None else float("-inf")
    return max(low, figure.value - figure.at_most if figure.at_most is not None else float("-inf"))


ENOUGH = 200
"""Cases from which on a share of what is left to chance says something."""


def enough(found: Sequence[AuditFigure]) -> list[AuditFigure]:
    """The figures, those counted over few cases without their targets; a longest run, one case, keeps its own."""
    longest = [one.of == 1 and one.at_least is None for one in found]
    return [
        one if one.of >= ENOUGH or run else replace(one, at_least=None, at_most=None)
        for one, run in zip(found, longest, strict=True)
    ]


class HitCount:
    """Hits and cases of one figure, with the places of the misses."""

    def __init__(self) -> None:
        self.hits, self.cases = 0, 0
        self.places: list[str] = []

    def add(self, hit: bool, place: str | Callable[[], str], noted: bool) -> None:
        """One case: whether it is a hit, where it was (asked for when it is needed), whether it is listed as a miss."""
        self.hits += hit
        self.cases += 1
        if noted and len(self.places) < 8:
            self.places.append(place if isinstance(place, str) else place())

    def figure(self, name: str, *, at_least: float | None = None, at_most: float | None = None) -> AuditFigure:
        """The share of hits, with its target."""
        return AuditFigure(
            name, self.hits / self.cases if self.cases else 0.0, at_least, at_most, self.cases, tuple(self.places)
        )
