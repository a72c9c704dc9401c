"""Capturing a tune: the companion clicks, the player plays the melody, then the chords over the same bars.

A plain object like :class:`companion.stage.rehearsal.Rehearsal`: ``advance(now, events)`` takes what was heard and
gives clicks and reports; it reads no clock and opens no port, so :func:`companion.stage.live.play` drives it with real
ones and a test with a virtual clock.

What happens, in order: where no tempo is given the player taps four beats on any key; the count-in; the melody, until
the player has been silent for two bars (or for as many bars as were asked for); a pause; the count-in again and the
chords, for as many bars as the melody had, with the melody played back to them. What is heard is kept here and, by
whoever drives it, in a take.

Conventions: seconds on the clock of whoever drives; beats in quarters, 0 the first downbeat after a count-in, below it
a pickup. Clicks are ordered :data:`AHEAD` seconds before they sound.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil
from typing import Literal

from companion.messages import Beat, Heard, Order, State, StateName, Step, Wish
from companion.music.meter import Metre
from companion.music.played import BeatMap
from companion.stage.outbox import Outbox
from companion.transcribe.captured import Pass
from companion.transcribe.playing import keys_of

AHEAD = 0.3
"""Seconds from the order of a click to its sound: more than any instrument's latency."""
TAPS = 4
TAP_WITHIN = 0.1
"""Seconds within which keys are one tap: 600 beats a minute."""
TAP_GAP = 2.5
"""Seconds after which a tap begins anew."""
SILENT_BARS = 2
NEVER_BEGUN = 32
"""Bars after which a pass in which nothing was played is over."""
FIRST_CLICK = 1.5
"""Seconds from the beginning to the first click."""
PAUSE = 3.0
"""Seconds between the two passes: hands find the chords."""
ACCENT, BEAT_CLICK = 76, 77
"""General MIDI's high and low wood block."""
LOUD, SOFT = 100, 70
CLICK_LASTS = 0.05
EARLY = 0.125
"""Quarters by which a note may come before the bar line that it belongs to: half a semiquaver."""
PLAYED_BACK = 56
"""Velocity with which the melody is played back."""


@dataclass(frozen=True)
class CaptureSettings:
    """What is to be captured, and how."""

    metre: Metre = Metre()
    tempo: float | None = None
    """Quarters a minute; None: the player taps it."""
    count_in: int = 2
    """Bars."""
    bars: int | None = None
    """Bars of the tune; None: it ends when the player is silent."""
    chords: bool = True
    """Whether the chords are played, too."""
    play_back: bool = True
    """Whether the melody sounds while the chords are played."""


PassName = Literal["melody", "chords"]
"""What is captured in a pass; its state is called so, too."""


@dataclass
class _RecordedPass:
    """One pass: where its beats lie and what was heard in it."""

    name: PassName
    zero: float
    """The moment of beat 0."""
    heard: list[Heard] = field(default_factory=list)


class Capture:
    """Two passes over a tune that isn't written yet.

    Parameters
    ----------
    plan : CaptureSettings
    """

    def __init__(self, plan: CaptureSettings):
        self.plan = plan
        self.tempo = plan.tempo
        self.state: StateName = "waiting"
        self.passes: list[_RecordedPass] = []
        self._taps: list[float] = []
        self._now: float | None = None
        self._next = 0.0
        """The beat to be clicked next."""
        self._last = float("-inf")
        """When the player was heard last."""
        self._down: set[int] = set()
        self._later: list[Order] = []
        """The melody played back, as far as it isn't ordered yet."""
        self._ended = False
        self._out = Outbox()

    # What drives it

    def advance(self, now: float, events: Sequence[Heard | Wish]) -> Step:
        """Go on to a moment, with what was heard up to then in order of time."""
        if self._now is None:
            self._begin(now)
        for event in events:
            self._run(event.seconds)
            self._take(event)
        self._run(now)
        return self._out.step(self._wake())

    def prepare(self, chorus: int) -> None:
        """There is no longer work to be done ahead of time."""

    def adopt(self, prepared: object) -> None:
        """Nothing was worked out ahead of time."""

    def finish(self, now: float) -> Step:
        """End everything that sounds."""
        self._run(now)
        self._end(max(now, self._now or now))
        return self._out.step(None)

    # What came of it

    @property
    def melody(self) -> Pass | None:
        """What was played in the first pass; None when it didn't come to that."""
        return self._played("melody")

    @property
    def chords(self) -> Pass | None:
        """What was played in the second pass; None when it didn't come to that."""
        return self._played("chords")

    def _played(self, name: str) -> Pass | None:
        take = next((take for take in self.passes if take.name == name), None)
        if take is None or self.tempo is None or not any(h.is_note_on for h in take.heard):
            return None
        return Pass(tuple(keys_of(take.heard)), BeatMap.steady(self.tempo, take.zero))

    # Time passing

    def _begin(self, now: float) -> None:
        self._now = now
        if self.tempo is None:
            self._say("tapping", now)
        else:
            self._count_in("melody", now + FIRST_CLICK)

    def _count_in(self, name: PassName, first: float) -> None:
        """The first click of a pass comes at a moment."""
        self._next = -float(self.plan.count_in * self.plan.metre.bar)
        zero = first - self._next * self._quarter
        self.passes.append(_RecordedPass(name, zero))
        self._last = zero
        self._say("counting", first)
        if name == "chords" and self.plan.play_back:
            self._play_back(zero - self.passes[0].zero)

    @property
    def _quarter(self) -> float:
        return 60.0 / (self.tempo or 120.0)

    def _moment(self, beat: float) -> float:
        return self.passes[-1].zero + beat * self._quarter

    def _wake(self) -> float | None:
        if self._ended or not self.passes:
            return None
        ahead = 0.0 if self._over() else AHEAD
        return max(self._moment(self._next) - ahead, self._now or 0.0)

    def _run(self, until: float) -> None:
        while not self._ended and (wake := self._wake()) is not None and wake <= until:
            self._now = max(self._now or wake, wake)
            self._turn()
        self._now = max(self._now or until, until)

    def _turn(self) -> None:
        """The next beat is due to be ordered."""
        if self._over():
            self._next_pass()
            return
        beat, seconds = self._next, self._moment(self._next)
        opens = beat % float(self.plan.metre.bar) == 0
        note, velocity = (ACCENT, LOUD) if opens else (BEAT_CLICK, SOFT)
        self._out.orders.append(Order(seconds, "click", 0x90, note, velocity))
        self._out.orders.append(Order(seconds + CLICK_LASTS, "click", 0x80, note, 0))
        if beat == 0:
            self._say(self.passes[-1].name, seconds, 0.0)
        if beat >= 0:
            self._out.reports.append(Beat(beat, seconds, 1.0, len(self.passes)))
        self._next += float(self.plan.metre.pulse)
        while self._later and self._later[0].seconds < self._moment(self._next):
            self._out.orders.append(self._later.pop(0))

    def _over(self) -> bool:
        """The pass is over: its bars are full, or the player has been silent for so long."""
        bar, take = float(self.plan.metre.bar), self.passes[-1]
        bars = self.plan.bars if take.name == "melody" else self.bars
        if self._next % bar or self._next <= 0:
            return False
        if bars is not None:
            return self._next >= bars * bar
        if not any(h.is_note_on for h in take.heard):
            return self._next >= NEVER_BEGUN * bar
        silent = (self._moment(self._next) - self._last) / self._quarter
        return not self._down and silent >= SILENT_BARS * bar

    @property
    def bars(self) -> int | None:
        """Bars of the tune: those asked for, or those of the melody; None while that is unknown."""
        if self.plan.bars is not None or not self.passes:
            return self.plan.bars
        keys = keys_of(self.passes[0].heard)
        if not keys:
            return None
        last = (max(key.on for key in keys) - self.passes[0].zero) / self._quarter
        return max(1, ceil((last + EARLY) / float(self.plan.metre.bar)))

    def _next_pass(self) -> None:
        take = self.passes[-1]
        if take.name == "melody" and self.plan.chords and any(h.is_note_on for h in take.heard):
            self._down.clear()
            self._count_in("chords", self._moment(self._next) + PAUSE)
        else:
            self._end(self._moment(self._next))

    def _play_back(self, later: float) -> None:
        for key in keys_of(self.passes[0].heard, pedal=False):
            self._later.append(Order(key.on + later, "melody", 0x90, key.midi, PLAYED_BACK))
            self._later.append(Order(max(key.off, key.on + 0.03) + later, "melody", 0x80, key.midi, 0))
        self._later.sort(key=lambda order: (order.seconds, order.status))

    def _end(self, seconds: float) -> None:
        if not self._ended:
            self._ended = True
            self._out.orders += [
                order for order in self._later if order.status == 0x80
            ]  # what has begun comes to its end
            self._later.clear()
            self._say("ended", seconds)

    # Hearing

    def _take(self, event: Heard | Wish) -> None:
        self._now = max(self._now or event.seconds, event.seconds)
        if isinstance(event, Wish):
            if event.name == "stop" and self.passes:
                self._next_pass()
            elif event.name == "stop":
                self._end(event.seconds)
            return
        if self._ended:
            return
        if not self.passes:
            if event.is_note_on:
                self._tap(event.seconds)
            return
        self.passes[-1].heard.append(event)
        if event.is_note_on:
            self._down.add(event.data1)
        elif event.status == 0x80:
            self._down.discard(event.data1)
        self._last = event.seconds

    def _tap(self, seconds: float) -> None:
        if self._taps and seconds - self._taps[-1] < TAP_WITHIN:
            return  # a chord is one tap
        if self._taps and seconds - self._taps[-1] > TAP_GAP:
            self._taps = []
        self._taps.append(seconds)
        if len(self._taps) < TAPS:
            return
        period = statistics.median(b - a for a, b in pairwise(self._taps))
        self.tempo = 60.0 / period * float(self.plan.metre.pulse)
        self._count_in("melody", seconds + period * max(1, ceil(AHEAD / period)))

    def _say(self, name: StateName, seconds: float, beat: float | None = None) -> None:
        self.state = name
        self._out.reports.append(State(seconds, name, beat, self.tempo))


def passes_of(states: Sequence[State], heard: Sequence[Heard]) -> tuple[Pass | None, Pass | None]:
    """The passes of a kept take, melody and chords, from its states and from what was heard in it.

    None for a pass that it doesn't have. A take that was broken off has what was played up to then.
    """
    begun = [state for state in states if state.name in ("melody", "chords") and state.tempo]
    counted = [state for state in states if state.name == "counting"]
    found: dict[str, Pass] = {}
    for number, state in enumerate(begun):
        since = max((c.seconds for c in counted if c.seconds <= state.seconds), default=0.0)
        until = min((c.seconds for c in counted if c.seconds > state.seconds), default=float("inf"))
        own = [event for event in heard if since - 0.2 <= event.seconds < until]
        if number < 2 and any(event.is_note_on for event in own):
            found[state.name] = Pass(tuple(keys_of(own)), BeatMap.steady(state.tempo or 120.0, state.seconds))
    return found.get("melody"), found.get("chords")
