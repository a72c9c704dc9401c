"""The follower: from the notes of one player to their position, their tempo, and the probability of both.

Method: a crowd of hypotheses (:mod:`companion.follow.belief`) is moved to each note and split by it; leaps, new starts
and entrances are added as hypotheses (:mod:`companion.follow.elsewhere`); a second crowd begun afresh is held against
it (:mod:`companion.follow.scout`); the place to go by is chosen from what remains (:mod:`companion.follow.lead`).

Conventions: seconds on the rehearsal's clock; beats in quarters from the first downbeat of the form, going on through
the choruses; MIDI numbers; speed in quarters a second. The state changes only in methods that are told something (a
note, a moment, other parts), and depends on nothing but their arguments.
"""

from __future__ import annotations

from copy import copy
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from companion.arrays import Floats
from companion.chart.model import Form
from companion.follow import elsewhere
from companion.follow import scout as scouting
from companion.follow.belief import (
    HEARD,
    HELD,
    ON_IT,
    READ,
    SHIFTED,
    WAY,
    WEIGHT,
    Crowd,
    Filter,
    Manner,
    V,
    X,
    joined_crowds,
)
from companion.follow.course import Course
from companion.follow.habits import FADES, OCTAVES, Habits
from companion.follow.lead import Lead, lead_of
from companion.follow.places import PROMISED
from companion.follow.readings import Readings
from companion.follow.roles import manner_for, readings_for, swings
from companion.follow.scout import Scout
from companion.music.swing import swing_ratio

WINDOW = 0.3
"""Beats about a position within which hypotheses count as the same place."""
RIVALS = 8
"""Places that the notes do not tell from the best one and that are looked at, the nearest first."""
EQUAL = 0.05
"""Share of the best place's probability that such a place needs to be taken instead."""
ONWARD = 2.0
"""Weight of the distance forward against the distance back, where the nearest place is chosen."""
TAKE, RIVAL, TIMES = 0.6, 0.3, 4.0
"""The lead changes to a place that holds more than TAKE of the mass, or RIVAL and TIMES as much as the present one."""
SWITCHED = 40
"""Hypotheses kept when the player is listened to for other parts."""
SURPRISE = 1.0
"""Log likelihood lost against a right note, above which leaps are considered."""
SETTLING = 16.0
"""Notes after a count-in over which the prior of leaps rises to its full value: a player begins where they began."""
STOPPED = 0.3
"""Probability of having stopped from which the next note counts as a new start."""
DOUBTFUL = 0.5
"""Probability of the lead's place below which a scout is sent."""
COUNTED = 0.03
"""Standard deviation of a counted-in player's position, in beats."""
JUST_PAST = 0.1
"""Beats behind a place just struck within which no other stroke is expected."""


class Follower:
    """Follows one player through one form.

    Parameters
    ----------
    form : Form
    you : frozenset of str
        The player's parts.
    tempo : float, optional
        Quarters a minute, about.
    start : float, optional
        The moment of the first downbeat, when the player was counted in.
    manner : Manner, optional
    readings : Readings, optional
        What the player may be doing; by default what their parts say.
    begin : float
        The beat that lies on that downbeat: what is counted to may be an introduction.
    """

    def __init__(
        self,
        form: Form,
        you: frozenset[str],
        *,
        tempo: float | None = None,
        start: float | None = None,
        manner: Manner | None = None,
        readings: Readings | None = None,
        begin: float = 0.0,
    ) -> None:
        self.readings = readings or readings_for(form, you)
        self.places = self.readings.home
        self.manner = manner or manner_for(form, you)
        self.filter = Filter(self.readings, self.manner)
        self.tempo = tempo
        self.promises = bool(self.places.strike.max() >= PROMISED)
        self.counted_in = start is not None
        self.crowd: Crowd | None = None
        self.begun = False
        self.course = Course(self.places.pulse, self.places.bar)
        self.kept: Crowd | None = None
        self.seconds = 0.0
        self.last = -np.inf
        self.lead: Lead | None = None
        self._scout: Scout | None = None
        self._beside_last = True
        """Whether the last scout was sent to the same tempo, the beat elsewhere: they are sent by turns."""
        self.fixed_swing = not swings(form)
        shown = self.manner.shape.swing if self.manner.shape else None
        usual = _delay(tempo or form.tempo, form.feel) if shown is None else shown
        self.habits = Habits(0.0 if self.fixed_swing else usual)
        if start is not None:
            back = 2 * self.places.pulse + float(form.pickup)
            speed = (tempo or form.tempo) / 60
            self.last = start - back / speed
            self.set_position(self.last, begin - back, speed, COUNTED)

    def set_position(self, seconds: float, beat: float, speed: float, spread: float = 0.06) -> None:
        """The band leads: the player is taken to be on a beat at a moment, at a speed, as if they had been counted in.

        Parameters
        ----------
        seconds : float
        beat, speed : float
            Quarters through the choruses, and quarters a second.
        spread : float
            Standard deviation of their position in quarters.
        """
        ways = self.manner.freedoms
        self._scout = None
        pairs = [(n, way) for n in range(len(self.readings)) for way in range(len(ways)) if self._goes(n, way)]
        read, way = np.array(pairs).T
        doubts = np.array([way.counted for way in ways])
        shares = np.array([reading.share for reading in self.readings.each])
        chances = shares[read] * np.array([way.share for way in ways])[way]
        due = self.readings.next_after(np.full(len(pairs), beat - (ON_IT if self.begun else 0.0)), read)
        self.crowd = Crowd.of(
            np.full(len(pairs), beat),
            speed,
            spread**2,
            0.0,
            (doubts[way] * speed) ** 2,
            due - 1.0,
            way,
            read,
            np.log(chances / chances.sum()),
            held=self.habits.hesitations,
            shifted=self.habits.displaced,
        )
        self.filter.rewayed(self.crowd.rows, np.full(len(pairs), -1.0))
        self.kept, self.seconds, self.lead = self.crowd, seconds, None
        self.look(seconds)

    def _goes(self, reading: int, way: int) -> bool:
        """Whether a player of a reading may keep time in a way."""
        return self.readings.each[reading].free or way < self.manner.strict

    def switch(self, seconds: float, readings: Readings, manner: Manner) -> None:
        """Listen for other parts from now on, or in other bars; where the player is, and how fast, is kept.

        Readings and manner are as for the filter, beats through the choruses as before. Nothing is overdue at first: a
        note struck just now may have been one of the new places, one to be struck just now may still come.
        """
        self._scout = None
        before, self.readings, self.places, self.manner = self.filter, readings, readings.home, manner
        self.filter, self.promises = Filter(readings, manner), bool(readings.home.strike.max() >= PROMISED)
        if self.crowd is None:
            return
        old = before.moved(self.crowd, seconds - self.seconds).likeliest(SWITCHED)
        pairs = [(n, way) for n in range(len(readings)) for way in range(len(manner.freedoms)) if self._goes(n, way)]
        read, way = (np.repeat(column, len(old)) for column in np.array(pairs).T)
        old = old.with_row(V, before.speed(old))
        rows = np.tile(old.rows, len(pairs))
        carried = np.minimum(rows[WAY], len(manner.freedoms) - 1)
        shares = np.array([reading.share for reading in readings.each])
        rows[WEIGHT] += np.log(0.5 * np.array([f.share for f in manner.freedoms])[way] + 0.5 * (way == carried) + 1e-9)
        rows[WEIGHT] += np.log(shares[read])
        heard_just_now = (seconds - self.last) * rows[V] < ON_IT
        due = readings.next_after(rows[X] + np.where(heard_just_now, JUST_PAST, -ON_IT), read)
        rows[WAY], rows[READ], rows[HEARD] = way, read, due - 1
        self.filter.rewayed(rows, np.full(len(way), -1.0))
        self.crowd = self.filter.merged(Crowd(rows))
        self.kept, self.seconds = self.crowd, max(seconds, self.seconds)
        self.look(self.seconds)

    def twin(self) -> Follower:
        """Another follower that knows what this one knows."""
        other = copy(self)
        other.course = copy(self.course)
        other.crowd, other.kept = (c and Crowd(c.rows.copy()) for c in (self.crowd, self.kept))
        return other

    def become(self, other: Follower) -> None:
        """Believe from now on what another one does."""
        vars(self).update(vars(other.twin()))

    def renumber(self, forms: int) -> None:
        """Count the player's place so many times through the form further on: which chorus it is, isn't heard."""
        if self.crowd is None or self.kept is None or forms == 0:
            return
        self._scout = None
        beats = forms * self.places.period
        for crowd in {id(crowd): crowd for crowd in (self.crowd, self.kept)}.values():
            crowd.rows[X] += beats
            crowd.rows[HEARD] += forms * self.readings.count[crowd.read]
        if self.lead is not None:
            heard = self.lead.heard + forms * self.lead.reading.places.count
            self.lead = replace(self.lead, beat=self.lead.beat + beats, heard=heard)

    def hear(self, seconds: float, pitch: int, velocity: int = 64) -> None:
        """The player struck a key: MIDI number, velocity, moment in seconds."""
        if self.crowd is None or self.kept is None:
            self.crowd = self.filter.merged(elsewhere.entrance(self.filter, pitch, self.tempo, self.habits))
            self.seconds = seconds
        else:
            if not self.begun:
                self._excuse(seconds)
            gap = seconds - self.last
            now = self.filter.moved(self.crowd, seconds - self.seconds)
            apart = gap > self.manner.together
            if apart:
                now, likely = self._awaiting(now, gap)
            if not self.begun:
                late, others = elsewhere.late_entrances(self.filter, now), elsewhere.other_tempi(self.filter, now)
                now = joined_crowds([now, late, others])
            here, surprise = self.filter.heard(now, pitch, self.habits, gap)
            found = [here]
            if not self.begun:
                found += self._uncounted(pitch)
            sought = surprise > SURPRISE or self.lead is None or not self.lead.reading.promises
            if apart and self.places.leap > 0 and sought:
                found += self._gone_elsewhere(likely, pitch, gap)
            if gap > self.manner.pause and self.places.resume > 0:
                found.append(elsewhere.starts(self.filter, self.kept, pitch, self.habits))
            whole = joined_crowds(found)
            if apart:
                whole = self._scouted(whole, seconds, pitch, gap)
            self.crowd = self.filter.merged(whole)
            self.seconds = max(seconds, self.seconds)
        if self.begun and self.lead is not None and self.lead.stopped > STOPPED and gap > self.manner.pause:
            self.course.resume(seconds, self.lead)
        self.kept, self.last, self.begun = self.crowd, seconds, True
        before = self.lead
        self.look(seconds)
        self._learn(before, pitch)
        self._feel_swing()

    def _awaiting(self, now: Crowd, gap: float) -> tuple[Crowd, Crowd]:
        """A crowd that is about to hear a note, with the likeliest few keeping time otherwise and read otherwise, too;
        and those few."""
        likely = now.likeliest(elsewhere.SOURCES)
        return self.filter.reread(self.filter.loosened(now, likely, gap), likely, self.habits), likely

    def _gone_elsewhere(self, likely: Crowd, pitch: int, gap: float) -> list[Crowd]:
        """That the player leapt, in the part that they were to play or in what they play instead, or held back."""
        sieve, habits = self.filter, self.habits
        beats = gap * (self.lead.speed if self.lead else 2.0)
        readily = min(max(habits.notes / SETTLING, 1 / SETTLING), 1.0) if self.counted_in else 1.0
        found = [elsewhere.leaps(sieve, likely, pitch, habits, beats, 0, readily)]
        for n in self.readings.families[1:]:
            if (kin := likely.read == n).any():
                found.append(elsewhere.leaps(sieve, likely.pick(kin), pitch, habits, beats, n, readily))
        return [*found, elsewhere.hesitations(sieve, likely, pitch, habits, beats)]

    def _scouted(self, crowd: Crowd, seconds: float, pitch: int, gap: float) -> Crowd:
        """The crowd after a note, not yet normed, and the scout if that is convincing by now."""
        lead, sieve = self.lead, self.filter
        # A bass strikes every beat alike: begun afresh, it fits in many places, and at twice the tempo.
        if lead is None or not self.begun or self.readings.each[0].part == "bass":
            return crowd
        scout = self._scout
        if scout is not None:
            now, _ = self._awaiting(sieve.moved(scout.crowd, seconds - self.seconds), gap)
            heard, _ = sieve.heard(now, pitch, self.habits, gap)
            told = scouting.evidence(crowd)
            gain = scout.gain + scouting.evidence(heard) - told
            scout = Scout(sieve.merged(heard), gain, scout.notes + 1)
            if scout.convincing:
                more = scout.crowd.with_row(WEIGHT, scout.crowd.weight + told + gain - scouting.CONVINCED)
                crowd, scout = joined_crowds([crowd, more]), None
        if scout is None or scout.done:
            scout = None
            if self.promises and (lead.mass < DOUBTFUL or (self._beside_last and not lead.reading.promises)):
                scout, self._beside_last = scouting.sent_anywhere(sieve, pitch, lead.speed * 60, self.habits), False
            elif not lead.reading.promises:
                likely = sieve.merged(crowd).likeliest(elsewhere.SOURCES)
                scout, self._beside_last = scouting.sent_beside(sieve, likely), True
        self._scout = scout
        return crowd

    def _uncounted(self, pitch: int) -> list[Crowd]:
        """That the first note is played as if there had been no count-in."""
        found = []
        tempi = ((self.tempo, elsewhere.ANY_TIME), (None, elsewhere.ANY_TEMPO))
        for tempo, chance in tempi if self.readings.each[0].part == "melody" else tempi[:1]:
            crowd = elsewhere.entrance(self.filter, pitch, tempo, self.habits)
            found.append(crowd.with_row(WEIGHT, crowd.weight + np.log(chance)))
        return found

    def _excuse(self, seconds: float) -> None:
        """Whoever was counted in may come in when they like: nothing has been missed before their first note."""
        if self.crowd is not None:
            beat = self.crowd.rows[X] + self.crowd.rows[V] * (seconds - self.seconds)
            due = self.readings.next_after(beat - 0.5 * self.places.pulse, self.crowd.read) - 1
            self.crowd = self.crowd.with_row(HEARD, np.maximum(self.crowd.heard, due))

    def look(self, seconds: float) -> Lead | None:
        """Where the player is at a moment, by all that was and wasn't heard up to it; None before the first note."""
        if self.crowd is None:
            return None
        seconds = max(seconds, self.seconds)  # a note within the count-in is heard before the belief begins
        crowd = self.filter.moved(self.crowd, seconds - self.seconds)
        log = self.filter.current_weights(crowd)
        weight = np.exp(log - log.max())
        going = float(weight.sum() * np.exp(log.max()))
        weight /= weight.sum()
        best = int(np.argmax(weight))
        chosen = self._about(crowd, float(crowd.rows[X, best]))
        if self.lead is not None:
            at = self.lead.beat + self.lead.speed * (seconds - self.lead.seconds)
            kept = self._about(crowd, at)
            there = float(weight[chosen].sum())
            anew = self.course.anew(seconds, self.lead)
            if anew or not kept[best]:
                near = self._nearer(crowd, weight, best, anew)
                if near is not None:
                    chosen = self._about(crowd, float(crowd.rows[X, near]))
                    there += float(weight[chosen].sum())
                if anew and (near is not None or weight[kept].sum() <= there):
                    kept[:] = False
            if kept.any() and not (there > TAKE or (there > RIVAL and there > TIMES * weight[kept].sum())):
                chosen = kept
        lead = lead_of(crowd, weight, chosen, seconds, self.filter)
        stopped = self._stopped(lead, going)
        self.lead = replace(lead, stopped=stopped) if stopped else lead
        return self.lead

    def _nearer(self, crowd: Crowd, weight: Floats, best: int, anew: bool) -> int | None:
        """Of the likely places that the notes don't tell from the best one, the one nearest to where the player's last
        note was heard: who goes elsewhere seldom goes far, and back rather than on."""
        if self.lead is None:
            return None
        x, period = crowd.rows[X], self.places.period
        left = self.course.came_from(self.lead, anew)
        heard = self.course.heard_since(self.seconds, self.lead)
        on = (x - left) % period
        far = np.minimum(ONWARD * on, period - on)
        bars = (x - x[best]) / self.places.bar
        even = np.abs(bars - np.round(bars)) * self.places.bar < WINDOW * self.places.pulse
        rivals = np.flatnonzero(even & (weight > EQUAL * weight[best]) & (far < far[best] - 1))
        rivals = rivals[np.argsort(far[rivals])]
        _, first = np.unique(np.round(x[rivals] % period), return_index=True)  # one hypothesis a place
        for rival in rivals[np.sort(first)][:RIVALS]:
            if self.places.alike(float(x[rival] % period), float(x[best] % period), heard):
                return int(rival)
        return None

    def mass_alike(self) -> float:
        """Probability of the place gone by and of those that the notes don't tell from it, at its tempo."""
        lead = self.lead
        if self.crowd is None or lead is None:
            return 0.0
        rows = self.crowd.rows
        period, bar = self.places.period, self.places.bar
        bars = np.round(((rows[X] - lead.beat + period / 2) % period - period / 2) / bar)
        off = (rows[X] - lead.beat - bars * bar + period / 2) % period - period / 2
        near = (np.abs(off) < WINDOW * self.places.pulse) & (np.abs(rows[V] / lead.speed - 1) < 0.05)
        mass, heard = lead.mass, self.course.heard_since(self.seconds, lead)
        for n in np.unique(bars[near & (bars != 0)]):
            if self.places.alike(lead.beat % period, float((lead.beat + n * bar) % period), heard):
                mass += float(np.exp(self.crowd.weight[near & (bars == n)]).sum())
        return mass

    def improvised(self) -> float:
        """Probability that a player who was to play the melody improvises instead."""
        if self.crowd is None or len(self.readings) < 2:
            return 0.0
        solo = np.array([reading.part == "solo" for reading in self.readings.each])
        return float(np.exp(self.crowd.weight[solo[self.crowd.read]]).sum())

    def likeliest(self, count: int = 5) -> list[tuple[float, float, float]]:
        """The likeliest places as of the last event: beat, quarters a minute, probability."""
        if self.crowd is None:
            return []
        part = self.crowd.likeliest(count)
        rows = zip(part.rows[X], part.rows[V] * 60, np.exp(part.weight), strict=True)
        return [(float(x), float(v), float(w)) for x, v, w in rows]

    def _about(self, crowd: Crowd, beat: float) -> NDArray[np.bool_]:
        half = self.places.period / 2
        off = np.abs((crowd.rows[X] - beat + half) % self.places.period - half)
        return np.asarray(off < WINDOW * self.places.pulse)

    def _stopped(self, lead: Lead, going: float) -> float:
        """Probability that the player has stopped.

        One missing note says the more of it, the fewer the player has left out so far. ``going`` is the probability of
        this silence if they play on, where no note is promised.
        """
        if not self.begun:
            return 0.0
        places = lead.reading.places
        if places.strike[lead.heard % places.count] >= PROMISED:
            slack = max(self.manner.grace, 1.5 * lead.spread + 2 * self.manner.touch * lead.speed)
            overdue = lead.reading.next_place(lead.beat - slack) - lead.heard - 1
            going = max(places.rest, self.course.omits**overdue) if overdue > 0 else 1.0
        halt = self.manner.halt * max(0.0, 1 - going)
        return halt / (halt + going)

    def _learn(self, before: Lead | None, pitch: int) -> None:
        """The octave of the note, how often phrases are displaced and beats held back, and where the player went."""
        crowd, lead, habits = self.crowd, self.lead, self.habits
        if crowd is None or lead is None:
            return
        if self.promises:
            first = self.readings.kin[crowd.read] == 0
            off = pitch - self.filter.likeliest_pitch(crowd.heard[first] % self.places.count)
            mass = np.exp(crowd.weight[first])
            so = np.array([mass[off == octave].sum() for octave in OCTAVES])
            habits = habits.in_octaves(so / max(float(mass.sum()), 1e-9))
        if before is not None:
            self.course.count_omissions(before, lead)
            habits = self.course.gone(habits, before, lead)
            mass = np.exp(crowd.weight)
            habits = replace(
                habits,
                notes=FADES * habits.notes + 1,
                hesitations=float(mass @ crowd.rows[HELD]),
                displaced=float(mass @ crowd.rows[SHIFTED]),
            )
        self.habits = habits

    def _feel_swing(self) -> None:
        """Learn how late the player's off-beat quavers are, from those whose place is hardly in doubt."""
        lead = self.lead
        if self.fixed_swing or lead is None or lead.mass < 0.8:
            return
        reading, places = lead.reading, lead.reading.places
        at = lead.heard % places.count
        if (places.swung if reading.swung is None else reading.swung)[at] == 1.0:
            straight = reading.place_at(lead.heard) + places.late[at] * lead.speed
            late = lead.beat - straight
            if -0.1 < late < 0.35:
                swing = self.habits.swing
                self.habits = replace(self.habits, swing=float(np.clip(swing + 0.15 * (late - swing), 0.0, 0.25)))


def _delay(tempo: float, feel: str) -> float:
    """By how many beats an off-beat quaver is late at a tempo."""
    ratio = swing_ratio(tempo, feel)
    return ratio / (1 + ratio) - 0.5
