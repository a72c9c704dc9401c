"""Charts and sheets to engrave."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.arrange.plan import arrange
from companion.chart.model import Chart
from companion.engrave.score import sheet as laid_out
from companion.engrave.sheet import Sheet
from companion.load import load
from companion.resources import chart_path

VARIED = (
    "confetti-on-the-stairs", "ferry-without-lights", "five-gates-down", "half-a-moon-in-the-millpond",
    "heron-over-slate", "mill-wheel-at-rest", "salt-in-the-ink", "staircase-on-loan", "tide-at-the-tollgate",
    "twelve-front-doors",
)  # fmt: skip
"""Charts that between them have every metre, feel, treatment, introduction and ending of those that are shipped."""


@pytest.fixture(params=VARIED)
def varied(request: pytest.FixtureRequest) -> Chart:
    """Each of some shipped charts that differ in all that matters on paper."""
    return load(chart_path(request.param))


@pytest.fixture
def arranged() -> Callable[[Chart], Sheet]:
    """The arrangement of a chart on two staves."""

    def of(chart: Chart) -> Sheet:
        form = chart.unfold()
        return laid_out(chart, form, [note for part in ("melody", "chords", "bass") for note in arrange(form, part)])

    return of
