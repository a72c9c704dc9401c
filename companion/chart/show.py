"""A chart as text for a terminal: form, order of events, sections with their bars, and the scales for each chord.

Four bars a line where they fit, chord symbols above note names, bar lines under bar lines. ``-`` is a rest, ``~`` a
note that goes on from the bar before; a section's pickup stands before its first bar line. Plain letters and signs
only, so that every terminal can print them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from fractions import Fraction
from itertools import accumulate

from companion.chart.keys import write_key
from companion.chart.model import Chart, Event, Form, MelodyNote, Section
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
    pickup = " ".join(str(note.pitch) for note in section.melody if note.beat < 0)
    chords = write_chords(section.chords, section.bars, chart.metre)
    melody = [_note_names(section.melody, start, length) for start, length in _bars(section)] if section.melody else []
    rows = [chords, melody] if melody else [chords]
    margin = max(len(pickup) + 1, 4)
    count = next((n for n in (BARS_A_LINE, 2) if margin + 1 + sum(_widths(rows, n)) + 3 * n <= width), 1)
    widths = _widths(rows, count)
    for first in range(0, len(chords), count):
        for row in rows:
            cells = [f" {cell:<{widths[c]}} |" for c, cell in enumerate(row[first : first + count])]
            lead = pickup if row is melody and first == 0 else ""
            yield f"{lead:>{margin - 1}} |" + "".join(cells)


def _bars(section: Section) -> list[tuple[Fraction, Fraction]]:
    """Start and length of each bar."""
    return list(zip(accumulate(section.bars, initial=Fraction(0)), section.bars, strict=False))


def _widths(rows: Sequence[Sequence[str]], count: int) -> list[int]:
    """Width of each column when so many bars stand on a line."""
    return [max((len(cell) for row in rows for cell in row[c::count]), default=0) for c in range(count)]


def _note_names(melody: Sequence[MelodyNote], start: Fraction, length: Fraction) -> str:
    """The notes of one bar, with its rests."""
    words = []
    at = start
    for note in melody:
        end = note.beat + note.length
        if end <= start or note.beat >= start + length:
            continue
        if note.beat > at:
            words.append("-")
        words.append("~" if note.beat < start else str(note.pitch))
        at = end
    if at < start + length:
        words.append("-")
    return " ".join(words)


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
