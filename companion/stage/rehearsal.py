"""The rehearsal: what is heard goes in, what is to be sounded comes out. It reads no clock and opens no port.

``advance(now, events)`` takes what was heard since the last call and goes on to a moment; it returns the orders given
on the way, the reports, and when it wants to be called next. All that it decides it decides at the moments of events or
at moments that it set itself before, so that one call or many give the same (a property that the tests hold it to).

Beats are sounded one after the other (:mod:`companion.stage.beat_clock`). The next one is due when the follower
foresees it; where the time is free and a note is promised there, it waits for that note a while
(:mod:`companion.stage.pace`). Which event of the tune is on, and what comes
next, is :mod:`companion.stage.order`'s; as each begins, the follower is told by what to listen. An introduction and an
ending are led by the companion where the player is silent.

Conventions: seconds on one clock, beats in quarters from the first downbeat of the form, going on through the choruses.
An order is given ``latency`` before it sounds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any, Literal

from companion.arrange.treating import AS_CHARTED, Treatments
from companion.arrange.treatments import names as treatment_names
from companion.chart.model import Chart
from companion.errors import ChartError
from companion.follow.lead import Lead
from companion.messages import TINY, Beat, Belief, Heard, Part, State, StateName, Step, Treated, Wish, WishName
from companion.stage.band import Band, Cue, PreparedParts
from companion.stage.beat_clock import BeatClock
from companion.stage.clicks import Clicks
from companion.stage.ears import Ears
from companion.stage.gestures import Gestures
from companion.stage.interplay import Interplay
from companion.stage.names import check_names
from companion.stage.order import OrderOfEvents, leads, roles
from companion.stage.outbox import Outbox
from companion.stage.pace import Pace, tempo_factor
from companion.stage.settings import Settings

CLEAR = 0.9
"""Probability of the place above which those that the notes do not tell from it are not added to it."""
SHORTEST = 2.0
"""Beats that the last chord sounds at least."""


@dataclass(frozen=True)
class Prepared:
    """What was worked out for a chorus ahead of time."""

    parts: PreparedParts
    ears: Ears | None
    """None where what is listened for stays the same."""


class Rehearsal:
    """One player, one chart, the companion's parts.

    Parameters
    ----------
    chart : Chart
    settings : Settings

    Raises
    ------
    UseError
        When the settings name something that there isn't.
    ChartError
        When the form can't be played: it names a section or a treatment that isn't there, or is shorter than a beat.
    ConfigError
        When a file of the player's own can't be read.
    """

    def __init__(self, chart: Chart, settings: Settings) -> None:
        self.form = chart.unfold()
        self.settings = settings
        self.pulse = float(self.form.metre.pulse)
        self.length = float(self.form.length)
        if self.length < self.pulse:
            raise ChartError("the form is shorter than one beat", file=chart.source, where="form", mend="give it a bar")
        check_names(chart, settings)
        self.tune = OrderOfEvents(self.form, settings, chart)
        self.gestures = Gestures(settings.order != "form")
        self.ears = Ears(self.form, settings, self.tune)
        self.follower = self.ears.follower
        self.band = Band(self.form, settings, self.tune)
        self.interplay = Interplay(self.form, settings, self.tune, self.band)
        self.pace = Pace(self.form, settings, self.follower)
        self.state: StateName = "waiting"
        self.now = float("-inf")
        self._out = Outbox()
        self._clock = BeatClock(self.pulse)
        self._clicks = Clicks(self.form.metre, settings.click, settings.whole_bars, settings.divide)
        self._treatments = AS_CHARTED
        self._cues: list[Cue] = []
        """Notes between the last beat and the next."""
        self._ended = False
        self._broken = False
        """Whether an advance did not come to its end."""
        self.begins_at: float | None = None
        """When the first beat is counted, in seconds; None where nobody counts in."""
        if settings.start is not None:
            pickup = float(self.ears.stretch.form.pickup)
            lead = max(pickup, settings.count_in * float(self.form.metre.bar))
            first = self._clock.begin(self.tune.begins, lead)
            self.pace.expect(led=leads(self.ears.stretch, settings) and self.tune.begins < 0, fermata=False)
            self.begins_at = settings.start + first / self._speed()
            self._say("counting" if settings.count_in else "playing", self.begins_at)
            self._plan()

    def advance(self, now: float, events: Sequence[Heard | Wish]) -> Step:
        """Go on to a moment.

        Parameters
        ----------
        now : float
            Seconds; not before the last call's.
        events : sequence
            What was heard or wished up to then, in order of time.

        Returns
        -------
        Step
            Orders in the order in which they were given, reports, and when to call next.
        """
        self._broken = True
        for event in events:
            self._run(event.seconds)
            self._take(event)
        self._run(now)
        self._broken = False
        return self._step()

    def prepare(self, chorus: int) -> Callable[[], Prepared]:
        """The longer work for a chorus (1 = the first), to be done ahead of time in whatever thread it is called.

        What it gives is for :meth:`adopt`. It changes nothing but the moment at which the work is done.
        """
        parts, ears = self.band.prepare(chorus, self._treatments), self.ears.prepare(chorus)
        return lambda: Prepared(parts(), ears())

    def prepare_treatment(self, wish: Wish) -> Callable[[], Prepared] | None:
        """The longer work for a wished treatment, as :meth:`prepare`; give the wish when that is adopted.

        None: there is no such section or treatment.
        """
        wanted = self._with_treatment(wish.value)
        if wanted is None:
            return None
        now = self.ears.stretch.chorus
        works = [self.band.prepare(chorus, wanted) for chorus in (now, now + 1)]

        def work() -> Prepared:
            parts: PreparedParts = {}
            for one in works:
                parts |= one()
            return Prepared(parts, None)

        return work

    @property
    def treatments(self) -> Treatments:
        """Sections that are treated otherwise than the chart has it, or will be from the next bar line on."""
        return self._treatments

    def treat(self, treatments: Treatments) -> None:
        """Treat sections so from the next bar line on."""
        self._treatments = treatments

    def adopt(self, prepared: Prepared) -> None:
        """Take what was worked out ahead, in the thread that calls :meth:`advance`."""
        self.band.adopt(prepared.parts)
        if prepared.ears is not None:
            self.ears.adopt(prepared.ears)

    def finish(self, now: float) -> Step:
        """End everything that sounds. After an advance that failed nothing more is worked out for it."""
        if not self._broken:
            self._run(now)
        self._end(max(now, self.now))
        return self._step()

    # Time passing

    def _wake(self) -> float | None:
        """The next moment at which something is to be done of itself."""
        latency = self.settings.latency
        moments = []
        if (end := self.band.next_end()) is not None:
            moments.append(end - latency)
        if not self._ended and self._clock.due is not None:
            moments.append(self._clock.due - latency)
            if self._cues:
                moments.append(self._due(self._cues[0]) - latency)
            if (known := self.interplay.next_moment(self.now, self._speed())) is not None:
                moments.append(known)
        return max(min(moments), self.now) if moments else None

    def _run(self, until: float) -> None:
        while (wake := self._wake()) is not None and wake <= until:
            self.now = max(self.now, wake)
            self._turn()
        self.now = max(self.now, until) if until > self.now else self.now

    def _turn(self) -> None:
        """Do what is due now."""
        sounds = self.now + self.settings.latency
        self.band.end_due(sounds)
        if self._ended or self._clock.due is None:
            self._collect()
            return
        self._cues = self.interplay.give_way(self.now, self._place(), self._speed(), self._cues)
        while self._cues and self._due(self._cues[0]) <= sounds + TINY:
            self._strike(self._cues.pop(0))
        if self._clock.due <= sounds + TINY:
            self.pace.look(self.now)
            self._trace("look", None)
            self._realign()
            self._plan()
            if self._clock.due is not None and self._clock.due <= sounds + TINY:
                self._sound(sounds)
        self._collect()

    # Hearing

    def _take(self, event: Heard | Wish) -> None:
        self.now = max(self.now, event.seconds)
        if isinstance(event, Wish):
            if event.name == "stop":
                self._end(self.now)
            elif event.name == "last time":
                self._tell()
            elif event.name in ("faster", "slower") and not self._ended:
                self._change_tempo(event.name)
            elif event.name == "treatment" and (wanted := self._with_treatment(event.value)) is not None:
                self.treat(wanted)
            return
        if self._ended:
            return
        if self.gestures.tells(event):
            self._tell()
        if not event.is_note_on:
            if event.status in (0x80, 0x90):
                self.interplay.key_up(event.data1)
            self._hold_on()
            return
        self.band.hear(event.data2, (self.now - self.pace.heard_at) * self._speed())
        self.follower.hear(self.now, event.data1, event.data2)
        self.ears.hear(self.now, event.data1, event.data2)
        self.pace.hear(self.now, event.data1)
        self._trace("note", event.data1)
        self.interplay.key_down(self.now, self._place(), self._speed(), event.data1)
        self._cues = self.interplay.give_way(self.now, self._place(), self._speed(), self._cues)
        self._hold_on()
        self._realign()
        self._plan()
        self._collect()

    # Beats

    def _lead(self) -> Lead | None:
        return self.pace.lead()

    def _speed(self) -> float:
        lead = self._lead()
        return lead.speed if lead else (self.settings.tempo or self.form.tempo) / 60

    def _realign(self) -> None:
        """Go where the player has gone, if they are elsewhere; else keep counting as before."""
        lead, coming = self._lead(), self._clock.next
        if lead is None or (coming is None and not self.pace.ready()):
            return
        if coming is not None and self.tune.at(coming).kind in ("introduction", "ending"):
            return  # there is nowhere else to go
        if coming is not None and (self._clock.last is None or self.state == "counting"):
            return  # counted in, and not begun: the count goes through whatever is heard before it ends
        sounds = self.now + self.settings.latency
        there = lead.beat + lead.speed * (self.now - lead.seconds)
        here = self._clock.place(self.now, lead.speed)
        if here is not None:
            turns = self.length * round((there - here) / self.length)  # whole, or the beats drift off their numbers
            gap = there - here - turns
            if self.tune.plan:  # which chorus it is can't be heard: it is the one that is on
                self._renumber(-turns)
                there, turns = here + gap, 0.0
            self._clock.renumber(turns)
            self._cues = [replace(c, beat=c.beat + turns, end=c.end + turns) for c in self._cues]
            heard = self.pace.heard_at == self.now
            # While a beat waits for its note, the place foreseen runs ahead of the beats: that is no going elsewhere.
            if abs(gap) < (0.6 if heard else self.pace.longest + 0.25) * self.pulse and not (
                self.state == "holding" and heard
            ):
                return
            if self.state == "holding" and not heard:
                return
            if not self.pace.place_is_likely() and not self.pace.played_alone_long(self.now):
                return
            if self.tune.plan:
                aside = self.tune.within(here, gap) - gap
                self._renumber(aside)
                there += aside
        elif self.tune.plan:
            aside = self.tune.entrance(there) - there
            self._renumber(aside)
            there += aside
        late = min(0.12 * lead.speed, 0.35 * self.pulse)
        arrives = there + self.settings.latency * lead.speed
        self._clock.go_to(arrives - late, sounds, lead.speed)
        self._cues = []
        if self.state == "waiting" or (self.state != "playing" and self.pace.heard_at == self.now):
            self._say("playing", self.now)

    def _renumber(self, beats: float) -> None:
        self.follower.renumber(round(beats / self.length))

    def _plan(self) -> None:
        """Foresee the moment of the next beat."""
        beat = self._clock.next
        if self._ended or beat is None or self.state == "holding" or self._lead() is None:
            self._clock.wait()
            return
        waits_at = inf
        if self._clock.closes is not None:
            moment = self._clock.closes
        elif self.state == "counting" and self.settings.start is not None and beat < self.tune.begins - TINY:
            moment = self.settings.start + beat * 60 / (self.settings.tempo or self.form.tempo)
        else:
            moment, waits_at = self.pace.foreseen(beat, self.now)
        self._clock.foresee(moment, self.now + self.settings.latency, self._speed(), waits_at)

    def _sound(self, seconds: float) -> None:
        """Sound the next beat now."""
        beat = self._clock.next
        if beat is None:
            return
        if self._over(beat):
            self._end(self.now)
            return
        self.pace.together()
        self._go_on(beat, seconds)
        ours = self.interplay.ours(beat)
        silent = 0.0 if ours or leads(self.ears.stretch, self.settings) else self.pace.silent_bars(beat)
        if silent >= self.pace.HOLD:
            self._hold()
            return
        counting = beat < self.tune.begins - TINY
        name: StateName = "thinning" if silent >= self.pace.THIN else "playing"
        name = "counting" if counting and self.settings.count_in else name
        if name != self.state or name == "counting":  # each beat of a count-in is told: it counts on the screen
            self._say(name, seconds)
        if not counting and self.pace.alive():
            stretch = self.ears.stretch
            place = round(beat - float(stretch.zero), 6) + 0.0
            event = self.tune.event(stretch)[0]
            turn = self.interplay.turn(beat)
            self._out.reports.append(Beat(place, seconds, self.pace.sure(), stretch.chorus, event, turn))
        coming = self._clock.sound(seconds)
        if self.tune.hold is not None and beat >= self.tune.hold - TINY:
            coming = self.tune.ends or coming
            self._clock.close(coming, self._speed())
        self._change_treatments(beat, seconds)
        parts: tuple[Part, ...] | None = None if name != "thinning" else ("bass",)
        tempo = self._speed() * 60
        cues = self.band.cues(beat, coming, tempo, parts)
        answers = name == "playing" and self._clock.closes is None
        cues = self.interplay.beat(beat, seconds, self.now, self._speed(), self._belief(), cues, answers)
        later = []
        for cue in cues:
            if cue.beat < beat + 0.02 and cue.stroke.late <= 0:
                self._play(cue, seconds)
            else:
                later.append(cue)
        self._cues = sorted(later, key=lambda cue: cue.beat + cue.stroke.late * self._speed())
        first = self.tune.opens_bar(beat)
        if first:
            self.interplay.accompany(self.ears.stretch, self.ears.improvises())
            self.gestures.bar_line()
        self._click(beat, seconds, first, counting=name == "counting")
        self._plan()

    def _click(self, beat: float, seconds: float, first: bool, *, counting: bool) -> None:
        """The click of a beat, and the divisions after it."""
        clicks = "click" in self.settings.parts and self._clock.closes is None
        if counting or (clicks and self._clicks.sounds(beat)):
            self.band.click(seconds, first)
            between = self._clicks.between(beat)
            self._cues = sorted([*self._cues, *(Cue(place, place, note) for place, note in between)])

    def _over(self, beat: float) -> bool:
        """Whether a beat lies after the last one."""
        return self.tune.ends is not None and beat >= self.tune.ends - TINY

    # The order of events

    def _go_on(self, beat: float, seconds: float) -> None:
        """As a beat is to be sounded: the event that it belongs to, and by what the player is listened to from now."""
        before = self.ears.stretch
        recognised = self.ears.recognise(beat)
        if self.ears.go_on(beat, self.now) or recognised:
            self._say(self.state, seconds)
        if self.ears.stretch is not before:
            self.interplay.enter(self.ears.stretch)
        self.ears.switch(beat, self.now)
        quiet = (self.now - self.pace.heard_at) * self._speed()
        led = self.ears.lead_on(beat, self.now, quiet, self.interplay.ours(beat))
        if self.settings.time == "patient":  # the first beat of what the player plays is theirs again
            coming = beat + self.pulse
            led = led or beat < self.tune.begins - TINY
            led = led and (self.interplay.ours(coming) or leads(self.tune.at(coming), self.settings))
        led = led or self._over(beat + self.pulse)  # after the last beat nobody plays any more
        self.pace.expect(led=led, fermata=self.ears.awaits(beat + self.pulse, self.pace.heard_at))
        ahead = self.tune.at(beat + self.pulse)
        played = roles(ahead, self.settings.you, improvised=self.ears.improvises())
        written = ahead.kind in ("head", "solos") and ("melody" in played or "melody" not in self.settings.you)
        self.pace.expect_written(written, beat + self.pulse, seconds + self.pulse / self._speed())

    def _hold_on(self) -> None:
        """The last chord lasts as long as it is written, or until the player lets go of theirs."""
        struck = self._clock.sounded_at
        if self._clock.closes is None or struck is None:
            return
        if self.pace.heard_at > struck - 0.5 * self.pulse / self._speed():  # theirs, and not what came before
            if self.gestures.holding:
                self._clock.hold_on()
            else:
                self._clock.let_go(max(self.now, struck + SHORTEST * self.pulse / self._speed()))
            self._plan()

    def _tell(self) -> None:
        """The player tells the last time, or takes it back."""
        if self._clock.last is not None and self.tune.tell(self._clock.last):
            self._say(self.state, self.now)

    def _change_tempo(self, wish: WishName) -> None:
        """From now on faster or slower, where the companion keeps the time."""
        if self.pace.change_tempo(self.now, tempo_factor(wish)):
            self._say(self.state, self.now)
            self._plan()

    def _with_treatment(self, value: Any) -> Treatments | None:
        """The treatments with a wished one; None where there is no such section or treatment."""
        try:
            section, wanted = value
        except (TypeError, ValueError):
            return None
        if wanted not in treatment_names() or all(place.name != section for place in self.form.sections):
            return None
        return tuple(sorted({**dict(self._treatments), section: wanted}.items()))

    def _change_treatments(self, beat: float, seconds: float) -> None:
        """At a bar line take up the treatments that were wished: what sounds goes on to its end."""
        if self._treatments != self.band.treatments and self.tune.opens_bar(beat):
            self.band.treat(self._treatments)
            self._out.reports.append(Treated(seconds, self._treatments))

    # Interplay

    def _place(self) -> float:
        """Where the player is now, in beats."""
        lead = self._lead()
        return 0.0 if lead is None else lead.beat + lead.speed * (self.now - lead.seconds)

    def _belief(self) -> float:
        """Probability that the player is where they are taken to be, or where the notes can't tell it from."""
        lead = self._lead()
        return 0.0 if lead is None else lead.mass if lead.mass > CLEAR else max(lead.mass, self.follower.mass_alike())

    def _play(self, cue: Cue, seconds: float) -> None:
        self.interplay.strike(cue, seconds, self.now, self._place(), self._speed())

    def _strike(self, cue: Cue) -> None:
        seconds = max(self._due(cue), self.now + self.settings.latency)
        if cue.note.part == "click":
            self.band.strike(cue, seconds, self._speed())
        else:
            self._play(cue, seconds)

    def _due(self, cue: Cue) -> float:
        """When the hand strikes a note."""
        return self._clock.moment(cue.beat) + cue.stroke.late

    def _hold(self) -> None:
        self._say("holding", self.now)
        self._clock.wait()
        self._cues = []
        self.band.release(self.now + self.settings.latency)

    def _end(self, seconds: float) -> None:
        self.band.release(seconds + self.settings.latency)
        self._collect()
        self._clock.wait()
        self._cues = []
        if not self._ended:
            self._ended = True
            self._say("ended", seconds)

    # Telling

    def _say(self, name: StateName, seconds: float) -> None:
        self.state = name
        lead = self._lead()
        beat = None if self._clock.next is None else self.tune.chart_beat(self._clock.next)
        sure = lead.mass if lead else None
        event, time, times = self.tune.event(self.ears.stretch)
        told = State(seconds, name, beat, self._speed() * 60, sure, event, time, times, self.tune.last_time_told)
        self._out.reports.append(told)

    def _trace(self, event: Literal["note", "look"], pitch: int | None) -> None:
        lead = self.follower.lead
        if not self.settings.trace or lead is None:
            return
        place = self.tune.chart_beat
        places = tuple((place(x), v, w) for x, v, w in self.follower.likeliest())
        self._out.reports.append(
            Belief(self.now, event, pitch, place(lead.beat), lead.speed * 60, lead.mass, lead.spread, lead.free,
                   lead.stopped, places)
        )  # fmt: skip

    def _collect(self) -> None:
        self._out.orders += self.band.take_orders()

    def _step(self) -> Step:
        self._collect()
        return self._out.step(self._wake())
