"""The written arrangement in a chart's TOML: a table for each place of the form, in order, with a text for each part.

::

    [[arrangement]]                      # bars 9-16
    section = "A2"
    hold = { bass = 0.9 }                # what sounds of a note's written length, where it isn't all
    chords = '''
    | z2 [FAce]2 z4 | ...
    '''
    bass = '''
    | G,,2 A,,2 B,,2 D,2 | ...
    '''

A part or a bar (``X``) that isn't written is free; so are the places after the last table. The texts are those of
:mod:`companion.chart.toml.part_write`; a pickup to the form stands in its first place, any other pickup in the last bar
of the place before.

Conventions: beats in quarter notes as Fractions, from the first downbeat of the form.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate
from typing import Any

from companion.chart.abc.note_syntax import default_unit
from companion.chart.model import Chart, WrittenNote, WrittenPart
from companion.chart.toml.bar_lines import FaultHandler, stop
from companion.chart.toml.marks import FULL, usual_hold
from companion.chart.toml.part_read import read_part
from companion.chart.toml.part_write import PartText, laid_out, write_part
from companion.chart.toml.text import BARS_A_LINE, quoted
from companion.errors import ChartError
from companion.messages import TUNE_PARTS, Part

WRITTEN_PARTS = TUNE_PARTS
"""Parts that can be written, as they stand in a score from the top down."""
_KEYS = ("section", "hold", *WRITTEN_PARTS)


@dataclass(frozen=True)
class PlaceBars:
    """A place of the form: its section, and where its bars lie."""

    name: str
    start: Fraction
    bars: tuple[Fraction, ...]
    """Length of each bar."""
    before: int
    """How many bars of the form lie before it."""

    @property
    def end(self) -> Fraction:
        """Where the next place begins."""
        return self.start + sum(self.bars, Fraction(0))

    @property
    def starts(self) -> list[Fraction]:
        """Where each of its bars begins."""
        return [self.start + at for at in accumulate(self.bars[:-1], initial=Fraction(0))]

    @property
    def where(self) -> str:
        """Its bars as numbered through the form."""
        return f"bars {self.before + 1}-{self.before + len(self.bars)}"


def places_of(chart: Chart) -> list[PlaceBars]:
    """The places of a chart's form, in order."""
    by_name = {section.name: section for section in chart.sections}
    found: list[PlaceBars] = []
    start, before = Fraction(0), 0
    for name in chart.form:
        found.append(PlaceBars(name, start, by_name[name].bars, before))
        start, before = found[-1].end, before + len(by_name[name].bars)
    return found


# --- reading ----------------------------------------------------------------------------------------------------------


def read_arrangement(tables: Any, chart: Chart, unit: Fraction, report: FaultHandler = stop) -> tuple[WrittenPart, ...]:
    """Read the written arrangement of a chart.

    Parameters
    ----------
    tables
        What the TOML has under ``arrangement``.
    chart : Chart
        The chart that it belongs to.
    unit : Fraction
        Length of a plain note in quarters.
    report : callable
        Is told of each fault; unless it raises, the faulty bar is taken for silent.

    Raises
    ------
    ChartError
        With place, part and bar.
    """
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise ChartError("should be a table for each place of the form", where="arrangement",
                         mend="begin each with [[arrangement]]")  # fmt: skip
    places = places_of(chart)
    if len(tables) > len(places):
        what = f"has {len(tables)} places, the form has {len(places)}"
        raise ChartError(what, where="arrangement", mend="take the last ones out, or lengthen the form")
    found: dict[Part, tuple[set[int], list[WrittenNote]]] = {}
    for number, (table, place) in enumerate(zip(tables, places, strict=False), 1):
        where = f"arrangement, place {number} ({place.name})"
        try:
            _check(table, place)
            holds = _holds(table)
        except ChartError as error:
            report(error.within(where=where))
            continue
        for part in (part for part in WRITTEN_PARTS if part in table):
            bars, notes = found.setdefault(part, (set(), []))
            try:
                one, faults = _part(table[part], part, chart, place, unit, holds.get(part, FULL))
                bars |= one.bars
                notes += one.notes
            except ChartError as error:
                faults = [error]
            for fault in faults:
                report(fault.within(where=f"{where}, {part}"))
    return tuple(_whole(part, *found[part]) for part in WRITTEN_PARTS if part in found)


def _whole(part: Part, bars: set[int], notes: Sequence[WrittenNote]) -> WrittenPart:
    return WrittenPart(part, frozenset(bars), tuple(sorted(notes, key=lambda n: (n.beat, n.pitch.midi, n.voice))))


def _check(table: Mapping[str, Any], place: PlaceBars) -> None:
    for key in table:
        if key not in _KEYS:
            raise ChartError(f"{key!r} has no meaning here", mend=f"it may hold {', '.join(_KEYS)}")
    name = table.get("section")
    if name != place.name:
        said = f"is of section {name!r}" if isinstance(name, str) else "says no section"
        raise ChartError(f"{said}, the form has {place.name!r} there", mend=f"write section = {quoted(place.name)}, "
                         "or put the tables in the order of the form")  # fmt: skip


def _holds(table: Mapping[str, Any]) -> dict[str, Fraction]:
    holds = table.get("hold", {})
    if not isinstance(holds, dict) or not all(
        part in WRITTEN_PARTS and isinstance(share, int | float) and not isinstance(share, bool) and 0 < share <= 1
        for part, share in holds.items()
    ):
        raise ChartError("should give parts a share from 0 to 1", where="hold", mend="as in { bass = 0.9 }")
    return {part: Fraction(str(share)) for part, share in holds.items()}


def _part(
    text: Any, part: Part, chart: Chart, place: PlaceBars, unit: Fraction, hold: Fraction
) -> tuple[WrittenPart, list[ChartError]]:
    """A part of a place, and the faults of its bars."""
    if not isinstance(text, str):
        raise ChartError("should be a text in quotes", mend="write its bars between | lines")
    faults: list[ChartError] = []
    read = read_part(
        text,
        part,
        place.bars,
        unit=unit,
        fifths=chart.fifths,
        compound=chart.metre.compound,
        hold=hold,
        report=faults.append,
    )
    if place.before and any(note.beat < 0 for note in read.notes):
        raise ChartError("something stands before the first bar line", mend="write it in the last bar of the place "
                         "before")  # fmt: skip
    notes = tuple(replace(note, beat=note.beat + place.start) for note in read.notes)
    return WrittenPart(part, frozenset(bar + place.before for bar in read.bars), notes), faults


# --- writing ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PlaceText:
    """What is written of one part in one place."""

    hold: Fraction
    text: PartText

    @property
    def lines(self) -> list[str]:
        """Its bars, four a line."""
        return laid_out(self.text, BARS_A_LINE)


def written_place(
    chart: Chart, place: PlaceBars, part: str, *, unit: Fraction | None = None, hold: Fraction | None = None
) -> PlaceText | None:
    """What a chart has written of a part in a place; None when that is free.

    Parameters
    ----------
    chart : Chart
    place : PlaceBars
    part : str
    unit : Fraction, optional
        Length of a plain note; the metre's usual one unless given.
    hold : Fraction, optional
        Share of its written length that a note sounds; what is most frequent unless given.
    """
    written = next((one for one in chart.written if one.part == part), None)
    bars = {bar - place.before for bar in written.bars} & set(range(1, len(place.bars) + 1)) if written else set()
    if written is None or not bars:
        return None
    inside = (n for n in written.notes if n.beat < place.end and (n.beat >= place.start or not place.before))
    notes = [replace(n, beat=n.beat - place.start) for n in inside]
    share = usual_hold(notes) if hold is None else hold
    text = write_part(
        notes,
        part,
        place.bars,
        bars,
        metre=chart.metre,
        unit=unit or default_unit(chart.metre),
        fifths=chart.fifths,
        hold=share,
    )
    return PlaceText(share, text)


ABOUT = (
    "# The arrangement, note for note, in ABC note syntax: a table for each place of the form. Change what you like.",
    "# X leaves a bar free; what stands after & sounds together with what is before it, from the same bar line on.",
)
"""What a reader of the file is told above the first table."""


def written_arrangement(chart: Chart, unit: Fraction | None = None) -> list[str]:
    """The tables of a chart's written arrangement, line by line; none when nothing is written."""
    tables = [_table(chart, place, unit) for place in places_of(chart)]
    while tables and len(tables[-1]) == 2:
        tables.pop()
    lines = [line for table in tables for line in ("", *table)]
    return ["", *ABOUT, *lines[1:]] if lines else []


def _table(chart: Chart, place: PlaceBars, unit: Fraction | None) -> list[str]:
    texts = {part: text for part in WRITTEN_PARTS if (text := written_place(chart, place, part, unit=unit))}
    lines = [f"[[arrangement]]  # {place.where}", f"section = {quoted(place.name)}"]
    if holds := written_holds({part: text.hold for part, text in texts.items()}):
        lines.append(f"hold = {holds}")
    for part, text in texts.items():
        lines += [f'{part} = """', *text.lines, '"""']
    return lines


def written_holds(holds: Mapping[str, Fraction]) -> str:
    """The shares that aren't the whole, as an inline table; '' when none is."""
    shares = list(_decimals(holds))
    return "{ " + ", ".join(shares) + " }" if shares else ""


def _decimals(holds: Mapping[str, Fraction]) -> Iterator[str]:
    for part, share in holds.items():
        if share != FULL:
            yield f"{part} = {Decimal(share.numerator) / share.denominator}"
