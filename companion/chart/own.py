"""The player's own charts: where a new one goes, and where a change to any chart is kept.

A chart that isn't the player's own is never changed: what is made of it becomes a copy among their own, which then goes
before it by name. Nothing here takes the place of another chart.
"""

from __future__ import annotations

import re
from pathlib import Path

from companion.chart.model import Chart
from companion.resources import chart_name, data_folder, free_chart_place


def own_folder() -> Path:
    """Where they lie; it may not exist yet."""
    return data_folder() / "charts"


def free_place(chart: Chart) -> Path:
    """A file among the player's own charts, whose folder is made, that no chart is called like."""
    place = free_chart_place(chart_name(chart.title))
    place.parent.mkdir(parents=True, exist_ok=True)
    return place


def is_own(path: Path) -> bool:
    """Whether a file is a chart of ours among the player's own."""
    return path.suffix.lower() == ".toml" and path.resolve().parent == own_folder().resolve()


def place_of_change(path: Path, chart: Chart) -> Path:
    """Where a changed chart is kept: in its own file where that is the player's own, else in a new one among them.

    Of one that comes with the companion the copy has the same name, and so goes before it; where that name is taken
    among the player's own already, a free one is found.
    """
    if is_own(path):
        return path
    own = own_folder() / f"{path.stem}.toml"
    if own.exists() or not re.fullmatch(r"[\w-]{1,80}", path.stem):
        return free_place(chart)
    own.parent.mkdir(parents=True, exist_ok=True)
    return own
