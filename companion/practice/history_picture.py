"""A tune's history as a picture: the tempo reached, clean bars, and the faults of each bar, over the weeks.

For each section: every round of a drill that touched it at its tempo, and as a diamond each time that a take went
through it, filled where it was good or clean, open where it wasn't; the line of the tempo that it has reached, which
only climbs; dashed, the tempo of the tune. Then the share of clean bars in each take. Below: each bar of the form in
each week with takes, a square the larger the more faults each time; a dot is a bar that was played without any.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta, tzinfo
from functools import partial
from typing import TYPE_CHECKING, Any

from companion.practice.history import SectionPass, SectionProgress, TuneHistory
from companion.practice.plotting import FAINT, FAULT, INK, SOFT, figure, titled, written
from companion.practice.records import RoundRecord

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 8.0
"""Inches."""
LARGEST = 60.0
"""Area of the largest square, in square points, and ..."""
MOST = 3.0
"""... the faults each time from which on a square is as large."""


def history_picture(found: TuneHistory, zone: tzinfo | None, suffix: str = ".svg") -> bytes:
    """The bytes of a picture of a tune's history.

    Parameters
    ----------
    found : TuneHistory
    zone : tzinfo or None
        In which moments are shown.
    suffix : str
        ``.svg`` or ``.png``.

    Raises
    ------
    UseError
        matplotlib isn't installed.
    """
    return written(history_figure(found, zone), suffix)


def history_figure(found: TuneHistory, zone: tzinfo | None) -> Figure:
    """The picture as it is drawn. As :func:`history_picture`."""
    drawn: list[tuple[float, Callable[[Axes], None]]] = []
    for section in found.sections:
        drawn.append((1.1, partial(_draw_tempo, found=found, section=section, zone=zone)))
    if found.takes:
        drawn.append((0.9, partial(_draw_clean, found=found, zone=zone)))
        drawn.append((2.6, partial(_draw_bars, found=found, zone=zone)))
    if not drawn:
        drawn.append((0.9, partial(_draw_days, found=found, zone=zone)))
    made, rows = figure(WIDTH, [height for height, _ in drawn])
    for axes, (_, draw) in zip(rows, drawn, strict=True):
        draw(axes)
    if found.sections:
        _same_tempi(rows[: len(found.sections)])
    made.suptitle(found.standing.title, x=0.012, ha="left", fontsize=13)
    _dates(rows[-1], found, zone)
    return made


def _dates(axes: Axes, found: TuneHistory, zone: tzinfo | None) -> None:
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    first, last = found.days[0], found.days[-1]
    margin = max(timedelta(days=1), (last - first) / 25)
    ends = [datetime(day.year, day.month, day.day, 12, tzinfo=zone) for day in (first, last)]
    axes.set_xlim(ends[0] - margin, ends[1] + margin)  # type: ignore[arg-type]
    locator: Any = AutoDateLocator(minticks=3, maxticks=8, tz=zone)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator, tz=zone))  # type: ignore[no-untyped-call]


def _draw_tempo(axes: Axes, found: TuneHistory, section: SectionProgress, zone: tzinfo | None) -> None:
    touched = [one for one in found.rounds if one.you == section.you and section.touches(one)]
    for good, face in ((False, "white"), (True, SOFT)):
        some = [one for one in touched if one.good is good]
        times = [one.at.astimezone(zone) for one in some]
        tempi = [one.tempo for one in some]
        axes.scatter(times, tempi, s=11, facecolor=face, edgecolor=SOFT, linewidth=0.6, zorder=2)  # type: ignore[arg-type]
        through = [one for one in section.passes if one.clean is good]
        times, tempi = [one.at.astimezone(zone) for one in through], [one.tempo for one in through]
        axes.scatter(times, tempi, s=13, marker="D", facecolor=face, edgecolor=SOFT, linewidth=0.6, zorder=2)  # type: ignore[arg-type]
    if found.standing.tempo:
        axes.axhline(found.standing.tempo, color=SOFT, linewidth=0.8, linestyle=(0, (4, 3)), zorder=1)
    steps = reached_over_time(found, section)
    if steps:
        moments = [*(one.at for one in found.rounds), *(one.take.started for one in found.takes)]
        end = max(moments).astimezone(zone)
        line: Any = [*((at.astimezone(zone), tempo) for at, tempo in steps), (end, steps[-1][1])]
        axes.step(*zip(*line, strict=True), where="post", color=INK, linewidth=1.6, zorder=3)
        axes.annotate(f"{steps[-1][1]:g}", (1, steps[-1][1]), xycoords=("axes fraction", "data"), xytext=(4, 0),
                      textcoords="offset points", va="center", annotation_clip=False)  # fmt: skip
    what = f"{section.name}, bars {section.first}-{section.last}: {', '.join(section.you)}"
    legend = "♩ a minute; circle: a round, diamond: a take; filled: good; line: reached; dashed: the tune's"
    titled(axes, what, legend if section is found.sections[0] else "")


def _same_tempi(rows: Sequence[Axes]) -> None:
    """One scale of tempi for all sections."""
    low, high = min(axes.get_ylim()[0] for axes in rows), max(axes.get_ylim()[1] for axes in rows)
    for axes in rows:
        axes.set_ylim(low, high)


def reached_over_time(found: TuneHistory, section: SectionProgress) -> list[tuple[datetime, float]]:
    """When a section reached which tempo: that of its slowest bar, from the moment at which each bar has one; or that
    of a clean time through it."""
    best: dict[int, float] = {}
    bars = range(section.first, section.last + 1)
    steps: list[tuple[datetime, float]] = []
    drilled = [one for one in found.rounds if one.you == section.you and one.good]
    clean = [one for one in section.passes if one.clean]
    events: list[RoundRecord | SectionPass] = [*drilled, *clean]
    for one in sorted(events, key=lambda one: one.at):
        if isinstance(one, RoundRecord):
            for bar in bars:
                if one.first <= bar <= one.last:
                    best[bar] = max(best.get(bar, 0.0), one.tempo)
            reached = min(best.values()) if len(best) == len(bars) else 0.0
        else:
            reached = one.tempo
        if reached > (steps[-1][1] if steps else 0.0):
            steps.append((one.at, reached))
    return steps


def _draw_clean(axes: Axes, found: TuneHistory, zone: tzinfo | None) -> None:
    times = [one.take.started.astimezone(zone) for one in found.takes]
    shares = [100 * one.clean / one.played for one in found.takes]
    axes.plot(times, shares, color=INK, linewidth=1.0, marker="o", markersize=4, clip_on=False)  # type: ignore[arg-type]
    axes.set_ylim(0, 100)
    axes.set_yticks([0, 50, 100])
    titled(axes, "Clean bars in each take", "% of the bars played")


def _draw_bars(axes: Axes, found: TuneHistory, zone: tzinfo | None) -> None:
    from matplotlib.ticker import MaxNLocator

    last = max(bar.bar for one in found.takes for bar in one.bars)
    for section in dict.fromkeys((one.first, one.name) for one in found.sections):
        axes.axhline(section[0] - 0.5, color=FAINT, linewidth=0.7, zorder=0)
        axes.annotate(section[1], (1, section[0] - 0.4), xycoords=("axes fraction", "data"), xytext=(4, 0),
                      textcoords="offset points", va="top", fontsize=8, color=SOFT, annotation_clip=False)  # fmt: skip
    for week in found.weeks:
        if not week.played:
            continue
        middle = week.monday + timedelta(days=3)
        at = datetime(middle.year, middle.month, middle.day, 12, tzinfo=zone)
        weak = {one.bar: one.faults for one in week.weak}
        clean = week.clean_bars
        axes.scatter([at] * len(clean), list(clean), s=2, color=SOFT, zorder=2)  # type: ignore[arg-type]
        sizes = [LARGEST * min(faults, MOST) / MOST for faults in weak.values()]
        axes.scatter(
            [at] * len(weak), list(weak), s=[max(size, 6.0) for size in sizes],  # type: ignore[arg-type]
            marker="s", color=FAULT, zorder=3,
        )  # fmt: skip
    axes.set_ylim(last + 1, -0.5 if _pickup(found.takes) else 0.5)
    axes.yaxis.set_major_locator(MaxNLocator(8, integer=True))
    titled(axes, "Bars, week by week", "a square: something went wrong, the larger the more; a dot: clean")


def _pickup(takes: Sequence[Any]) -> bool:
    return any(bar.bar == 0 for one in takes for bar in one.bars)


def _draw_days(axes: Axes, found: TuneHistory, zone: tzinfo | None) -> None:
    """Of takes that nothing is said of bar by bar: when, and how fast."""
    axes.scatter(
        [datetime(day.year, day.month, day.day, 12, tzinfo=zone) for day in found.days],  # type: ignore[arg-type]
        [0] * len(found.days), color=INK, s=16,
    )  # fmt: skip
    axes.set_yticks([])
    titled(axes, "Days on which it was played")
