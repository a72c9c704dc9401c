"""Timing over bars as a picture: how early and late the notes were, and the tempo of each bar."""

from __future__ import annotations

import statistics
from collections import defaultdict
from typing import TYPE_CHECKING

from companion.chart.model import Form
from companion.practice.plotting import FAINT, FAULT, INK, SOFT, WASH, figure, titled, written
from companion.practice.review import Review

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 7.3
NARROW = 5.0
"""Inches; below the second, words are fewer and not every bar bears its number."""
LEAST_MS, MOST_MS = 60.0, 160.0
"""How far the scale of early and late goes, at least and at most; what is beyond stands at its edge."""


def timing_picture(form: Form, found: Review, width: float = WIDTH) -> bytes:
    """Early and late, and tempo, over the bars of one time through.

    Parameters
    ----------
    form : Form
    found : Review
        What is known of that time through.
    width : float
        Inches.

    Returns
    -------
    bytes
        SVG.

    Raises
    ------
    UseError
        matplotlib isn't installed.
    """
    return written(timing_figure(form, found, width), ".svg")


def timing_figure(form: Form, found: Review, width: float) -> Figure:
    """The picture as it is drawn. As :func:`timing_picture`."""
    made, (timing, tempo) = figure(width, [1.5, 0.8])
    for axes in (timing, tempo):
        _bars(axes, form, found, width)
    _early_and_late(timing, form, found, width)
    _tempo(tempo, found)
    return made


def _bars(axes: Axes, form: Form, found: Review, width: float) -> None:
    """The bars with something said of them washed, and a line where a section begins."""
    last = len(form.bars)
    for bar in sorted({one.bar for one in found.findings}):
        axes.axvspan(bar, bar + 1, color=WASH, zorder=0, linewidth=0)
    for place in form.sections:
        axes.axvline(form.bar_at(place.start), color=FAINT, linewidth=0.8, zorder=1)
    axes.set_xlim(0 if form.pickup else 1, last + 1)
    asked = last * WIDTH / width
    each = next((n for n in (1, 2, 4, 8, 16) if asked <= 16 * n), 32)
    axes.set_xticks([bar + 0.5 for bar in range(1, last + 1, each)], [str(bar) for bar in range(1, last + 1, each)])
    axes.tick_params(axis="x", length=0)


def _early_and_late(axes: Axes, form: Form, found: Review, width: float) -> None:
    length = float(form.metre.bar)

    def at(beat: float) -> float:
        inside = min(beat, float(form.length) - 1e-3)  # what comes after the end belongs to the last bar
        number = 0 if beat < 0 else form.bar_at(inside)
        start = float(form.bars[number - 1]) if number else -length
        return number + (inside - start) / length

    axes.axhline(0, color=SOFT, linewidth=0.7, zorder=1)
    off = [note.deviation_ms for note in found.notes if note.deviation_ms is not None]
    most = min(max([LEAST_MS, *(1.1 * abs(one) for one in off)]), MOST_MS)
    by_bar: dict[int, list[float]] = defaultdict(list)
    for wrong, marker, colour, size in ((False, "o", INK, 9.0), (True, "x", FAULT, 18.0)):
        some = [note for note in found.notes if note.is_fault is wrong and note.deviation_ms is not None]
        places = [at(note.chart_beat) for note in some]
        values = [min(max(note.deviation_ms or 0.0, -most), most) for note in some]
        axes.scatter(places, values, marker=marker, color=colour, s=size, linewidth=1.0, zorder=3, clip_on=False)
        for place, value in zip(places, values, strict=True):
            by_bar[int(place)].append(value)
    for bar, values in by_bar.items():
        axes.plot([bar + 0.06, bar + 0.94], [statistics.median(values)] * 2, color=SOFT, linewidth=1.6, zorder=2)
    axes.set_ylim(-most, most)
    if width < NARROW:
        titled(axes, "Early below, late above", "ms")
    else:
        titled(axes, "Early (below) and late (above) against your own beat", "milliseconds; a line: the bar's median")


def _tempo(axes: Axes, found: Review) -> None:
    for bar in found.bars:
        if bar.tempo and bar.notes:
            axes.plot([bar.bar, bar.bar + 1], [bar.tempo] * 2, color=INK, linewidth=1.4, solid_capstyle="butt")
    tempi = [bar.tempo for bar in found.bars if bar.tempo and bar.notes]
    if tempi:
        middle = statistics.median(tempi)
        axes.set_ylim(min(0.92 * middle, *tempi), max(1.08 * middle, *tempi))
    titled(axes, "Tempo of each bar", "♩ a minute")
