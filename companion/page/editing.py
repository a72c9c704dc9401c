"""A chart's text, edited on the page: the same checks as ever, each fault with its line, and saving that loses nothing.

Conventions: lines are counted from 1, bars within a section from 1.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from companion.arrange.treatments import names
from companion.chart.model import Chart
from companion.chart.own import is_own, place_of_change
from companion.chart.toml.read import MOST_BYTES, check_not_newer, parse_toml, read_text
from companion.chart.toml.write import write_toml
from companion.engrave.writable import unprintable_bars
from companion.errors import ChartError, InputError, UseError
from companion.files import write_output
from companion.load import check_text, load
from companion.music.swing import feel_names

QUOTES = '"""'
"""Around the texts of chords and melody."""
_SECTION = re.compile(r"^section (?P<name>.+?)(?:, bar (?P<bar>\d+))?(?:, .*)?$")
_LINE = re.compile(r"\bline (\d+)\b")
_QUOTED = re.compile(r"'([^']+)'|\"([^\"]+)\"")


class TextAsked(msgspec.Struct, frozen=True):
    """Which chart."""

    path: str


class CheckAsked(msgspec.Struct, frozen=True):
    """A text to be looked through."""

    text: str


class SaveAsked(msgspec.Struct, frozen=True):
    """A text to be kept."""

    path: str
    text: str
    stamp: str
    """What :func:`text_of` gave with the text that was edited."""


def text_of(asked: TextAsked) -> dict[str, Any]:
    """The text of a chart; of a lead sheet in another format, what it would be as a chart of ours."""
    path = Path(asked.path)
    text = read_text(path) if path.suffix.lower() == ".toml" else write_toml(load(path))
    return {"text": text, "own": is_own(path), "stamp": _stamp(text)}


def _stamp(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def checked(asked: CheckAsked) -> dict[str, Any]:
    """Every fault of a text, each with the line it is on; and whether it can be played all the same."""
    faults, chart = _faults(asked.text)
    return {"faults": [_told(fault, asked.text) for fault in faults], "playable": chart is not None}


def _faults(text: str) -> tuple[list[ChartError], Chart | None]:
    if len(text.encode()) > MOST_BYTES:
        return [ChartError("is too large for a chart")], None
    try:
        faults = list(check_text(text, treatments=names(), feels=feel_names()))
    except ChartError as error:
        return [error], None
    try:
        chart = parse_toml(text)
        chart.unfold()
    except ChartError:
        return faults, None
    return [*faults, *(() if faults else unprintable_bars(chart))], chart


def _told(fault: ChartError, text: str) -> dict[str, Any]:
    said = f"{fault.what}; {fault.mend}" if fault.mend else fault.what
    return {"where": fault.where or "", "text": said, "line": line_of(fault, text)}


def line_of(fault: ChartError, text: str) -> int | None:
    """The line of a text on which a fault is, as far as its place tells."""
    where = fault.where or ""
    if found := _LINE.search(where):
        return int(found[1])
    lines = text.split("\n")
    if place := _SECTION.match(where):
        first, last = _section_lines(lines, place["name"])
        if first is None:
            return None
        named = _line_with(fault, lines, first, last, int(place["bar"] or 0))
        return named if named is not None else first
    word = re.escape(where.split(",")[0].strip())
    starts = (n for n, line in enumerate(lines, 1) if word and re.match(rf"\s*{word}\s*=", line))
    return next(starts, None)


def _section_lines(lines: list[str], name: str) -> tuple[int | None, int]:
    """First and last line of a section's table."""
    head = re.compile(rf"^\s*\[section\.(?:{re.escape(name)}|\"{re.escape(name)}\"|'{re.escape(name)}')\]")
    first = next((n for n, line in enumerate(lines, 1) if head.match(line)), None)
    if first is None:
        return None, 0
    after = (n - 1 for n, line in enumerate(lines[first:], first + 1) if re.match(r"\s*\[", line))
    return first, next(after, len(lines))


def _line_with(fault: ChartError, lines: list[str], first: int, last: int, bar: int) -> int | None:
    """The line of a bar of a section: that which has what is quoted, or else that of the bar in chords or melody."""
    rows = [row for row in _bars(lines, first, last) if row.bar == bar] if bar else []
    meant = [row.line for row in rows if row.text in fault.what] or [row.line for row in rows]
    for word in (one for pair in _QUOTED.findall(fault.what) for one in pair if one):
        for n in [row.line for row in rows] or range(first, last + 1):
            if word in lines[n - 1]:
                return n
    return meant[0] if meant else None


@dataclass(frozen=True)
class _Bar:
    text: str
    """'chords' or 'melody', or what else there may be."""
    bar: int
    line: int


def _bars(lines: list[str], first: int, last: int) -> list[_Bar]:
    """The bars in the texts of a section, in the order in which they stand."""
    found: list[_Bar] = []
    bar, inside, text = 0, False, ""
    for n, line in enumerate(lines[first - 1 : last], first):
        if not inside and "=" in line:
            bar, text = 0, line.partition("=")[0].strip()
        before, inside = inside, inside != bool(line.count(QUOTES) % 2)
        if before or inside or text in ("chords", "melody"):
            here = sum(bool(piece.strip(" \"'")) for piece in line.split("|")[1:])
            found += [_Bar(text, bar + number, n) for number in range(1, here + 1)]
            bar += here
    return found


def saved(asked: SaveAsked) -> dict[str, Any]:
    """Keep a text as a chart of the player's own; what stood there is kept beside it.

    Raises
    ------
    InputError
        It can't be played, the file has changed meanwhile, or what stands there is of a newer format.
    """
    path = Path(asked.path)
    _, chart = _faults(asked.text)
    if chart is None:
        raise UseError("this can't be played yet, so it isn't kept", mend="mend what is listed first")
    if path.exists() and _stamp(text_of(TextAsked(asked.path))["text"]) != asked.stamp:
        raise InputError(
            "its file was changed meanwhile by somebody else", mend="load it again; your text is still here"
        )
    place = place_of_change(path, chart)
    check_not_newer(place)
    former = write_output(place, asked.text)
    return {
        "name": place.stem,
        "stamp": _stamp(asked.text),
        "copied": place != path,
        "former": former.name if former else "",
    }
