"""What to drill where nothing was said.

Conventions: bars of the form, 1 = its first full bar.
"""

from __future__ import annotations

from companion.chart.model import Chart
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences


def proposed_bars(chart: Chart) -> tuple[tuple[int, int], str]:
    """The bars to begin with, and why."""
    form = chart.unfold()
    many = preferences(DrillPreferences).rounds.bars
    return (1, min(many, len(form.bars))), "the beginning; --bars or --section says otherwise"
