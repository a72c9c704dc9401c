"""How a tune stands, as one sees it: a column a bar, as high as the tempo reached in it, section by section.

Full height is the tune's own tempo, reached with a good round; a dot is a bar over which no good round went.
"""

from __future__ import annotations

from datetime import date
from itertools import groupby
from math import ceil

from companion.chart.model import Chart
from companion.practice.day_plan import days_ago
from companion.practice.repertoire import TuneStanding

HEIGHTS = "▁▂▃▄▅▆▇█"
NONE = "·"
WIDE = 40
"""Columns of a picture at most; beyond that a column is two bars, or more."""
LEGEND = "a column a bar, as high as the tempo of your best good round there; full height is the tune's own"


def column(reached: float | None, tempo: float) -> str:
    """One column.

    >>> column(None, 120), column(60, 120), column(120, 120), column(150, 120)
    ('·', '▄', '█', '█')
    """
    if not reached:
        return NONE
    return HEIGHTS[min(max(ceil(len(HEIGHTS) * reached / tempo), 1), len(HEIGHTS)) - 1]


def tune_picture(tune: TuneStanding, chart: Chart) -> str:
    """The bars of a tune in a line, under the names of its sections."""
    form, by_bar = chart.unfold(), dict(tune.by_bar)
    tempo = tune.tempo or chart.tempo
    each = ceil(len(form.bars) / WIDE)
    parts = []
    for section, group in groupby(enumerate(form.bars, 1), key=lambda pair: form.section_at(pair[1])):
        reached = [by_bar.get(bar) for bar, _ in group]
        lowest = [_lowest(reached[n : n + each]) for n in range(0, len(reached), each)]
        parts.append(f"{section.name} " + "".join(column(one, tempo) for one in lowest))
    return "  ".join(parts)


def _lowest(reached: list[float | None]) -> float | None:
    return min((one or 0.0) for one in reached) or None


def tune_words(tune: TuneStanding, today: date, played: date) -> str:
    """How a tune stands in a few words."""
    holds, due = sum(p.holds for p in tune.passages if not p.whole), len(tune.due(today))
    drilled = sum(not p.whole for p in tune.passages)
    words = [f"played {days_ago((today - played).days)}"]
    if drilled:
        words.append(f"{holds} of {drilled} passages hold" if drilled > 1 else f"its passage {_holds(holds)}")
    if tune.through:
        words.append(f"through without a stop at {tune.through:g}")
    if due:
        words.append(f"{due} due")
    return ", ".join(words)


def _holds(holds: int) -> str:
    return "holds" if holds else "doesn't hold yet"
