"""The order of events as it is played: which stretch is on, what comes next, and who plays what in each.

A tune goes as its chart says (:mod:`companion.arrange.events`), or round and round. The player may tell the last time
at the keyboard (:mod:`companion.stage.signals`, :mod:`companion.stage.gestures`): a solo chorus
then leads to the head out, any other to the ending.

Conventions: beats in quarters from the first downbeat of the first chorus, going on through the choruses; an
introduction lies below 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import replace
from functools import lru_cache
from typing import Literal

from companion.arrange.events import HELD, Stretch, chorus, ended, order
from companion.chart.model import Chart, Event, Form
from companion.messages import TINY, EventKind, Part
from companion.stage.ritardando import Ritardando, ritardando_of
from companion.stage.settings import Settings

KEPT = 16
"""Choruses of a tune without an order that are kept."""
ROUND = Event("head")
"""The event that a tune without an order repeats."""


class OrderOfEvents:
    """The stretches of one tune, and where in them the playing is.

    Parameters
    ----------
    form : Form
    settings : Settings
    chart : Chart, optional
        The form's, for its order of events.
    """

    def __init__(self, form: Form, settings: Settings, chart: Chart | None = None) -> None:
        self.form, self.settings = form, settings
        self.length = float(form.length)
        events = chart.events if chart else ()
        self.ending = next((event for event in events if event.kind == "ending"), HELD)
        self.plan: tuple[Stretch, ...] = ()
        """The stretches that are known; what comes before them and, where there are none, after, is round and round."""
        self._before_told: tuple[Stretch, ...] | None = None
        self._choruses: dict[int, Stretch] = {}
        if settings.order == "chart" and chart and events:
            stretches = order(chart, settings.choruses)
            if settings.start is None and stretches[0].kind == "introduction":  # the player begins, with the head
                stretches = (replace(stretches[1], before=None), *stretches[2:])
            self.plan = stretches

    @property
    def begins(self) -> float:
        """Where the first stretch begins: below 0 with an introduction."""
        return float(self.plan[0].start) if self.plan else 0.0

    @property
    def ends(self) -> float | None:
        """Where all is over; None where that isn't known."""
        if self.plan:
            return float(self.plan[-1].end)
        return self.settings.choruses * self.length if self.settings.choruses else None

    @property
    def last_time_told(self) -> bool:
        """Whether the player has said that this is the last time."""
        return self._before_told is not None

    def at(self, beat: float) -> Stretch:
        """The stretch in which a beat lies; before the first one, that one."""
        for stretch in self.plan:
            if stretch.start - TINY <= beat < stretch.end - TINY:
                return stretch
        if self.plan and (beat < self.begins or beat >= self.plan[-1].end - TINY) and self.settings.order == "chart":
            return self.plan[0] if beat < self.begins else self.plan[-1]
        return self._round(max(0, int((beat + TINY) // self.length)) + 1)

    def _round(self, number: int) -> Stretch:
        found = self._choruses.get(number)
        if found is None:
            found = self._choruses[number] = chorus(self.form, number, ROUND, number)
            for old in list(self._choruses)[:-KEPT]:
                self._choruses.pop(old, None)
        return found

    def after(self, stretch: Stretch) -> Stretch | None:
        """What comes after a stretch; None: nothing."""
        end = float(stretch.end)
        return None if self.ends is not None and end >= self.ends - TINY else self.at(end)

    def around(self, low: float, high: float) -> list[Stretch]:
        """The stretches between two beats and the one after: its first chord, or its melody, may come early."""
        if self.ends is not None and low >= self.ends - TINY:
            return []
        found = [self.at(low)]
        while (coming := self.after(found[-1])) is not None:
            found.append(coming)
            if coming.start > high:
                break
        return found

    def event(self, stretch: Stretch) -> tuple[EventKind | Literal[""], int, int | None]:
        """Which event a stretch belongs to, which of its choruses, and of how many; no name where there is no order."""
        if not self.plan or (self.settings.order != "chart" and stretch.kind == "head"):
            return "", 1, None
        return stretch.kind, stretch.time, stretch.times

    def chart_beat(self, beat: float) -> float:
        """The chart beat of a beat through the choruses: below 0 in an introduction, above the form in an ending."""
        if self.settings.order == "form":
            return round(beat % self.length, 6) % self.length
        return round(beat - float(self.at(beat).zero), 6) + 0.0

    def opens_bar(self, beat: float) -> bool:
        """Whether a beat is the first of a bar; in the count-in, of the metre's bar."""
        if beat < self.begins - TINY:
            return abs((beat - self.begins) % float(self.form.metre.bar)) < TINY
        stretch = self.at(beat)
        length = float(stretch.length)
        return round((beat - float(stretch.start)) % length, 6) % length in _bar_lines(stretch.form)

    def entrance(self, place: float) -> float:
        """Where a player who begins uncounted is, in the first chorus or its pickup."""
        return (place + float(self.form.pickup) + TINY) % self.length - float(self.form.pickup) - TINY

    def within(self, here: float, gap: float) -> float:
        """How far it is to where the player went, ``gap`` beats on in the form: in the same chorus, if it is far."""
        if abs(gap) <= float(self.form.metre.bar):
            return gap
        stretch = self.at(here)
        if here + gap < stretch.start - TINY:
            return gap + self.length
        return gap - self.length if here + gap >= stretch.end - TINY else gap

    def possible(self, number: int) -> list[Stretch]:
        """Every stretch that may be played of a chorus, as planned or once the last time is told."""
        plan = self._before_told or self.plan
        if not plan and self.settings.choruses and number > self.settings.choruses:
            return []
        found = [s for s in plan if s.chorus == number] or ([] if plan else [self._round(number)])
        if self.settings.order == "chart" and "melody" in self.settings.you:
            for stretch in [s for s in found if s in plan]:
                found += self._mistaken(stretch)
        if self.settings.order != "form":
            for stretch in (found[-1:] if found else []) + [s for s in plan if s.chorus == number - 1][-1:]:
                found += [s for s in self._told_in(stretch) or () if s.chorus == number and s not in found]
        return found

    @property
    def hold(self) -> float | None:
        """Where the last chord is struck, to be held; None where there is no ending."""
        hold = self.plan[-1].hold if self.plan else None
        return None if hold is None else float(hold)

    @property
    def ritardando(self) -> Ritardando | None:
        """Where the ending slows down, and how far."""
        return ritardando_of(self.plan[-1]) if self.plan else None

    def _mistaken(self, stretch: Stretch) -> list[Stretch]:
        """What a chorus after a solo may turn out to be."""
        before = self.before(stretch)
        if before is None or before.kind != "solos" or stretch.kind not in ("head", "solos"):
            return []
        kind: EventKind = "solos" if stretch.kind == "head" else "head"
        return [s for s in self._otherwise(stretch, kind) if s.chorus == stretch.chorus]

    def before(self, stretch: Stretch) -> Stretch | None:
        """What comes before a stretch of the plan."""
        index = self.plan.index(stretch) if stretch in self.plan else 0
        return self.plan[index - 1] if index else None

    def as_it_stands(self) -> OrderOfEvents:
        """The same, for another thread: what is told here from now on doesn't change it, nor it anything here."""
        twin = copy(self)
        twin._choruses = dict(self._choruses)
        return twin

    # The last time

    def tell(self, beat: float) -> bool:
        """The player says that this is the last time, or takes it back; whether that changes anything."""
        if self.settings.order == "form":
            return False
        if self._before_told is not None:
            self.plan, self._before_told = self._before_told, None
            return True
        shortened = self._told_in(self.at(beat))
        if shortened is None or shortened == self.plan:
            return False
        self._before_told, self.plan = self.plan, shortened
        return True

    def instead(self, kind: EventKind, beat: float) -> None:
        """The chorus that is on is another than was planned: one more of solos, or the head out already."""
        self._before_told, self.plan = None, self._otherwise(self.at(beat), kind)

    def _otherwise(self, here: Stretch, kind: EventKind) -> tuple[Stretch, ...]:
        """The plan with solos instead of the head in a chorus, or the head instead of solos."""
        index = self.plan.index(here)
        past, coming = self.plan[:index], [s for s in self.plan[index + 1 :] if s.kind != "ending"]
        if kind == "solos":
            solo = past[-1]
            more = replace(solo, time=solo.time + 1, times=max(solo.times, solo.time + 1))
            coming = [more, here, *coming]
        else:
            coming = _last_heads(coming) or [replace(here, kind="head", treatment=None, time=1, times=1)]
        return self._laid(past, coming, here.chorus)

    def _laid(self, past: Sequence[Stretch], coming: Sequence[Stretch], number: int) -> tuple[Stretch, ...]:
        """Stretches with choruses after them, the first of which is the ``number``-th, and the ending."""
        laid = [*past]
        for n, stretch in enumerate(coming, number):
            start = (n - 1) * self.form.length
            laid.append(replace(stretch, chorus=n, start=start, zero=start, onward=None))
        return ended(laid, self.ending)

    def go_on(self) -> None:
        """Another stretch has begun: what was told in the one before is done."""
        self._before_told = None

    def _told_in(self, stretch: Stretch) -> tuple[Stretch, ...] | None:
        """The plan once the last time is told in a stretch; None where nothing can come of it."""
        if stretch.kind in ("introduction", "ending"):
            return None
        past = [s for s in self.plan if s.end <= stretch.start]
        coming = [s for s in self.plan if s.start > stretch.start]
        heads: list[Stretch] = []
        if stretch.kind == "solos":
            heads = _last_heads(coming)
        return self._laid(past, [stretch, *heads], stretch.chorus)


@lru_cache(maxsize=32)
def _bar_lines(form: Form) -> frozenset[float]:
    return frozenset(round(float(bar), 6) for bar in form.bars)


def _last_heads(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The head out: the last choruses of the head."""
    found: list[Stretch] = []
    for stretch in reversed(stretches):
        if stretch.kind == "head":
            found.insert(0, stretch)
        elif found:
            break
    return found


# Who plays what


def roles(stretch: Stretch, you: frozenset[str], *, improvised: bool = False) -> frozenset[str]:
    """The player's parts in a stretch: in a solo chorus, or where it is heard, they improvise in the melody's place."""
    if (stretch.kind == "solos" or improvised) and "melody" in you:
        return you - {"melody"} | {"solo"}
    return you


def parts(stretch: Stretch, settings: Settings) -> tuple[Part, ...]:
    """The companion's parts in a stretch: in a solo chorus a solo for its melody, unless that is the player's."""
    found = settings.parts
    if stretch.kind == "solos" and "melody" in found:
        instead = () if "solo" in roles(stretch, settings.you) or "solo" in found else ("solo",)
        found = (*(part for part in found if part != "melody"), *instead)
    return tuple(part for part in found if part != "click")


def leads(stretch: Stretch, settings: Settings) -> bool:
    """Whether the companion goes on by itself where the player is silent: they need not play anything there."""
    if stretch.kind in ("introduction", "ending"):
        return True
    return "solo" in settings.you and "melody" in settings.parts and stretch.kind == "head"
