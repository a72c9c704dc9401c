"""A chart read from the text of its TOML file; the layout is described in :mod:`companion.chart.toml`.

Everything is read strictly: a misspelt key is an error that names the nearest one, and every error names the section
and the bar it is in.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from companion.chart.abc.note_syntax import default_unit
from companion.chart.keys import read_key
from companion.chart.model import MOST_BARS, UNTITLED, Chart, Event, MelodyNote, Section
from companion.chart.plain import printable_text, unfit
from companion.chart.toml.arrangement import read_arrangement
from companion.chart.toml.bar_lines import FaultHandler, stop
from companion.chart.toml.chords import count_bars, read_chords
from companion.chart.toml.melody import count_melody_bars, read_melody
from companion.errors import ChartError
from companion.files import MEGABYTE, read_limited
from companion.messages import EVENTS
from companion.music.meter import Metre, parse_metre

FORMAT = 1
SLOWEST, FASTEST = 20, 400
"""Quarters a minute."""
TEMPO = f"give quarters a minute, from {SLOWEST} to {FASTEST}"
MOST_PLACES = 1000
MOST_BYTES = MEGABYTE
"""A chart with a written arrangement has a hundred thousand at most."""
_LONG_KEY = re.compile(r"""(?<![\w-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){50}""")
"""Ours have two parts; TOML's reader takes a time that grows with the square of their number."""
_TOP = (
    "format", "title", "composer", "key", "metre", "tempo", "feel", "form", "unit", "order", "section", "arrangement",
)  # fmt: skip
_SECTION = ("treatment", "chords", "melody", "bar_metres")
_EVENT = ("play", "choruses", "treatment", "how", "bars")


def read_toml(path: str | Path) -> Chart:
    """Read a chart file. Raises ChartError, which names file, section and bar."""
    path = Path(path)
    try:
        return replace(parse_toml(read_text(path)), source=str(path))
    except ChartError as error:
        raise error.within(file=str(path)) from error


def read_text(path: Path) -> str:
    """The text of a chart file. Raises ChartError when it can't be read or isn't UTF-8."""
    data = read_limited(path, MOST_BYTES, "a chart", ChartError)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        where = f"line {data[: error.start].count(bytes([10])) + 1}"
        raise ChartError("is not UTF-8 text", file=str(path), where=where, mend="save it as UTF-8") from error


def check_not_newer(path: Path) -> None:
    """See to it that a file which is to be replaced is no chart of a newer format. Raises ChartError."""
    if not path.is_file():
        return
    try:
        number = tomllib.loads(read_text(path)).get("format")
    except (ValueError, RecursionError):
        return  # it is no chart at all
    if isinstance(number, int) and number > FORMAT:
        raise _newer(number).within(file=str(path))


def parse_toml(text: str, report: FaultHandler = stop) -> Chart:
    """Read a chart from the text of its file.

    Parameters
    ----------
    text : str
    report : callable
        Is told of each fault within a section; unless it raises, the faulty bar is left empty and reading goes on.

    Raises
    ------
    ChartError
        With the section and bar as its place.
    """
    table = read_table(text)
    _known(table, _TOP, "the chart")
    metre = _metre(table)
    fifths, minor = _key(table)
    unit = unit_of(_maybe_text(table, "unit"), metre)
    faults: list[ChartError] = []
    sections = _sections(table, metre, fifths, unit, faults.append)
    for fault in faults:
        report(fault)
    chart = Chart(
        title=printable_text(_text(table, "title", UNTITLED)),
        sections=sections,
        form=_form(table, [section.name for section in sections]),
        metre=metre,
        fifths=fifths,
        minor=minor,
        tempo=_tempo(table),
        feel=printable_text(_text(table, "feel", "straight" if metre.compound else "swing")),
        composer=_maybe_plain(table, "composer"),
        events=_events(table),
    )
    if "arrangement" in table and not faults:  # a faulty section may have lost its bars
        return replace(chart, written=read_arrangement(table["arrangement"], chart, unit, report))
    return chart


def read_table(text: str, newest: int = FORMAT) -> dict[str, Any]:
    """A table of TOML from anywhere, once its ``format`` is known to be one of ours.

    Parameters
    ----------
    text : str
    newest : int
        The latest format that is read.

    Raises
    ------
    ChartError
        It isn't TOML, says no format, or one that is newer.
    """
    if long := _LONG_KEY.search(text):
        where = f"line {text.count(chr(10), 0, long.start()) + 1}"
        raise ChartError("holds a key of more parts than any of ours", where=where, mend="take it out")
    try:
        table = tomllib.loads(text)
    except RecursionError:
        raise ChartError("brackets lie too deep in each other", mend="take them out") from None
    except ValueError as error:  # TOMLDecodeError, or Python's own limit on whole numbers: 4300 digits
        place = re.search(r"\(at (line \d+, column \d+|end of document)\)", str(error))
        what = str(error).split(" (at ")[0].rstrip(".")
        raise ChartError(f"isn't TOML: {what[:1].lower()}{what[1:]}", where=place[1] if place else None) from error
    number = table.get("format")
    if number is None:
        raise ChartError("says no format", mend=f"write format = {newest} in its first line")
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise ChartError(f"{number!r} is no format", where="format", mend=f"write format = {newest}")
    if number > newest:
        raise _newer(number, newest)
    return table


def _newer(number: int, newest: int = FORMAT) -> ChartError:
    what = f"is of format {number}, newer than this companion reads ({newest})"
    return ChartError(what, mend="bring the companion up to date")


def _known(table: Mapping[str, Any], names: Sequence[str], where: str) -> None:
    for name in table:
        if name not in names:
            near = difflib.get_close_matches(name, names, 1)
            mend = f"did you mean {near[0]}?" if near else f"it may hold {', '.join(names)}"
            raise ChartError(f"{name!r} has no meaning here", where=where, mend=mend)


def _text(table: Mapping[str, Any], name: str, default: str, where: str | None = None) -> str:
    value = _maybe_text(table, name, where)
    return default if value is None else value


def _maybe_text(table: Mapping[str, Any], name: str, where: str | None = None) -> str | None:
    value = table.get(name)
    if value is None:
        return None
    if not isinstance(value, str):
        raise ChartError(f"{name} should be a text in quotes, not {_shown(value)}", where=where or name)
    return value


def _maybe_plain(table: Mapping[str, Any], name: str, where: str | None = None) -> str | None:
    value = _maybe_text(table, name, where)
    return None if value is None else printable_text(value)


def _shown(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _whole(table: Mapping[str, Any], name: str, where: str, most: int) -> int | None:
    value = table.get(name)
    if value is None:
        return None
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= most:
        raise ChartError(f"{name} should be a whole number from 1 to {most}, not {_shown(value)}", where=where)
    return value


def _metre(table: Mapping[str, Any]) -> Metre:
    return _read_metre(_text(table, "metre", "4/4"), "metre")


def _read_metre(text: str, where: str) -> Metre:
    try:
        metre = parse_metre(text)
    except ValueError as error:
        raise ChartError(str(error), where=where, mend='write it like "4/4"') from error
    if metre.beats > 32:
        raise ChartError(f"{text!r} has too many beats", where=where)
    return metre


def _key(table: Mapping[str, Any]) -> tuple[int, bool]:
    return read_key(_text(table, "key", "C major"))


def _tempo(table: Mapping[str, Any]) -> float:
    value = table.get("tempo", 120)
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise ChartError(f"{_shown(value)} is no tempo", where="tempo", mend=TEMPO)
    try:
        check_tempo(value)
    except ChartError as error:
        raise error.within(where="tempo") from None
    return float(value)


def check_tempo(value: float) -> None:
    """Refuse a tempo that no chart may have. Raises ChartError."""
    if not SLOWEST <= value <= FASTEST:
        raise ChartError(f"{_shown(value if value % 1 else int(value))} is no tempo", mend=TEMPO)


def unit_of(text: str | None, metre: Metre) -> Fraction:
    """Length of a plain note in quarters: as the chart says, else as is usual in the metre. Raises ChartError."""
    if text is None:
        return default_unit(metre)
    if text not in ("1/1", "1/2", "1/4", "1/8", "1/16", "1/32"):
        raise ChartError(f"{text!r} is no length of a plain note", where="unit", mend='write it like "1/8"')
    return 4 * Fraction(text)


def _form(table: Mapping[str, Any], names: Sequence[str]) -> tuple[str, ...]:
    form = table.get("form", list(names))
    if isinstance(form, str):
        form = [form] if form in names else form.split()
    if not isinstance(form, list) or not all(isinstance(name, str) for name in form):
        raise ChartError("form should name sections in the order of playing", where="form", mend='as in "A A B A"')
    for name in form:
        if name not in names:
            near = difflib.get_close_matches(name, names, 1)
            mend = (
                f"did you mean {near[0]!r}?" if near else f"write a [section.{name}], or name one of {', '.join(names)}"
            )
            raise ChartError(f"there is no section {name!r}", where="form", mend=mend)
    if not form:
        raise ChartError("names no section", where="form", mend='write it like "A A B A"')
    if len(form) > MOST_PLACES:
        raise ChartError(f"has more than {MOST_PLACES} places", where="form")
    return tuple(form)


def _events(table: Mapping[str, Any]) -> tuple[Event, ...]:
    order = table.get("order", [])
    if not isinstance(order, list) or not all(isinstance(event, dict) for event in order):
        raise ChartError("should be a list of events", where="order", mend='as in order = [{ play = "head" }]')
    events = []
    for number, event in enumerate(order, 1):
        where = f"order, event {number}"
        _known(event, _EVENT, where)
        kind = _text(event, "play", "", where)
        if kind not in EVENTS:
            raise ChartError(f"{kind!r} is no event", where=where, mend=f"play one of {', '.join(EVENTS)}")
        events.append(
            Event(
                kind=kind,
                choruses=_whole(event, "choruses", where, 100) or 1,
                treatment=_maybe_text(event, "treatment", where),
                how=_maybe_plain(event, "how", where),
                bars=_whole(event, "bars", where, 64),
            )
        )
    return tuple(events)


def _sections(
    table: Mapping[str, Any], metre: Metre, fifths: int, unit: Fraction, report: FaultHandler
) -> tuple[Section, ...]:
    tables = table.get("section", {})
    if not isinstance(tables, dict) or not tables or not all(isinstance(t, dict) for t in tables.values()):
        raise ChartError("has no section", mend="begin one with [section.A] and give it chords and a melody")
    if len(tables) > MOST_PLACES:
        raise ChartError(f"has more than {MOST_PLACES} sections")
    sections = []
    for name, section in tables.items():
        where = f"section {name}"
        if not name.strip():
            raise ChartError("a section without a name", where=where)
        if sign := unfit(name):
            raise ChartError(f"its name holds {sign}, which can't be printed", where=where, mend="take it out")
        faults: list[ChartError] = []
        try:
            _known(section, _SECTION, "its table")
            sections.append(_section(name, section, metre, fifths, unit, faults.append))
        except ChartError as error:
            faults.append(error)
            sections.append(Section(name, (metre.bar,)))
        for fault in sorted(faults, key=_bar_number):
            report(fault.within(where=where))
    return tuple(sections)


def _bar_number(fault: ChartError) -> int:
    number = re.fullmatch(r"bar (\d+)", fault.where or "")
    return int(number[1]) if number else 0


def _section(
    name: str, table: Mapping[str, Any], metre: Metre, fifths: int, unit: Fraction, report: FaultHandler
) -> Section:
    chords, melody = _maybe_text(table, "chords", "chords"), _maybe_text(table, "melody", "melody")
    bars: tuple[Fraction, ...] | None = None
    if chords is not None:
        bars = _lengths(table, _some(count_bars(chords)), metre)
    elif melody is None:
        raise ChartError("has neither chords nor melody", mend="write chords = and bars between | lines")
    notes: tuple[MelodyNote, ...] = ()
    if melody is not None and melody.strip():
        count = _some(count_melody_bars(melody))
        if bars is None and "bar_metres" in table:
            bars = _lengths(table, count, metre)
        notes, bars = read_melody(melody, bars, metre.bar, unit, fifths, metre.compound, report)
    if not bars:
        raise ChartError("has no bar")
    spans = read_chords(chords, bars, metre, report) if chords is not None else ()
    return Section(name, bars, spans, notes, _maybe_text(table, "treatment", "treatment"))


def _some(bars: int) -> int:
    """A number of bars that a section may have. Raises ChartError."""
    if bars > MOST_BARS:
        raise ChartError(f"has more than {MOST_BARS} bars", mend="look for bar lines that aren't meant")
    return bars


def _lengths(table: Mapping[str, Any], count: int, metre: Metre) -> tuple[Fraction, ...]:
    """Length of each bar; ``bar_metres`` names the ones that aren't as usual."""
    others = table.get("bar_metres", {})
    if not isinstance(others, dict):
        raise ChartError("should name bars and their metres", where="bar_metres", mend='as in { 5 = "2/4" }')
    lengths = [metre.bar] * count
    for number, text in others.items():
        if not number.isdigit() or not 1 <= int(number) <= count:
            raise ChartError(f"there is no bar {number}", where="bar_metres")
        match = re.fullmatch(r"(\d{1,4})/(\d{1,4})", text) if isinstance(text, str) else None
        if match is None or int(match[1]) == 0 or int(match[2]) == 0 or Fraction(match[0]) > 16:
            raise ChartError(f"{_shown(text)!r} is no metre", where=f"bar_metres, bar {number}", mend='write "2/4"')
        lengths[int(number) - 1] = 4 * Fraction(match[0])
    return tuple(lengths)
