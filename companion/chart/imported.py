"""What an import hands over: the chart, and a remark on everything of the file that a chart doesn't hold.

Nothing is dropped in silence. What a chart has no place for (words to sing, a ritardando, a second voice, a chord name
that is none) is kept as a comment in the chart's file, at the section and bar it belongs to, and reported with its bar.

A reader of one format gives an :class:`Imported`; :func:`write_imported` writes the chart with its remarks,
:func:`report` says them a line each. What the file doesn't say and has to be assumed is told with the reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from companion.chart.model import Chart
from companion.chart.remarks import Remark
from companion.chart.toml.read import parse_toml
from companion.chart.toml.write import section_header, write_toml
from companion.errors import ChartError

LONGEST = 1000
"""A longer text is kept in the file up to here, in characters."""
MOST_LINES = 6
"""Of one kind, more different remarks than these are said in one line; the chart's file has each."""


@dataclass(frozen=True)
class Imported:
    """A chart from a file of another format, and what of the file isn't in it."""

    chart: Chart
    remarks: tuple[Remark, ...] = ()
    """In the order of the file."""
    assumed: tuple[Remark, ...] = ()
    """What the file doesn't say and was found or taken for granted, with the reason."""


def write_imported(imported: Imported) -> str:
    """The chart's file: its remarks as comments, each at the head of its section, the others at the top.

    Raises
    ------
    ChartError
        When the chart holds something that can't be written so that it reads back the same; names section and bar.
    """
    names = {section.name for section in imported.chart.sections}
    by_section: dict[str | None, list[Remark]] = {}
    for remark in imported.remarks:
        by_section.setdefault(remark.section if remark.section in names else None, []).append(remark)
    headers = {section_header(name): name for name in names}
    lines: list[str] = []
    for number, line in enumerate(write_toml(imported.chart).splitlines()):
        lines.append(line)
        if number == 0:
            lines += _comments([*imported.assumed, *by_section.get(None, [])])
        elif line in headers:
            lines += _comments(by_section.pop(headers[line], []))
    text = "\n".join(lines) + "\n"
    _read_back(text, imported.chart)
    return text


def _read_back(text: str, chart: Chart) -> None:
    """See to it that a chart's text says what the chart does. Raises ChartError."""
    mend = "look there for notes of an odd length"
    try:
        kept = parse_toml(text)
    except ChartError as error:
        raise ChartError(f"can't be written as a chart: {error.what}", where=error.where, mend=mend) from error
    if replace(kept, source=None) != replace(chart, source=None):
        pairs = zip(kept.sections, chart.sections, strict=False)
        where = next((f"section {section.name}" for other, section in pairs if other != section), None)
        raise ChartError("can't be written as a chart without losing something", where=where, mend=mend)


def _comments(remarks: Sequence[Remark]) -> list[str]:
    """The remarks of one section, a comment each; the same in several bars is said once."""
    bars: dict[str, list[str]] = {}
    for remark in remarks:
        number = str(remark.section_bar) if remark.section_bar else "pickup" if remark.section else remark.bar
        bars.setdefault(str(remark), []).append(number)
    comments = []
    for text, numbers in bars.items():
        numbers = list(dict.fromkeys(number for number in numbers if number))
        word = "bars" if len(numbers) > 1 else "bar"
        place = "pickup" if numbers == ["pickup"] else f"{word} {_ranges(numbers)}" if numbers else ""
        sheet = " of the sheet" if place and remarks[0].section is None else ""
        comments.append("# " + _cut(f"{place}{sheet}: {text}" if place else text))
    return comments


def report(imported: Imported) -> list[str]:
    """What was assumed, then the remarks, a line each with its bars; the same, or much of one kind, is said once."""
    kinds: dict[str, list[Remark]] = {}
    for remark in (*imported.assumed, *imported.remarks):
        kinds.setdefault(remark.what, []).append(remark)
    lines = []
    for what, remarks in kinds.items():
        texts: dict[str, list[Remark]] = {}
        for remark in remarks:
            texts.setdefault(str(remark), []).append(remark)
        if len(texts) > MOST_LINES:
            lines.append(f"{_place(remarks)}: {what} ({len(remarks)} places)")
        else:
            lines += [_cut(f"{place}: {text}" if (place := _place(same)) else text) for text, same in texts.items()]
    return lines


def _place(remarks: Sequence[Remark]) -> str:
    """The bars of some remarks: 'bar 3 (section A, bar 2)', 'bars 1, 4-8'."""
    numbers = list(dict.fromkeys(remark.bar for remark in remarks if remark.bar))
    if not numbers:
        return ""
    if len(numbers) > 1:
        return f"bars {_ranges(numbers)}"
    first = remarks[0]
    if first.section is None:
        return f"bar {numbers[0]}"
    within = f"bar {first.section_bar}" if first.section_bar else "pickup"
    return f"bar {numbers[0]} (section {first.section}, {within})"


def _ranges(numbers: Sequence[str]) -> str:
    """Bar numbers, runs of them drawn together: '1, 4-8'."""
    runs: list[list[str]] = []
    for number in numbers:
        last = runs[-1][-1] if runs else ""
        if number.isdigit() and last.isdigit() and int(number) == int(last) + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def _cut(line: str) -> str:
    return line if len(line) <= LONGEST else line[: LONGEST - 4] + " ..."
