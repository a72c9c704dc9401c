"""A rehearsal that the player can begin again: the same tune from the top, with its count-in, in one take.

It drives one :class:`companion.stage.rehearsal.Rehearsal` after the other and is driven as one of them is. When the
player wishes for it *again*, what sounds ends, and a new one begins: counted in as the first was, or waiting for them.
Faster and slower change the tempo of what is played, where the companion keeps the time; before the first beat they
begin the count-in anew.

Conventions: seconds on the rehearsal's clock, tempo in quarters a minute.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from companion.chart.model import Chart
from companion.messages import Heard, State, Step, Wish, WishName
from companion.stage.outbox import Outbox
from companion.stage.pace import tempo_factor
from companion.stage.rehearsal import Prepared, Rehearsal
from companion.stage.settings import Settings
from companion.stage.signal_keys import signals_for
from companion.stage.signals import Signals

BREATH = 1.5
"""Seconds from the wish to the first click: the hand goes back to its keys."""


def usable_wishes(settings: Settings, *, next_follows: bool = False) -> tuple[WishName, ...]:
    """What can be wished while a tune is played; something else next where something follows it."""
    last: tuple[WishName, ...] = ("last time",) if settings.order != "form" else ()
    tempo: tuple[WishName, ...] = ("faster", "slower") if settings.time == "steady" else ()
    then: tuple[WishName, ...] = ("next",) if next_follows else ()
    return (*last, "again", *then, "stop", "keep", *tempo)


def signals_of(chart: Chart, settings: Settings, *, next_follows: bool = False) -> Signals:
    """What the player tells by keys, pedals and switches while a tune is played; as :func:`usable_wishes`."""
    return Signals(signals_for([chart], settings.you, usable_wishes(settings, next_follows=next_follows)))


@dataclass(frozen=True)
class PreparedAnew:
    """What was worked out ahead, and for which beginning."""

    time: int
    prepared: Prepared


class FromTheTop:
    """A rehearsal of chart and settings, as often as the player begins it.

    Parameters
    ----------
    chart : Chart
    settings : Settings

    Raises
    ------
    UseError, ChartError, ConfigError
        As :class:`companion.stage.rehearsal.Rehearsal`.
    """

    def __init__(self, chart: Chart, settings: Settings) -> None:
        self.chart, self.settings = chart, settings
        self._rehearsal = Rehearsal(chart, settings)
        self._time = 1
        """How often it has begun."""
        self._out = Outbox()

    def advance(self, now: float, events: Sequence[Heard | Wish]) -> Step:
        """Go on to a moment; as :meth:`companion.stage.rehearsal.Rehearsal.advance`."""
        together: list[Heard | Wish] = []
        for event in events:
            if isinstance(event, Wish):
                if event.name == "next":  # what follows is the business of whoever began this tune
                    event = replace(event, name="stop")
                self._collect(self._rehearsal.advance(event.seconds, together))
                together = []
                if self._begins_anew(event):
                    self._begin_anew(event)
                    continue
            together.append(event)
        return self._step(self._rehearsal.advance(now, together))

    def prepare(self, chorus: int) -> Callable[[], PreparedAnew]:
        """The longer work for a chorus; as :meth:`companion.stage.rehearsal.Rehearsal.prepare`."""
        time, work = self._time, self._rehearsal.prepare(chorus)
        return lambda: PreparedAnew(time, work())

    def adopt(self, prepared: PreparedAnew) -> None:
        """Take what was worked out ahead, unless the tune has begun again since."""
        if prepared.time == self._time:
            self._rehearsal.adopt(prepared.prepared)

    def prepare_treatment(self, wish: Wish) -> Callable[[], PreparedAnew] | None:
        """The longer work for a wished treatment; as :meth:`companion.stage.rehearsal.Rehearsal.prepare_treatment`."""
        time, work = self._time, self._rehearsal.prepare_treatment(wish)
        return (lambda: PreparedAnew(time, work())) if work else None

    def finish(self, now: float) -> Step:
        """End everything that sounds."""
        return self._step(self._rehearsal.finish(now))

    # Beginning again

    def _begins_anew(self, wish: Wish) -> bool:
        state = self._rehearsal.state
        if wish.name == "again":
            return state != "ended"
        return state in ("waiting", "counting") and self._keeps_time_by(wish) != 1.0

    def _keeps_time_by(self, wish: Wish) -> float:
        """The factor by which a wish changes the tempo, where the companion keeps the time."""
        return tempo_factor(wish.name) if self.settings.time == "steady" else 1.0

    def _begin_anew(self, wish: Wish) -> None:
        before = self._rehearsal
        ended = before.finish(wish.seconds)
        reports = tuple(r for r in ended.reports if not (isinstance(r, State) and r.name == "ended"))
        self._collect(replace(ended, reports=reports))
        self.settings = self._settings_from(wish, before.begins_at)
        self._rehearsal = Rehearsal(self.chart, self.settings)
        self._rehearsal.treat(before.treatments)
        self._time += 1
        if before.begins_at is None:
            self._out.reports.append(State(wish.seconds, "waiting", tempo=self.settings.tempo))

    def _settings_from(self, wish: Wish, began_at: float | None) -> Settings:
        factor, told = self._keeps_time_by(wish), self.settings
        if factor != 1.0:
            told = replace(told, tempo=(told.tempo or self.chart.tempo) * factor)
        if told.start is None or began_at is None:
            return told
        counted = (told.start - began_at) / factor
        return replace(told, start=wish.seconds + BREATH + counted)

    def _collect(self, step: Step) -> None:
        self._out.orders += step.orders
        self._out.reports += step.reports

    def _step(self, step: Step) -> Step:
        self._collect(step)
        return self._out.step(step.wake)
