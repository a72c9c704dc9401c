"""A tune on the stand, as a player process puts it there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from companion.chart.toml.write import write_toml
from companion.page.outgoing import Begun, OnTheStand

if TYPE_CHECKING:
    from companion.chart.model import Chart


def on_the_stand(chart: Chart, *, ordered: bool = False) -> OnTheStand:
    begun = Begun(number=1, title=chart.title, you=("melody",), parts=("chords", "bass"), ordered=ordered)
    return OnTheStand(begun, write_toml(chart))


@pytest.fixture
def ferry_on_the_stand(ferry: Chart) -> OnTheStand:
    """The tune in its order of events."""
    return on_the_stand(ferry, ordered=True)
