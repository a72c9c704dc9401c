"""A chart written as TOML, for a person to read and change: bar lines under bar lines, four bars a line.

What :func:`write_toml` gives, :func:`companion.chart.toml.read.parse_toml` reads back to an equal chart (but for
the file it came from). The layout is described in :mod:`companion.chart.toml`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from companion.chart.abc.note_syntax import default_unit
from companion.chart.abc.write import write_melody
from companion.chart.keys import write_key
from companion.chart.model import Chart, Event, Section
from companion.chart.toml.arrangement import written_arrangement
from companion.chart.toml.chords import write_chords
from companion.chart.toml.text import BARS_A_LINE, quoted
from companion.errors import ChartError
from companion.music.meter import Metre

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def write_toml(chart: Chart) -> str:
    """The text of a chart file.

    Raises
    ------
    ChartError
        When the chart can't be written down: a chord in a pickup, or a stretch between two chords without one.
    """
    lines = ["format = 1", f"title = {quoted(chart.title)}"]
    if chart.composer is not None:
        lines.append(f"composer = {quoted(chart.composer)}")
    lines += [
        f"key = {quoted(write_key(chart.fifths, chart.minor))}",
        f"metre = {quoted(str(chart.metre))}",
        f"tempo = {written_tempo(chart.tempo)}",
        f"feel = {quoted(chart.feel)}",
        f"form = {written_form(chart.form)}",
    ]
    if chart.events:
        lines += ["", f"order = {written_events(chart.events)}"]
    for section in chart.sections:
        lines += ["", *written_section(section, chart.metre, chart.fifths)]
    lines += written_arrangement(chart)
    return "\n".join(lines) + "\n"


def written_tempo(tempo: float) -> str:
    """A tempo as a number, whole where it is."""
    return str(int(tempo)) if tempo == int(tempo) else repr(float(tempo))


def written_form(form: Sequence[str]) -> str:
    """The form as one text where the names allow it, else as a list."""
    if form and all(name and not re.search(r"\s", name) for name in form):
        return quoted(" ".join(form))
    return "[" + ", ".join(quoted(name) for name in form) + "]"


def written_events(events: Sequence[Event]) -> str:
    """The order of events, one a line."""
    return "[\n" + "".join(f"  {written_event(event)},\n" for event in events) + "]"


def written_event(event: Event) -> str:
    """One event as an inline table; what is as usual is left out."""
    items = [f"play = {quoted(event.kind)}"]
    if event.choruses != 1:
        items.append(f"choruses = {event.choruses}")
    if event.how is not None:
        items.append(f"how = {quoted(event.how)}")
    if event.bars is not None:
        items.append(f"bars = {event.bars}")
    if event.treatment is not None:
        items.append(f"treatment = {quoted(event.treatment)}")
    return "{ " + ", ".join(items) + " }"


def section_header(name: str) -> str:
    """The head of a section's table."""
    return f"[section.{name if _BARE.fullmatch(name) else quoted(name)}]"


def written_section(section: Section, metre: Metre, fifths: int) -> list[str]:
    """A section's table, line by line."""
    lines = [section_header(section.name)]
    if section.treatment is not None:
        lines.append(f"treatment = {quoted(section.treatment)}")
    if others := written_bar_metres(section.bars, metre):
        lines.append(f"bar_metres = {others}")
    chords, melody = written_bars(section, metre, fifths)
    if chords:
        lines += ['chords = """', *chords, '"""']
    if melody:
        lines += ['melody = """', *melody, '"""']
    return lines


def written_bar_metres(bars: Sequence[Fraction], metre: Metre) -> str:
    """The bars that have a metre of their own; '' when none has."""
    others = [f"{k} = {quoted(_bar_metre(bar))}" for k, bar in enumerate(bars, 1) if bar != metre.bar]
    return "{ " + ", ".join(others) + " }" if others else ""


def _bar_metre(bar: Fraction) -> str:
    for beat_type in (4, 8, 16, 32):
        if (bar * beat_type / 4).denominator == 1:
            return f"{bar * beat_type / 4}/{beat_type}"
    whole = bar / 4
    return f"{whole.numerator}/{whole.denominator}"


def written_bars(
    section: Section, metre: Metre, fifths: int, unit: Fraction | None = None
) -> tuple[list[str], list[str]]:
    """Lines of chords and lines of melody, bar lines under bar lines.

    Parameters
    ----------
    section : Section
    metre : Metre
    fifths : int
        Key signature.
    unit : Fraction, optional
        Length of a plain note in quarters; the metre's usual one unless given.

    Returns
    -------
    chords, melody : list of str
        Melody is empty when the section has none; so are the chords when there is a melody without them.
    """
    _check(section)
    chords = write_chords(section.chords, section.bars, metre)
    pickup, melody, after = write_melody(
        section.melody,
        section.bars,
        unit or default_unit(metre),
        fifths,
        metre.pulse if metre.compound else Fraction(1),
    )
    if not section.chords and section.melody:
        chords = ["" for _ in chords]
    margin = len(pickup) + 1 if pickup else 0
    rows: tuple[list[str], list[str]] = ([], [])
    widths = [
        max(max(len(chords[k]), len(melody[k]) if section.melody else 0) for k in range(c, len(chords), BARS_A_LINE))
        for c in range(min(BARS_A_LINE, len(chords)))
    ]
    for first in range(0, len(chords), BARS_A_LINE):
        for row, bars in zip(rows, (chords, melody), strict=True):
            cells = [f" {bar:<{widths[c]}} |" for c, bar in enumerate(bars[first : first + BARS_A_LINE])]
            row.append(" " * margin + "|" + "".join(cells))
    if pickup:
        rows[1][0] = f"{pickup} " + rows[1][0][margin:]
    if after:
        rows[1][-1] += f" {after}"
    return (rows[0] if section.chords or not section.melody else []), (rows[1] if section.melody else [])


def _check(section: Section) -> None:
    at = None
    for span in section.chords:
        if span.start < 0:
            raise ChartError("a chord in the pickup can't be written down", where=f"section {section.name}")
        if at is not None and span.start != at:
            raise ChartError("a gap between two chords can't be written down", where=f"section {section.name}",
                             mend="put N.C. there")  # fmt: skip
        at = span.end
    if at is not None and at != section.length:
        raise ChartError("its chords don't reach its end", where=f"section {section.name}", mend="put N.C. there")
