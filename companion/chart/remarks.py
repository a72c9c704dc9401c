"""Remarks: what a file says and a chart has no place for, each with its bar.

Words to sing, a ritardando, a second voice, a chord name that is none: every reader keeps them, so that nothing is
dropped in silence; :mod:`companion.chart.imported` writes them into the chart's file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

NOT_UNDERSTOOD = "not understood"


@dataclass(frozen=True)
class Remark:
    """Something that the file says and the chart can't."""

    what: str
    """In the trade's words: 'words to sing', 'a second voice', 'ritardando'."""
    text: str = ""
    """As it stands in the file."""
    bar: str = ""
    """The bar as the sheet numbers it; '' when it goes for the whole tune."""
    section: str | None = None
    """The section it belongs to, where that is known."""
    section_bar: int = 0
    """Bar of that section, 1 = its first full one; 0: its pickup, or the whole section."""

    def __str__(self) -> str:
        return f"{self.what}: {printable(self.text)}" if self.text else self.what


def merged(remarks: Iterable[Remark]) -> tuple[Remark, ...]:
    """Remarks of one bar, each once; pieces that aren't understood are drawn together."""
    once = list(dict.fromkeys(remarks))
    pieces = " ".join(remark.text for remark in once if remark.what == NOT_UNDERSTOOD)
    others = [remark for remark in once if remark.what != NOT_UNDERSTOOD]
    return (*others, *([Remark(NOT_UNDERSTOOD, pieces)] if pieces else []))


def printable(text: str) -> str:
    """A text from anywhere on one line, without signs that a comment or a terminal can't take."""
    return "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))
