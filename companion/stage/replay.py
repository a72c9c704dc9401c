"""A recorded performance played into the rehearsal through a virtual clock, as fast as the machine can.

The rehearsal hears nothing before its moment, so what it gives up to any moment does not depend on what comes later.

Conventions: seconds of the performance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.chart.model import Chart
from companion.messages import Heard, Order, Report
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings


@dataclass(frozen=True)
class Recording:
    """What was heard, ordered and reported."""

    heard: tuple[Heard, ...]
    orders: tuple[Order, ...]
    reports: tuple[Report, ...]


def replay(
    chart: Chart,
    performance: Sequence[Heard],
    settings: Settings,
    *,
    until: float | None = None,
    watch: Callable[[float, Sequence[Order], Sequence[Report]], None] | None = None,
) -> Recording:
    """Play a performance into a rehearsal.

    Parameters
    ----------
    chart : Chart
    performance : sequence of Heard
        In order of time.
    settings : Settings
    until : float, optional
        Where to stop, in seconds; by default the performance's last event, or the last chorus.
    watch : callable, optional
        Called with the moment, the orders and the reports of each step.

    Returns
    -------
    Recording
    """
    rehearsal = Rehearsal(chart, settings)
    orders: list[Order] = []
    reports: list[Report] = []
    end = until if until is not None else max((event.seconds for event in performance), default=0.0)
    heard = [event for event in performance if event.seconds <= end]
    for event in heard:
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
    return Recording(tuple(heard), tuple(orders), tuple(reports))
