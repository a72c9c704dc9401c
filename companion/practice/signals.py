"""What the player tells by keys, pedals and switches in a drill: everything that can be wished, in every round alike.

So that a key never changes its meaning between two rounds, the keys are those that the tune leaves free in each of its
keys and for either hand.
"""

from __future__ import annotations

from companion.arrange.transposition import in_key
from companion.chart.model import Chart
from companion.messages import WISHES
from companion.practice.request import DrillRequest, other_hand
from companion.stage.signal_keys import signals_for
from companion.stage.signals import Signals


def drill_signals(chart: Chart, request: DrillRequest) -> Signals:
    """What takes signals out of what is played in a drill.

    Raises
    ------
    UseError
        The request names a key that there isn't.
    """
    charts = [in_key(chart, key) for key in sorted(set(request.keys))]
    you = request.you | other_hand(request.you) if request.swap else request.you
    return Signals(signals_for(charts, you, WISHES, over_a_bar_line=False))
