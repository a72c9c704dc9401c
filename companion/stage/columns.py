"""Columns of a terminal that stay in line: cut where something is too long, left out where there is no room.

Conventions: widths in characters. A terminal's last column stays empty, so that no line wraps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

GAP = "  "
CUT = "…"


@dataclass(frozen=True)
class Column:
    """One kind of thing."""

    head: str
    least: int
    """Characters without which it says too little."""
    most: int
    """Characters beyond which it has nothing to say."""
    leave_out: int = 0
    """Its turn to be left out where there is no room: the highest first; 0 stays."""


@dataclass(frozen=True)
class FittedColumn:
    """A column as it is shown."""

    head: str
    width: int


def fitting(columns: Sequence[Column], width: int | None) -> tuple[FittedColumn, ...]:
    """The columns that have room, as wide as may be, those on the left first.

    Parameters
    ----------
    columns : sequence of Column
        From the left.
    width : int or None
        Characters of a line; None: as many as are wanted.
    """
    shown = list(columns)
    if width is None:
        return tuple(FittedColumn(one.head, one.most) for one in shown)
    while _least(shown) > width and (least := max(shown, key=lambda one: one.leave_out)).leave_out:
        shown.remove(least)
    left = max(0, width - _least(shown))
    fitted = []
    for one in shown:
        more = min(left, one.most - one.least)
        fitted.append(FittedColumn(one.head, one.least + more))
        left -= more
    return tuple(fitted)


def _least(columns: Sequence[Column]) -> int:
    return sum(one.least for one in columns) + len(GAP) * (len(columns) - 1)


def line_of_columns(columns: Sequence[FittedColumn], cells: Mapping[str, str], cut: str = CUT) -> str:
    """A line of the table; what is too long ends with a sign that it goes on.

    >>> line_of_columns([FittedColumn("bar", 4), FittedColumn("notes", 5)], {"bar": "A 1", "notes": "C D E F"})
    'A 1   C D …'
    """
    return GAP.join(_cut(cells[one.head], one.width, cut).ljust(one.width) for one in columns).rstrip()


def _cut(text: str, width: int, sign: str) -> str:
    return text if len(text) <= width else text[: width - len(sign)] + sign
