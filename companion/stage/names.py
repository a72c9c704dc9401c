"""Names checked before the count-in: every treatment, ending and introduction that a rehearsal is going to need.

A treatment is read when its chorus is arranged, an ending when the last time is told; a misspelt name there would break
off a take in the middle. Names that won't be needed are not checked: a chart that is played under one treatment may
name others that don't exist.
"""

from __future__ import annotations

from collections.abc import Collection

from companion.arrange.events import HELD, ending_form, introduction_form
from companion.arrange.treatments import names as treatment_names
from companion.chart.check import unknown_feel, unknown_treatments
from companion.chart.model import Chart
from companion.errors import UseError, right_name
from companion.messages import EVENTS, PARTS, EventKind
from companion.music.swing import feel_names
from companion.stage.settings import ORDERS, TIMES, Settings


def check_names(chart: Chart, settings: Settings) -> None:
    """See that there is whatever a chart and the settings name and the playing needs.

    Parameters
    ----------
    chart : Chart
    settings : Settings

    Raises
    ------
    UseError
        The settings name a part, a time, an order or a treatment that there isn't; or the chart's order an introduction
        or an ending that is made in no known way.
    ChartError
        The chart names a treatment or a feel that there isn't. Each says the file, the place, and the nearest name.
    ConfigError
        A file of the player's own can't be read.
    """
    for part in sorted({*settings.you, *settings.parts}):
        _check("part", part, PARTS)
    _check("time", settings.time, TIMES)
    _check("order", settings.order, ORDERS)
    kinds = _asked_for(settings)
    treatments = treatment_names()
    if settings.treatment is not None:
        _check("treatment", settings.treatment, treatments, where="--treatment")
    else:
        for fault in unknown_treatments(chart, treatments, sections=chart.form, kinds=kinds):
            raise fault.within(file=chart.source)
    if not chart.metre.compound and chart.feel not in (feels := feel_names()):
        raise unknown_feel(chart.feel, feels).within(file=chart.source)
    _check_ways(chart, kinds)


def _asked_for(settings: Settings) -> Collection[EventKind]:
    """The kinds of events that may be played: without the chart's order, its ending once the last time is told."""
    if settings.order == "chart":
        return EVENTS
    return {"ending"} if settings.order == "open" else ()


def _check_ways(chart: Chart, kinds: Collection[EventKind]) -> None:
    """See that introduction and ending can be made."""
    making = {"introduction": introduction_form, "ending": ending_form}
    form = chart.unfold()
    for number, event in enumerate(chart.events or (HELD,), 1):
        if event.kind in kinds and event.kind in making:
            try:
                making[event.kind](form, event)
            except UseError as error:
                raise error.within(file=chart.source, where=f"order, event {number}") from None


def _check(kind: str, said: str, known: Collection[str], where: str | None = None) -> None:
    if said not in known:
        raise UseError(f"there is no {kind} called {said!r}", where=where, mend=right_name(said, known))
