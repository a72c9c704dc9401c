"""A written arrangement changed in a chart's file: only new bars are written, the others stay to the letter.

Conventions: bars of a place are counted from 1. ``document`` is a TOML document of tomlkit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from companion.chart.model import Chart
from companion.chart.toml.arrangement import (
    WRITTEN_PARTS,
    PlaceBars,
    PlaceText,
    places_of,
    written_holds,
    written_place,
)
from companion.chart.toml.marks import FULL
from companion.chart.toml.part_write import FREE_BAR, PartText

_BAR_LINE = re.compile(r"(\|\]|\[\||\|\||\|)")
_RESTS = re.compile(r"\s*([XZ])(\d+)\s*")


def update_arrangement(document: Any, before: Chart, after: Chart, unit: Fraction) -> None:
    """Write what is new in the arrangement into the tables that are there.

    Parameters
    ----------
    document
        The chart's file, with at least one table of an arrangement.
    before, after : Chart
        What the file says and what it shall say; the places of their forms are the same.
    unit : Fraction
        Length of a plain note in quarters.
    """
    import tomlkit

    tables = document["arrangement"]
    respelled = (before.metre, before.fifths) != (after.metre, after.fifths)
    places = places_of(after)
    reach = max((n for n, place in enumerate(places, 1) if _parts(after, place, unit)), default=0)
    while len(tables) > max(reach, 1):
        del tables[-1]
    while len(tables) < reach:
        place = places[len(tables)]
        table = tomlkit.parse(f"[[arrangement]]  # {place.where}\nsection = 'x'\n\n")["arrangement"][0]
        table["section"] = place.name
        tables.append(table)
    for table, place in zip(tables, places, strict=False):
        _update_place(table, before, after, place, unit, respelled)


def _parts(chart: Chart, place: PlaceBars, unit: Fraction) -> dict[str, PlaceText]:
    return {part: text for part in WRITTEN_PARTS if (text := written_place(chart, place, part, unit=unit))}


def _update_place(table: Any, before: Chart, after: Chart, place: PlaceBars, unit: Fraction, anew: bool) -> None:
    import tomlkit

    holds = {part: Fraction(str(share)) for part, share in table.get("hold", {}).items()}
    for part in WRITTEN_PARTS:
        kept = holds.get(part, FULL) if part in table else None
        old = written_place(before, place, part, unit=unit, hold=kept)
        new = written_place(after, place, part, unit=unit, hold=kept)
        if new is None:
            if part in table:
                del table[part]
            holds.pop(part, None)
            continue
        holds[part] = new.hold
        before_text = str(table[part]) if part in table else ""
        was = old.text if old is not None else PartText("", (FREE_BAR,) * len(place.bars), "")
        changed = with_bars(before_text, was, new.text) if before_text and not anew else None
        text = "\n".join([*_comments(before_text), *new.lines, ""]) if changed is None else changed
        if text != before_text:
            table[part] = tomlkit.parse(f'x = """\n{text}"""')["x"]
    _set_holds(table, {part: holds[part] for part in WRITTEN_PARTS if part in holds})


def _set_holds(table: Any, holds: Mapping[str, Fraction]) -> None:
    import tomlkit

    said = {part: Fraction(str(share)) for part, share in table.get("hold", {}).items()}
    if said == {part: share for part, share in holds.items() if share != FULL}:
        return
    text = written_holds(holds)
    if text:
        table["hold"] = tomlkit.parse(f"x = {text}")["x"]
    elif "hold" in table:
        del table["hold"]


def with_bars(text: str, old: PartText, new: PartText) -> str | None:
    """A part's text in which the bars that differ between ``old`` and ``new`` are as in ``new``.

    All else stays as it is; bar lines that stood under bar lines do so again. None when the text is laid out in a way
    that allows no single bar to be changed: a bar that runs over the end of a line, or several rests in one.
    """
    if old == new:
        return text
    lines = [_Row.of(line) for line in text.split("\n")]
    music = [row for row in lines if row.signs]
    places = [(row, c) for row in music for c in range(1, len(row.cells) - 1)]
    ragged = any(not row.signs and row.cells[0].partition("%")[0].strip() for row in lines)
    if len(places) != len(new.bars) or ragged or _runs_over(music):
        return None
    aligned = _aligned(music)
    for (row, column), was, now in zip(places, old.bars, new.bars, strict=True):
        if was != now:
            row.cells[column] = f" {now:<{len(row.cells[column]) - 2}} "
    if old.pickup != new.pickup:
        music[0].cells[0] = f"{new.pickup} " if new.pickup else ""
    if old.after != new.after:
        comment = _comment(music[-1].cells[-1])
        music[-1].cells[-1] = f" {new.after}" * bool(new.after) + (f"  {comment}" if comment else "")
    if aligned:
        _align(music)
    return "\n".join(row.text for row in lines)


@dataclass
class _Row:
    """A line cut at its bar lines; a comment belongs to what stands after the last one."""

    cells: list[str]
    signs: list[str]
    """The bar lines between the cells."""

    @classmethod
    def of(cls, line: str) -> _Row:
        """Cut a line; a rest of several bars becomes as many cells."""
        plain, sign, comment = line.partition("%")
        pieces = _BAR_LINE.split(plain)
        cells, signs = pieces[:1], []
        for bar_line, piece in zip(pieces[1::2], pieces[2::2], strict=True):
            rests = _RESTS.fullmatch(piece)
            signs.append(bar_line)
            for _ in range(int(rests[2]) - 1 if rests else 0):
                assert rests is not None
                cells.append(f" {rests[1]} ")
                signs.append("|")
            cells.append(f" {rests[1]} " if rests else piece)
        cells[-1] += sign + comment
        return cls(cells, signs)

    @property
    def text(self) -> str:
        """The line again."""
        pairs = zip(self.cells, [*self.signs, ""], strict=True)
        return "".join(cell + sign for cell, sign in pairs)

    @property
    def widths(self) -> list[int]:
        """Columns of each cell but the last."""
        return [len(cell) for cell in self.cells[:-1]]


def _comment(cell: str) -> str:
    _, sign, comment = cell.partition("%")
    return sign + comment


def _comments(text: str) -> list[str]:
    """The comments of a text, each a line."""
    return [comment for line in text.split("\n") if (comment := _comment(line))]


def _runs_over(music: Sequence[_Row]) -> bool:
    """Whether a bar runs over the end of a line."""
    return any(a.cells[-1].partition("%")[0].strip() or b.cells[0].strip() for a, b in pairwise(music))


def _aligned(music: Sequence[_Row]) -> bool:
    """Whether bar lines stand under bar lines."""
    return all(a == b for one, other in pairwise(music) for a, b in zip(one.widths, other.widths, strict=False))


def _align(music: Sequence[_Row]) -> None:
    """Widen what is too narrow, so that bar lines stand under bar lines; nothing else is moved."""
    wide = [
        max(row.widths[c] for row in music if c < len(row.widths)) for c in range(max(len(r.widths) for r in music))
    ]
    for row in music:
        for c, width in zip(range(len(row.cells) - 1), wide, strict=False):
            row.cells[c] = f"{row.cells[c]:<{width}}" if c else f"{row.cells[c]:>{width}}"
