"""Ears: by which parts and manner the follower listens to the player in each stretch of the tune.

In the head it listens for the player's parts, in a solo chorus for an improvised line, at the end for the last chord.
In a stretch that the companion leads, a silent player is taken to go with it: through an introduction in time, through
an ending at the ritardando's tempo (:mod:`companion.stage.ritardando`).

Conventions: seconds on the rehearsal's clock; beats in quarters through the choruses, an introduction below 0.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.arrange.events import Stretch
from companion.chart.model import Form
from companion.follow.belief import Freedom, Manner
from companion.follow.follower import Follower
from companion.follow.readings import Readings
from companion.follow.roles import manner_for, readings_for
from companion.messages import TINY
from companion.preferences import preferences
from companion.preferences.following import FollowingPreferences
from companion.stage.order import OrderOfEvents, leads, roles
from companion.stage.recognition import Recognition, bars_gone
from companion.stage.settings import Settings

EARLY = 1
"""Beats before a head with its pickup, and before an ending, from which the follower listens for it."""
QUIET = 1.2
"""Beats without a note from which the player is taken to be silent in a stretch that the companion leads."""
PATIENT_HALT, PATIENT_PAUSE, PATIENT_LEAP = 0.8, 0.4, 0.0002
"""Manner of a player in `patient` time, who stops wherever they look for a note and then strikes the one that is due:
probability, seconds, and probability a beat, as in :class:`companion.follow.belief.Manner`."""

TOGETHER, APART = 0.06, 0.15
"""Standard deviation, in beats, of a silent player's position about the companion's: where they go along, and where
they wait for their turn."""
NEVER = 1e-12
"""Probability a beat of leaving the place, where nobody does: in a solo, an introduction and an ending."""
CLOSING = Manner(
    freedoms=(Freedom(0.002, 0.0, 0.40), Freedom(0.02, 0.0, 0.30, 0.02), Freedom(0.06, 0.07, 0.30, 0.08)),
    loosening=0.01,
    leap=NEVER,
)
"""Manner of a player in an ending: free in time, without leaps."""


@dataclass(frozen=True)
class Ear:
    """What a follower listens by."""

    form: Form
    you: frozenset[str]
    readings: Readings
    manner: Manner


class Ears:
    """Tells the follower by what to listen, stretch by stretch.

    Parameters
    ----------
    form : Form
    settings : Settings
    tune : OrderOfEvents
    """

    def __init__(self, form: Form, settings: Settings, tune: OrderOfEvents) -> None:
        self.form, self.settings, self.tune = form, settings, tune
        self._likes = preferences(FollowingPreferences)
        self._readings: dict[tuple[Form, frozenset[str], Fraction | None], Readings] = {}
        self._ears: dict[tuple[Form, frozenset[str], float], Ear] = {}
        self.stretch = tune.at(tune.begins)
        """The stretch that is on."""
        self.since = float("-inf")
        """When it began, in seconds."""
        self._ear = self._of(self.stretch)
        self.follower = self._counted_in()
        self._recognition = Recognition(self._likes.solo_or_head)
        self._head: tuple[Ear, Follower] | None = None
        """After a solo, a follower that listens for the head, until it is clear that it is played."""
        self._is_head = False
        self._improvised_bars, self._improvises = 0, False

    def _counted_in(self) -> Follower:
        """The follower, told of the count-in if there is one."""
        told, ear, begins = self.settings, self._ear, self.tune.begins
        start = None if told.start is None else told.start + begins * 60 / (told.tempo or self.form.tempo)
        return Follower(
            ear.form, ear.you, tempo=told.tempo, start=start, manner=ear.manner, readings=ear.readings, begin=begins
        )

    def go_on(self, beat: float, now: float) -> bool:
        """A beat is about to be sounded; whether another event has begun."""
        stretch, before = self.tune.at(beat), self.tune.event(self.stretch)
        if stretch == self.stretch:
            return False
        self.stretch, self.since = stretch, now
        self.tune.go_on()
        return self.tune.event(stretch) != before

    def switch(self, beat: float, now: float) -> bool:
        """Listen from now on by what this beat asks for; whether that is something else."""
        if self._head is not None:
            if not self._is_head:
                return False
            self._ear, heard_so_far = self._head
            self._head = None
            self.follower.become(heard_so_far)
            return True
        listened_for = _heard_as(self.tune, beat)
        ear = self._of(listened_for)
        if ear is self._ear:
            return False
        if self.stretch.kind == "solos" and listened_for.kind == "head" and "solo" in self._ear.you:
            self._head, self._is_head = (ear, self.follower.twin()), False
            self._head[1].switch(now, ear.readings, ear.manner)
            return False
        self._ear = ear
        self.follower.switch(now, ear.readings, ear.manner)
        return True

    def hear(self, now: float, pitch: int, velocity: int) -> None:
        """The player struck a key; the follower has it already."""
        if self._head is not None:
            self._head[1].hear(now, pitch, velocity)
        if (lead := self.follower.lead) is not None:
            self._recognition.hear(lead.beat + lead.speed * (now - lead.seconds), pitch)

    def improvises(self) -> bool:
        """Whether the player improvises where they were to play the melody; asked at each bar line.

        A fill is no solo: they are believed to when it has been likely at some bar lines running.
        """
        likely, likes = self.follower.improvised(), self._likes.improvising
        self._improvised_bars = self._improvised_bars + 1 if likely > likes.taken else 0
        if likely < likes.back:
            self._improvises = False
        elif self._improvised_bars >= likes.bars:
            self._improvises = True
        return self._improvises

    def recognise(self, beat: float) -> bool:
        """Whether what is played is another chorus than was planned, which it is from now on."""
        before, here = self.tune.before(self.stretch), self.stretch
        if before is None or before.kind != "solos" or "melody" not in self.settings.you:
            self._is_head = True
            return False
        bars = bars_gone(here, beat)
        latest = self._likes.solo_or_head.latest
        played = self._recognition.played(here, beat) if 0 < bars <= latest else None
        if here.kind == "head":
            self._is_head = self._is_head or played == "head" or bars >= latest
            mistaken = played == "solos" and self._head is not None and not self._is_head
        else:
            mistaken = here.kind == "solos" and played == "head" and bars == latest
        if mistaken:
            self._head = None
            self.tune.instead("solos" if here.kind == "head" else "head", beat)
        return mistaken

    def lead_on(self, beat: float, now: float, quiet: float, ours: bool = False) -> bool:
        """Where the companion leads and the player is silent, they are taken to go with it; whether that is so.

        ``beat`` is about to be sounded, ``quiet`` are the beats since the player's last note; ``ours`` says that it is
        the companion's turn.
        """
        lead, pulse = self.follower.lead, float(self.form.metre.pulse)
        if lead is None or self.settings.time == "steady" or not (ours or leads(self.stretch, self.settings)):
            return False
        slower = self.tune.ritardando.slower(beat, pulse) if self.tune.ritardando else 1.0
        if quiet <= QUIET * pulse or (beat < self.tune.begins - TINY):
            return False
        place = beat - lead.speed * self.settings.latency
        self.follower.set_position(now, place, lead.speed * slower, APART if ours else TOGETHER)
        return True

    def awaits(self, beat: float, heard_at: float) -> bool:
        """Whether a beat is the last chord's, after a ritardando in which the player's last note was heard."""
        slows = self.tune.ritardando
        if slows is None or slows.low == slows.high or self.stretch.kind != "ending":
            return False
        return abs(beat - slows.high) < TINY and heard_at > self.since

    def prepare(self, chorus: int) -> Callable[[], Ears]:
        """What makes ready by what a chorus (1 = the first) may be listened to, in whatever thread it is called."""
        twin = copy(self)
        twin.tune, twin._readings, twin._ears = self.tune.as_it_stands(), dict(self._readings), dict(self._ears)

        def work() -> Ears:
            for stretch in twin.tune.possible(chorus):
                twin._of(stretch)
            return twin

        return work

    def adopt(self, prepared: Ears) -> None:
        """Take what was made ready ahead. Of what was made here meanwhile, this one stays: there are never two."""
        ours = [self._readings.setdefault(key, made) is made for key, made in prepared._readings.items()]
        if all(ours):
            self._ears = prepared._ears | self._ears

    def _of(self, stretch: Stretch) -> Ear:
        """What to listen by in a stretch, made once."""
        you, form = roles(stretch, self.settings.you), stretch.form
        if stretch.kind == "introduction":  # nobody need play its melody: silence tells nothing there
            form = replace(form, melody=())
        late = float(stretch.start % form.length)
        key = form, you, late
        if key not in self._ears:
            hold = form.bars[-1] if stretch.kind == "ending" else None
            if (form, you, hold) not in self._readings:
                self._readings[form, you, hold] = readings_for(form, you, hold=hold, likes=self._likes)
            readings = self._readings[form, you, hold]
            readings = readings.moved(late) if late else readings
            if self.settings.time == "patient":  # whose player looks for what is written
                readings = readings.alone()
            if self._keeps_the_form(stretch, you):
                readings = readings.without_new_starts()
            self._ears[key] = Ear(form, you, readings, self._manner(stretch, you))
        return self._ears[key]

    def _keeps_the_form(self, stretch: Stretch, you: frozenset[str]) -> bool:
        """Whether nobody leaps there: in a solo, in an introduction or an ending, and where two improvise in turn."""
        return stretch.kind != "head" or (self.settings.trade > 0 and "solo" in you and not self.tune.plan)

    def _manner(self, stretch: Stretch, you: frozenset[str]) -> Manner:
        if stretch.kind == "ending":
            return CLOSING
        manner = manner_for(stretch.form, you)
        if self.settings.shape is not None and "melody" in you and stretch.form.melody:
            manner = manner.shaped_by(
                self.settings.shape.moved(float(stretch.start % stretch.form.length)), self._likes.earlier.again
            )
        if self._keeps_the_form(stretch, you):
            return replace(manner, leap=NEVER)
        if self.settings.time == "patient" and you & {"melody", "bass"}:  # whose notes are known beforehand
            return replace(manner, halt=PATIENT_HALT, pause=PATIENT_PAUSE, leap=PATIENT_LEAP)
        return manner


def _heard_as(tune: OrderOfEvents, beat: float) -> Stretch:
    """The stretch for which a player at a beat is listened to.

    The melody over, the next note may be the solo's first, or the tag's, however early; before the head the next may be
    its pickup.
    """
    here = tune.at(beat)
    coming = tune.after(here)
    if coming is None or coming.kind == here.kind:
        return here
    pulse, end = float(here.form.metre.pulse), float(here.end)
    over = float(here.start + here.form.melody[-1].beat) + pulse if here.form.melody else float(here.start)
    if coming.kind == "head":
        change = end - float(coming.form.pickup) - EARLY * pulse
    elif coming.kind == "solos":
        change = min(end, over) if here.form.melody else end
    else:
        change = min(end, max(over, end - EARLY * pulse)) if here.kind == "head" else end - EARLY * pulse
    return coming if beat >= max(change, float(here.start)) - TINY else here
