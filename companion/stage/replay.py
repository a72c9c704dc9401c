"""A recorded performance played into the rehearsal through a virtual clock, as fast as the machine can.

The rehearsal hears nothing before its moment, so what it gives up to any moment does not depend on what comes later.

Conventions: seconds of the performance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.chart.model import Chart
from companion.messages import Heard, Order, Report, Wish
from companion.stage.from_the_top import FromTheTop
from companion.stage.settings import Settings
from companion.stage.signals import Signals, sifted


@dataclass(frozen=True)
class Recording:
    """What was heard, ordered and reported."""

    heard: tuple[Heard, ...]
    """What of it was playing."""
    orders: tuple[Order, ...]
    reports: tuple[Report, ...]


def replay(
    chart: Chart,
    performance: Sequence[Heard | Wish],
    settings: Settings,
    *,
    signals: Signals | None = None,
    until: float | None = None,
    watch: Callable[[float, Sequence[Order], Sequence[Report]], None] | None = None,
) -> Recording:
    """Play a performance into a rehearsal.

    Parameters
    ----------
    chart : Chart
    performance : sequence of Heard and Wish
        In order of time.
    settings : Settings
    signals : Signals, optional
        What of it is no playing but tells something; nothing unless given.
    until : float, optional
        Where to stop, in seconds; by default the performance's last event, or the last chorus.
    watch : callable, optional
        Called with the moment, the orders and the reports of each step.

    Returns
    -------
    Recording
    """
    rehearsal = FromTheTop(chart, settings)
    orders: list[Order] = []
    reports: list[Report] = []
    end = until if until is not None else max((event.seconds for event in performance), default=0.0)
    events = sifted(performance, signals or Signals(), end)
    for event in events:
        step = rehearsal.advance(event.seconds, [event])
        orders += step.orders
        reports += step.reports
        if watch:
            watch(event.seconds, step.orders, step.reports)
    for step in (rehearsal.advance(end, []), rehearsal.finish(end)):
        orders += step.orders
        reports += step.reports
        if watch:
            watch(end, step.orders, step.reports)
    heard = tuple(event for event in events if isinstance(event, Heard))
    return Recording(heard, tuple(orders), tuple(reports))
