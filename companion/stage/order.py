"""The order of events as it is played: which stretch is on, what comes next, and who plays what in each.

A tune goes as its chart says (:mod:`companion.arrange.events`), or round and round. The player may tell the last time
at the keyboard (:mod:`companion.stage.gestures`): a solo chorus then leads to the head out, any other to the ending.

Conventions: beats in quarters from the first downbeat of the first chorus, going on through the choruses; an
introduction lies below 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.arrange.events import HELD, Stretch, chorus, ended, order
from companion.arrange.tables import table
from companion.chart.model import Chart, Event, Form
from companion.follow.belief import Manner
from companion.follow.places import Places
from companion.follow.roles import manner_for, places_for
from companion.stage.ritardando import Ritardando
from companion.stage.settings import Settings

TINY = 1e-6
ROUND = Event("head")
"""What a tune without an order consists of."""
EARLY = 1
"""Beats before the pickup from which a soloist is listened to for the head."""


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
    def told(self) -> bool:
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
        if number not in self._choruses:
            self._choruses[number] = chorus(self.form, number, ROUND, number)
        return self._choruses[number]

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

    def event(self, beat: float) -> tuple[str, int, int | None]:
        """Which event is on at a beat, which of its choruses, and of how many; no name where there is no order."""
        stretch = self.at(beat)
        if not self.plan or (self.settings.order != "chart" and stretch.kind == "head"):
            return "", 1, None
        return stretch.kind, stretch.time, stretch.times

    def possible(self, number: int) -> list[Stretch]:
        """Every stretch that may be played of a chorus, as planned or once the last time is told."""
        plan = self._before_told or self.plan
        if not plan and self.settings.choruses and number > self.settings.choruses:
            return []
        found = [s for s in plan if s.chorus == number] or ([] if plan else [self._round(number)])
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
        if self.hold is None:
            return None
        way = table("order")["ritardando"]
        bars = way["bars"].get(self.plan[-1].how or "held", 0)
        return Ritardando(self.hold - bars * float(self.form.metre.bar), self.hold, float(way["to"]))

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

    def pass_on(self, beat: float) -> None:
        """A beat of another stretch is sounded: what was told of the one before is done."""
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
        here = replace(stretch, onward=None)
        laid = [*past, here]
        for n, head in enumerate(heads, 1):
            start = here.start + n * self.form.length
            laid.append(replace(head, chorus=here.chorus + n, start=start, zero=start, onward=None))
        return ended(laid, self.ending)


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


def roles(stretch: Stretch, you: frozenset[str]) -> frozenset[str]:
    """The player's parts in a stretch: in a solo chorus they improvise in the melody's place."""
    if stretch.kind == "solos" and "melody" in you:
        return you - {"melody"} | {"solo"}
    return you


def parts(stretch: Stretch, settings: Settings) -> tuple[str, ...]:
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


@dataclass(frozen=True)
class Ear:
    """What the follower listens by."""

    places: Places
    manner: Manner


class Ears:
    """What the follower listens by in each stretch, made once.

    Parameters
    ----------
    settings : Settings
    manner : Manner
        The player's usual one in their usual role.
    """

    def __init__(self, settings: Settings, manner: Manner) -> None:
        self.settings, self.manner = settings, manner
        self._places: dict[tuple[Form, frozenset[str], Fraction | None], Places] = {}
        self._ears: dict[tuple[Form, frozenset[str], float], Ear] = {}

    def of(self, stretch: Stretch) -> Ear:
        """What to listen by in a stretch."""
        you, form = roles(stretch, self.settings.you), stretch.form
        late = float(stretch.start % form.length)
        key = form, you, late
        if key not in self._ears:
            hold = form.bars[-1] if stretch.kind == "ending" else None
            if (form, you, hold) not in self._places:
                self._places[form, you, hold] = places_for(form, you, hold=hold)
            places = self._places[form, you, hold]
            self._ears[key] = Ear(places.moved(late) if late else places, self._manner(stretch, you))
        return self._ears[key]

    def _manner(self, stretch: Stretch, you: frozenset[str]) -> Manner:
        if you == self.settings.you and stretch.kind == "head":
            return self.manner
        # Whoever brings a tune to its end may do it as freely as a melody is played.
        return Manner() if stretch.kind == "ending" else manner_for(stretch.form, you)


def heard_as(tune: OrderOfEvents, beat: float) -> Stretch:
    """The stretch that a player at a beat is listened to for.

    The melody over, the next note may be the solo's first; before the head the next may be its pickup.
    """
    here = tune.at(beat)
    coming = tune.after(here)
    if coming is None or coming.kind == here.kind:
        return here
    pulse, end = float(here.form.metre.pulse), float(here.end)
    change = end
    if coming.kind == "head":
        change = end - float(coming.form.pickup) - EARLY * pulse
    elif coming.kind == "solos" and here.form.melody:
        change = min(end, float(here.start + here.form.melody[-1].beat) + pulse)
    return coming if beat >= max(change, float(here.start)) - TINY else here
