"""A chart file changed by a program without losing what a person put there.

Only what has changed is written anew, so comments, order and layout stay (tomlkit). A file of a newer format, or one
that can't be read, is refused, so that nobody writes over it.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from companion.chart.keys import write_key
from companion.chart.model import Chart, Section
from companion.chart.toml.arrangement import places_of, written_arrangement
from companion.chart.toml.arrangement_update import update_arrangement
from companion.chart.toml.read import parse_toml, unit_of
from companion.chart.toml.text import quoted
from companion.chart.toml.write import (
    written_bar_metres,
    written_bars,
    written_events,
    written_form,
    written_tempo,
)
from companion.errors import ChartError

_TIGHT = re.compile(r'"""\n\[\[arrangement\]\]')
"""Two tables without a blank line between them, as tomlkit leaves them where one has got longer."""


def update_toml(text: str, chart: Chart) -> str:
    """A chart file's text, changed so that it says ``chart``; comments and layout stay wherever nothing has changed.

    Parameters
    ----------
    text : str
        A chart file that can be read.
    chart : Chart
        What it shall say.

    Returns
    -------
    str

    Raises
    ------
    ChartError
        When the text can't be read, or is of a newer format: such a file is never changed.
    """
    import tomlkit

    before = parse_toml(text)
    document = tomlkit.parse(text)
    for name, old, new in _scalars(before, chart):
        if old == new:
            continue
        if new is None:
            document.pop(name, None)
        else:
            document[name] = tomlkit.parse(f"x = {new}")["x"]
    _update_sections(document, before, chart)
    changed = _with_arrangement(document, before, chart)
    if replace(parse_toml(changed), source=None) != replace(chart, source=None):
        raise ChartError("can't be changed as asked without losing something", mend="write the chart to a new file")
    return changed


def _with_arrangement(document: Any, before: Chart, after: Chart) -> str:
    """The text of a document whose arrangement says what is written in ``after``."""
    import tomlkit

    unit = unit_of(document.get("unit"), after.metre)
    tables = document.get("arrangement")
    same_places = [(p.name, p.bars) for p in places_of(before)] == [(p.name, p.bars) for p in places_of(after)]
    if tables is not None and (not after.written or not same_places):
        del document["arrangement"]
        tables = None
    if tables is not None:
        if (before.written, before.metre, before.fifths) != (after.written, after.metre, after.fifths):
            update_arrangement(document, before, after, unit)
        return _TIGHT.sub('"""\n\n[[arrangement]]', tomlkit.dumps(document))
    text = tomlkit.dumps(document)
    if not after.written:
        return text
    return text.rstrip("\n") + "\n" + "\n".join(written_arrangement(after, unit)) + "\n"


def _scalars(before: Chart, after: Chart) -> list[tuple[str, str | None, str | None]]:
    """Top-level entries as TOML, before and after; None where there is none."""

    def entries(chart: Chart) -> list[tuple[str, str | None]]:
        return [
            ("title", quoted(chart.title)),
            ("composer", quoted(chart.composer) if chart.composer is not None else None),
            ("key", quoted(write_key(chart.fifths, chart.minor))),
            ("metre", quoted(str(chart.metre))),
            ("tempo", written_tempo(chart.tempo)),
            ("feel", quoted(chart.feel)),
            ("form", written_form(chart.form)),
            ("order", written_events(chart.events) if chart.events else None),
            ("unit", None),
        ]

    pairs = zip(entries(before), entries(after), strict=True)
    return [(name, old, new) for (name, old), (_, new) in pairs]


def _update_sections(document: Any, before: Chart, after: Chart) -> None:
    """Write anew the sections that have changed; all melodies when the key or the metre has."""
    import tomlkit

    known = {section.name: section for section in before.sections}
    wanted = [section.name for section in after.sections]
    respelled = (before.metre, before.fifths) != (after.metre, after.fifths)
    tables = document["section"]
    for name in known.keys() - set(wanted):
        del tables[name]
    for section in after.sections:
        old = known.get(section.name)
        if old is None:
            tables.add(section.name, tomlkit.table())
        if old is None or respelled or section != old:
            _update_section(tables[section.name], old, section, after, document.get("unit"))
    if [name for name in tables if name in wanted] != wanted:
        kept = {name: tables[name] for name in wanted}
        for name in wanted:
            del tables[name]
        for name in wanted:
            tables.add(name, kept[name])


def _update_section(table: Any, old: Section | None, new: Section, chart: Chart, unit: str | None) -> None:
    import tomlkit

    if old is None or old.treatment != new.treatment:
        _set(table, "treatment", new.treatment)
    others = written_bar_metres(new.bars, chart.metre)
    _set(table, "bar_metres", tomlkit.parse(f"x = {others}")["x"] if others else None)
    length = unit_of(unit, chart.metre)
    chords, melody = written_bars(new, chart.metre, chart.fifths, length)
    for name, lines in (("chords", chords), ("melody", melody)):
        _set(table, name, tomlkit.parse("\n".join(['x = """', *lines, '"""']))["x"] if lines else None)


def _set(table: Any, name: str, value: Any) -> None:
    if value is not None:
        table[name] = value
    elif name in table:
        del table[name]
