"""Texts cut at their bar lines, as chords and melody stand in a chart, and how faults in a bar are reported.

A text runs over several lines; a bar line that ends one line and one that begins the next are the same.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from companion.errors import ChartError

_BAR_LINE = re.compile(r"\|\]|\[\||\|\||\|")
LONG = 1000
"""No bar has so many quarters, but a slip of the pen may ask for more than a float holds."""
REPEATS = re.compile(r"\|:|:\||(?<!\(\d)::|\|\s*\d|\[\d")
"""Signs that have no place in a section: the form says what is repeated."""

FaultHandler = Callable[[ChartError], None]
"""Is told of what is wrong with a bar; reading goes on unless it raises."""


def stop(error: ChartError) -> None:
    """The usual report: the first fault ends the reading."""
    raise error


@dataclass(frozen=True)
class BarTexts:
    """A text cut at its bar lines."""

    before: str
    """What stands before the first bar line."""
    bars: tuple[str, ...]
    after: str
    """What stands after the last one."""


def cut_at_bar_lines(text: str) -> BarTexts:
    """Cut a text of several lines into its bars.

    A bar line that ends one line and one that begins the next are the same; a bar may go on over the end of a line.
    Everything before the first bar line, and after the last, is handed back apart.
    """
    pieces: list[str] = [""]
    closed = False
    for line in text.splitlines():
        parts = _BAR_LINE.split(line)
        if not line.strip():
            continue
        if closed and len(parts) > 1 and not parts[0].strip():
            parts = parts[1:]
            pieces[-1] = parts[0]
        else:
            pieces[-1] = f"{pieces[-1]} {parts[0]}"
        pieces += parts[1:]
        closed = len(pieces) > 1 and not pieces[-1].strip()
    pieces = [piece.strip() for piece in pieces]
    if len(pieces) == 1:
        return BarTexts(pieces[0], (), "")
    return BarTexts(pieces[0], tuple(pieces[1:-1]), pieces[-1])


def written_length(length: Fraction) -> str:
    """A length in quarters for a message: '4.5', or '13/3' where decimals have no end."""
    if length > LONG:
        return f"over {LONG}"
    return str(length) if length.denominator % 3 == 0 and length.denominator < LONG else f"{float(length):g}"
