"""The pace: when the next beat is due, how long a note is waited for, how sure a beat is, when to fall silent.

By the time that the player asked for: in *follow* a beat is foreseen, and where the time is free and a note is promised
on it, that note is waited for, the longer the less sure its moment is; in *patient* it is waited for without limit; in
*steady* the clock alone decides.

Conventions: seconds on the rehearsal's clock; beats in quarters from the first downbeat, through the choruses.
"""

from __future__ import annotations

from dataclasses import replace
from math import erf, inf, sqrt
from typing import NamedTuple

import numpy as np

from companion.chart.model import Form
from companion.follow.follower import Follower
from companion.follow.lead import Lead
from companion.follow.places import PROMISED
from companion.messages import HELD_WITHIN, WishName
from companion.preferences import preferences
from companion.preferences.following import FollowingPreferences
from companion.preferences.signals import SignalPreferences
from companion.stage.note_by_note import JUST_BEFORE, NoteByNote, onsets_of
from companion.stage.settings import Settings

CERTAIN = 0.025
"""Seconds, standard deviation: a moment foreseen better than this is not waited for."""
WOBBLE = 0.014
"""Seconds, standard deviation: the part of the player's timing that can't be foreseen."""
CANDOUR = 0.6
"""Exponent that calibrates the announced probability: beats fare better than the product of their doubts. Found with
players made for the purpose; the benchmarks hold a table of how often beats of each probability were in time."""
KNOWN = 0.015
"""Seconds, standard deviation: a place known by the very note that was waited for."""
STOPPED = 0.6
"""Probability that the player has stopped from which no beat is announced as theirs."""


def tempo_factor(wish: WishName) -> float:
    """By which the tempo changes when the player wishes for it; 1 for what has nothing to do with it."""
    step = 1 + preferences(SignalPreferences).tempo.step
    return {"faster": step, "slower": 1 / step}.get(wish, 1.0)


class Foreseen(NamedTuple):
    """What is known ahead of a beat."""

    moment: float
    """When it is due in time, in seconds; infinity where that can't be known."""
    waits_at: float = inf
    """The place at which time stands still until the player strikes what is due there; infinity for none."""


class Pace:
    """When beats are due.

    Parameters
    ----------
    form : Form
    settings : Settings
    follower : Follower
    """

    THIN, HOLD = 1.0, 2.0
    """Bars of silence, where the chart has notes, after which the companion thins to the bass, and holds."""

    def __init__(self, form: Form, settings: Settings, follower: Follower) -> None:
        self.form, self.settings, self.follower = form, settings, follower
        self.bar = float(form.metre.bar)
        self.pulse = float(form.metre.pulse)
        self.likes = preferences(FollowingPreferences)
        self.heard_at = self.looked_at = float("-inf")
        self.notes = 0
        self.alone_since, self.notes_alone, self.together_once = float("inf"), 0, False
        """When the player struck their first note after the last beat sounded, how many they struck since, and whether
        any was sounded."""
        self.fermata = False
        """Whether the next beat is the last chord's, and the player has been playing up to there."""
        self.led = False
        """Whether the companion leads, the player being silent where they need not play: nothing is waited for."""
        self._waiting = _waiting(form, settings)
        self._written = True
        """Whether the next beat lies where the player's notes are written."""
        self._steady: Lead | None = None
        if settings.time == "steady" and settings.start is not None and follower.lead is not None:
            speed = (settings.tempo or form.tempo) / 60
            self._steady = replace(follower.lead, seconds=settings.start, beat=0.0, speed=speed, mass=1.0, stopped=0.0)

    def lead(self) -> Lead | None:
        """What beats are foreseen by."""
        lead = self._steady or self.follower.lead
        if lead is None or self._waiting is None or not (self._written and self._waiting.begun):
            return lead
        at = max(self.heard_at, self.looked_at, self._waiting.since)
        return replace(
            lead,
            seconds=at,
            beat=self._waiting.place(at),
            speed=self._waiting.speed,
            mass=1.0,
            spread=KNOWN * self._waiting.speed,
            free=0.0,
            stopped=0.0,
        )

    @property
    def _waits(self) -> NoteByNote | None:
        """What waits for the player's notes one by one, where it does."""
        return self._waiting if self._waiting is not None and self._written and self._waiting.begun else None

    def hear(self, now: float, midi: int) -> None:
        """A note was heard (the follower has it already)."""
        if waits := self._waits:
            waits.hear(now, midi)
        self.heard_at = now
        self.notes += 1
        self.notes_alone += 1
        self.alone_since = min(self.alone_since, now)
        if self.settings.time == "steady" and self._steady is None and self.ready():
            self._steady = self.follower.lead

    def change_tempo(self, now: float, factor: float) -> bool:
        """In steady time go on so much faster from now, in seconds; whether that is possible."""
        if self._steady is None:
            return False
        lead = self._steady
        here = lead.beat + lead.speed * (now - lead.seconds)
        self._steady = replace(lead, seconds=now, beat=here, speed=lead.speed * factor)
        return True

    def look(self, now: float) -> None:
        """Let the follower take the silence up to now into account."""
        self.looked_at = now
        self.follower.look(now)

    def expect(self, *, led: bool, fermata: bool) -> None:
        """What the next beat is: led by the companion, the player being silent; or the last chord, which is theirs."""
        self.led, self.fermata = led, fermata

    def expect_written(self, written: bool, beat: float, seconds: float) -> None:
        """Whether what the player is to play is written at the next beat, foreseen at a moment."""
        if self._waiting is not None and written and not (self._written and self._waiting.begun):
            self._waiting.begin(beat, seconds)
        self._written = written

    def ready(self) -> bool:
        """Whether enough is known to come in without having counted in."""
        lead, coming_in = self.follower.lead, self.likes.coming_in
        if lead is None or self.notes < coming_in.notes:
            return False
        if self.played_alone_long(self.heard_at):
            return True
        if lead.speed_spread >= coming_in.tempo * lead.speed:
            return False
        return lead.mass > coming_in.place or self.follower.mass_alike() > coming_in.place

    def played_alone_long(self, now: float) -> bool:
        """Whether the player has been playing for so long without being joined that any place is better than none."""
        lead = self.follower.lead
        if lead is None or self.notes_alone < self.likes.lost.notes_alone:
            return False
        bars = self.likes.lost.alone if self.together_once else self.likes.coming_in.alone_at_first
        return (now - self.alone_since) * lead.speed > bars * self.bar

    def together(self) -> None:
        """A beat came due, and was sounded, or held because the player is silent: from now on they aren't alone."""
        self.alone_since, self.notes_alone, self.together_once = float("inf"), 0, True

    def place_is_likely(self) -> bool:
        """Whether the place that the follower goes by is worth going to."""
        if self._waits:
            return True
        lead = self.follower.lead
        if self._steady is not None or lead is None:
            return False
        return lead.mass > self.likes.lost.place or self.follower.mass_alike() > self.likes.lost.place

    def alive(self) -> bool:
        """Whether the player is taken to be playing on."""
        lead = self.lead()
        return lead is not None and lead.stopped < STOPPED

    def foreseen(self, beat: float, now: float) -> Foreseen:
        """When a beat is to be sounded, as foreseen now."""
        lead = self.lead()
        if lead is None:
            return Foreseen(inf)
        if waits := self._waits:
            return Foreseen(waits.due(beat), inf if self.led else waits.waits_at)
        moment = lead.when(beat)
        if self._steady is not None or (self.led and not self.fermata):
            return Foreseen(moment)
        if not self.follower.begun and self.settings.time != "patient":
            return Foreseen(moment)
        owed = self._owed(beat, lead)
        if owed is None:
            return Foreseen(moment)
        heard = owed <= lead.heard
        if heard:
            return Foreseen(min(moment, now) if lead.free > 0.5 else moment)
        if self.settings.time == "patient":
            return Foreseen(moment, lead.reading.places.place_at(owed) - JUST_BEFORE)
        if self.fermata:
            return Foreseen(moment + self.likes.waiting.last_chord * self.pulse / lead.speed)
        if self._waited(beat, lead):
            return Foreseen(moment)
        doubt = self._doubt(lead, moment)
        waiting = self.likes.waiting
        times = waiting.strict + (waiting.free - waiting.strict) * lead.free
        if self._hesitant():
            return Foreseen(moment + self.longest * self.pulse / lead.speed)
        return Foreseen(moment + min(max(0.0, times * (doubt - CERTAIN)), waiting.longest * self.pulse / lead.speed))

    def _hesitant(self) -> bool:
        """Whether the player so often looks for a note that a promised one is waited for."""
        habits, usual = self.follower.habits, self.likes.waiting.hesitant
        return bool(habits.hesitates(habits.hesitations) > np.maximum(usual, habits.displaces(habits.displaced)))

    @property
    def longest(self) -> float:
        """Beats that a promised note may be waited for."""
        waiting = self.likes.waiting
        return waiting.longest_hesitant if self._hesitant() else waiting.longest

    def _owed(self, beat: float, lead: Lead) -> int | None:
        """The place of the note that the player has promised on a beat (patient: up to it), or None."""
        places, reading = lead.reading.places, lead.reading
        if not reading.promises:
            return None
        k = places.next_place(beat - 0.02)
        if places.strike[k % places.count] >= PROMISED and abs(places.place_at(k) - beat) < 0.02:
            return k
        if self.settings.time == "patient":
            before = np.arange(lead.heard + 1, k)
            owed = before[places.strike[before % places.count] >= PROMISED]
            return int(owed[-1]) if len(owed) else None
        return None

    def _waited(self, beat: float, lead: Lead) -> bool:
        """Whether a note promised a beat or more before this one was waited for in vain: in a silence time goes on."""
        places = lead.reading.places
        missed = np.arange(lead.heard + 1, places.next_place(beat - self.pulse + 0.02))
        return bool((places.strike[missed % places.count] >= PROMISED).any())

    def _doubt(self, lead: Lead, moment: float) -> float:
        """Standard deviation of the moment of a beat, seconds."""
        ahead = max(0.0, moment - lead.seconds)
        return sqrt(lead.spread**2 + (lead.speed_spread * ahead) ** 2) / lead.speed

    def sure(self) -> float:
        """Probability that the beat sounded now is the player's, within 70 ms."""
        lead = self.lead()
        if lead is None:
            return 0.0
        spread = sqrt((lead.spread / lead.speed) ** 2 + WOBBLE**2)
        held = lead.mass * (1 - lead.stopped) * erf(HELD_WITHIN / spread / sqrt(2))
        return round(float(held**CANDOUR), 4)

    def silent_bars(self, beat: float) -> float:
        """Bars up to a beat since the first promised note that was not heard; 0 in steady time.

        Whoever strikes other notes instead is not silent.
        """
        lead = self.lead()
        if self._steady is not None or lead is None or self._waits:
            return 0.0
        reading = lead.reading
        if (reading.places.strike >= PROMISED).sum() < reading.places.count / 4:
            last = reading.places.place_at(lead.heard)
            rests, told = self.likes.resting, reading.places is self.follower.places
            bars = rests.part if told else rests.instead_of_melody
            return min(beat - last, self._quiet(lead)) / self.bar - bars
        missing = reading.places.place_at(lead.heard + 1)
        if not self.follower.begun:  # nothing was due in the count-in
            return (beat - max(missing, -float(self.form.pickup))) / self.bar
        return min(beat - missing, self._quiet(lead)) / self.bar

    def _quiet(self, lead: Lead) -> float:
        """Beats since the player's last note."""
        return (self.looked_at - self.heard_at) * lead.speed


def _waiting(form: Form, settings: Settings) -> NoteByNote | None:
    """What waits for a player note by note: in patient time, where what they are to play is written."""
    if settings.time != "patient":
        return None
    onsets = onsets_of(form, frozenset(settings.you), settings.tempo or form.tempo)
    if not onsets:
        return None
    waiting = NoteByNote(form, settings, onsets)
    if settings.start is not None:
        waiting.begin(0.0, settings.start)
    return waiting
