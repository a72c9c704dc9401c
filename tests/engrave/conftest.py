"""Charts and sheets to engrave."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.arrange.plan import arrange
from companion.chart.model import Chart
from companion.engrave.score import sheet as laid_out
from companion.engrave.sheet import Sheet


@pytest.fixture
def arranged() -> Callable[[Chart], Sheet]:
    """The arrangement of a chart on two staves."""

    def of(chart: Chart) -> Sheet:
        form = chart.unfold()
        return laid_out(chart, form, [note for part in ("melody", "chords", "bass") for note in arrange(form, part)])

    return of
