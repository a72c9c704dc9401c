"""A take as a chart: what the player played in it, barred by the beats that were sounded and spelled by its chart.

Conventions: seconds from the take's start; chart beats as reported.
"""

from __future__ import annotations

from companion.arrange.events import order
from companion.chart.imported import Imported
from companion.chart.model import Chart
from companion.errors import InputError
from companion.messages import Beat
from companion.stage.settings import Settings
from companion.stage.take import Take
from companion.transcribe.played_bars import PlayedBars, PlayedForm, played_bars
from companion.transcribe.played_tune import played_tune
from companion.transcribe.playing import keys_of


def take_chart(take: Take, *, alone: bool) -> Imported:
    """The chart of what was played in a take.

    Parameters
    ----------
    take : Take
    alone : bool
        Whether the parts that the player didn't play are silent; free otherwise.

    Raises
    ------
    InputError
        The take is damaged, or nothing was played in it, or fewer than two beats were sounded.
    """
    chart, settings = take.rehearsed()
    went = _went(take, chart, settings)
    keys = keys_of(take.heard(), pedal=False)
    title = f"{take.title}, as played {take.started:%Y-%m-%d %H:%M}"
    return played_tune(chart, title, keys, settings.you, went, alone=alone)


def bars_gone_through(take: Take) -> list[tuple[int, int]]:
    """The bars that the chart of a take has one after the other: of the tune's form (1 = its first full bar; 0 in an
    introduction or an ending), and in which time through it.

    Raises
    ------
    InputError
        As :func:`take_chart`.
    """
    chart, settings = take.rehearsed()
    return [
        (0 if bar.source.name else bar.source.form.bar_at(bar.inside), bar.chorus)
        for bar in _went(take, chart, settings).bars
    ]


def _went(take: Take, chart: Chart, settings: Settings) -> PlayedBars:
    tune = PlayedForm(chart.unfold())
    others: dict[str, PlayedForm] = {}
    for stretch in order(chart) if settings.order == "chart" else ():
        if stretch.kind in ("introduction", "ending"):
            others[stretch.kind] = PlayedForm(stretch.form, stretch.first, stretch.kind.capitalize())

    def form_of(beat: Beat) -> PlayedForm:
        return others.get(beat.event, tune)

    went = played_bars(take.beats, form_of)
    if went is None:
        what, mend = "no beat was sounded in that take, so nothing tells its bars", "take one of some bars"
        raise InputError(what, file=str(take.folder), mend=mend)
    return went
