"""A chart as text for a terminal: form, order of events, sections with their bars, and the scales for each chord.

A section with a melody stands on a grid of beats (:mod:`companion.chart.beat_grid`), its chords alone in bars of their
own width; four bars a line where they fit, bar lines under bar lines. Plain letters and signs only, so that every
terminal can print them.
"""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Iterator, Sequence

from companion.chart.beat_grid import LEGEND, BeatGrid, systems
from companion.chart.keys import write_key
from companion.chart.model import Chart, Event, Form, Section
from companion.chart.toml.chords import write_chords
from companion.music.scales import Scale, scales_over, tune_scales_in_words

BARS_A_LINE = 4


def show(chart: Chart, *, width: int = 100, scales: bool = True) -> str:
    """The chart as text.

    Parameters
    ----------
    chart : Chart
    width : int
        Columns of the terminal; with fewer than four bars need, two or one stand on a line.
    scales : bool
        List the scales for each chord, and those that serve throughout.

    Returns
    -------
    str
        Several lines, without a final line end.
    """
    form = chart.unfold()
    lines = [*_head(chart, form)]
    if any(section.melody for section in chart.sections):
        lines += ["", *textwrap.wrap(LEGEND, width)]
    for section in chart.sections:
        lines += ["", *_section(section, chart, form, width)]
    if scales:
        lines += ["", *_scales(form)]
    return "\n".join(_printable(line.rstrip()) for line in lines)


def _printable(line: str) -> str:
    """What a chart's own words may hold must not move the cursor."""
    return "".join(sign if sign.isprintable() else "?" for sign in line)


def _head(chart: Chart, form: Form) -> Iterator[str]:
    yield chart.title + (f" ({chart.composer})" if chart.composer else "")
    tempo = f"{chart.tempo:g} quarters a minute"
    yield f"{write_key(chart.fifths, chart.minor)}, {chart.metre}, {tempo}, {chart.feel}"
    bars = "1 bar" if len(form.bars) == 1 else f"{len(form.bars)} bars"
    yield f"form: {' '.join(chart.form)}, {bars}" + (", with a pickup" if form.pickup else "")
    if chart.events:
        yield "order: " + ", ".join(_event(event) for event in chart.events)
    if chart.written:
        yield "written: " + ", ".join(f"{part.part} in {_runs(part.bars)}" for part in chart.written)


def _runs(bars: Collection[int]) -> str:
    """Numbers of bars, those that follow each other together: 'bars 1-8 and 17'."""
    runs: list[list[int]] = []
    for bar in sorted(bars):
        if runs and bar == runs[-1][-1] + 1:
            runs[-1].append(bar)
        else:
            runs.append([bar])
    words = [f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs]
    listed = " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
    return f"{'bar' if len(bars) == 1 else 'bars'} {listed}"


def _event(event: Event) -> str:
    words = [event.kind if event.choruses == 1 else f"{event.choruses} choruses of {event.kind}"]
    about = [f"{event.bars} bars" if event.bars else "", event.how or "", event.treatment or ""]
    details = ", ".join(word for word in about if word)
    return words[0] + (f" ({details})" if details else "")


def _section(section: Section, chart: Chart, form: Form, width: int) -> Iterator[str]:
    where = ", ".join(
        f"{form.bar_at(place.start)}-{form.bar_at(place.start) + len(section.bars) - 1}"
        for place in form.sections
        if place.name == section.name
    )
    treatment = f", {section.treatment}" if section.treatment else ""
    yield f"{section.name}{treatment}" + (f" (bars {where})" if where else " (never played)")
    first = next((form.bar_at(place.start) for place in form.sections if place.name == section.name), None)
    numbers = list(range(first, first + len(section.bars))) if first is not None else []
    if section.melody:
        yield from systems(BeatGrid(section, chart.metre), width, numbers)
        return
    chords = write_chords(section.chords, section.bars, chart.metre)
    count = next((n for n in (BARS_A_LINE, 2) if 5 + sum(_widths(chords, n)) + 3 * n <= width), 1)
    widths = _widths(chords, count)
    for at in range(0, len(chords), count):
        number = str(numbers[at]) if numbers else ""
        yield f"{number:>3} |" + "".join(f" {cell:<{widths[c]}} |" for c, cell in enumerate(chords[at : at + count]))


def _widths(chords: Sequence[str], count: int) -> list[int]:
    """Width of each column when so many bars stand on a line."""
    return [max((len(cell) for cell in chords[c::count]), default=0) for c in range(count)]


def _scales(form: Form) -> Iterator[str]:
    if any(span.chord.is_chord for span in form.chords):
        yield f"over the whole form: {tune_scales_in_words(form, lambda scale: f'{scale} ({_names(scale)})')}"
    found: dict[tuple[str, str], Scale] = {}
    for span, scales in zip(form.chords, scales_over(form), strict=True):
        if scales:
            found.setdefault((span.chord.symbol, str(scales[0])), scales[0])
    if not found:
        return
    widths = [max(len(key[k]) for key in found) for k in (0, 1)]
    yield "chord by chord:"
    for (symbol, name), scale in found.items():
        yield f"  {symbol:<{widths[0]}}  {name:<{widths[1]}}  {_names(scale)}"


def _names(scale: Scale) -> str:
    return " ".join(str(name) for name in scale.names_to_read)
