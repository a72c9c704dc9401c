"""A drill: rounds over a passage, one after the other, each a rehearsal of its own on one clock.

Like a rehearsal, it reads no clock and opens no port: ``advance(now, events)`` gives orders, reports and the moment at
which it wants to be called next, so that :func:`companion.stage.live.play` and a replay drive the very same object.

A round is clicked in, goes through the way in and the passage, and is judged a beat after its end
(:mod:`companion.practice.good_rounds`). What comes next is then known, tempo and moment, by the rules of the ladder
(:mod:`companion.practice.ladder`); so it depends on nothing but what was played before. A bar of rest follows, and the
next click.

A player who stops ends the round; one who plays nothing in two rounds running is waited for until they touch a key.

Conventions: seconds on one clock; beats in quarters. Within a round beats count from the way in's first downbeat; what
is reported counts from the first downbeat of the form.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil
from typing import Literal

from companion.chart.model import Chart
from companion.follow.shape import TempoShape
from companion.messages import Beat, Heard, Order, Part, Report, Round, State, StateName, Step, Wish
from companion.practice.good_rounds import judge_round
from companion.practice.ladder import Ladder
from companion.practice.passage import Arranged, Excerpt, arranged_chart, passage, roots_alone
from companion.practice.request import DrillRequest, key_text
from companion.practice.rounds import RoundPlayed
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences, MemoryStep
from companion.stage.outbox import Outbox
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

Ended = Literal["goal", "rounds", "player"]
"""Why a drill is over: the goal was reached; all its rounds were played; the player said so."""

AWAKE = 0.8
"""Seconds from the key that goes on after a silence to the next click."""
MARGIN = 0.05
"""Seconds at least between deciding on a round and its first click's order."""
LONGEST = 4.0
"""Times its length that a round may last where the player goes back again and again."""
SOUND_LASTS, SOUND_APART = 0.1, 0.16
"""Seconds that a sound after a round lasts, and from one to the next."""


class Drill:
    """Rounds over a passage until the goal is reached.

    Parameters
    ----------
    chart : Chart
    request : DrillRequest
    latency : float
        Seconds from an order to its sound.
    first_click : float
        The moment of the first click.
    shape : TempoShape, optional
        How the player shaped the tune in earlier takes.
    moves_on : bool
        Whether the wish for the next passage goes on to the bars after this one; else it ends the drill.

    Raises
    ------
    UseError
        The chart has no such bars, or the request names something that there isn't.
    ChartError, ConfigError
        The chart can't be arranged.
    """

    def __init__(
        self,
        chart: Chart,
        request: DrillRequest,
        *,
        latency: float = 0.010,
        first_click: float = 0.0,
        shape: TempoShape | None = None,
        moves_on: bool = True,
    ) -> None:
        self.chart, self.request, self.latency, self._shape = chart, request, latency, shape
        known = preferences(DrillPreferences)
        self.rules, self.good, self.sounds = known.rounds, known.good, known.sounds
        self.form = chart.unfold()
        self.bars = request.bars
        self.rounds: list[RoundPlayed] = []
        self.ended: Ended | None = None
        self.stopped = False
        """Whether the player wished to stop, and not for what comes next."""
        self._moves_on = moves_on
        self._steps: tuple[MemoryStep, ...] = self.rules.memory.steps if request.memory else ("companion",)
        self._ladder = self._new_ladder()
        self._inner: Rehearsal | None = None
        """The rehearsal of the round that is on."""
        self._inner_wake: float | None = None
        self._held_since: float | None = None
        """Since when the companion holds in the round, the player being silent."""
        self._judged_at: float | None = None
        """When the round that is over is judged."""
        self._last_note = float("-inf")
        self._silent = 0
        """Rounds in a row without a note."""
        self._last_time = False
        self._now = float("-inf")
        self._out = Outbox()
        self._begin(first_click)

    # What drives it

    def advance(self, now: float, events: Sequence[Heard | Wish]) -> Step:
        """Go on to a moment, with what was heard up to then in order of time."""
        for event in events:
            self._run(event.seconds)
            self._take(event)
        self._run(now)
        return self._out.step(self._wake())

    def prepare(self, chorus: int) -> Callable[[], None] | None:
        """Arrange what a round (1 = the first) needs, ahead of time and in any thread."""
        if self.ended:
            return None
        parts, key = self.request.hands(chorus)[1], self.request.key(chorus)
        bars = self.bars

        def work() -> None:
            self._laid_out(parts, key, bars)

        return work

    def adopt(self, prepared: object) -> None:
        """What was arranged ahead is found where it is kept."""

    def finish(self, now: float) -> Step:
        """End everything that sounds."""
        self._run(now)
        self._end("player", max(now, self._now))
        return self._out.step(None)

    def _wake(self) -> float | None:
        """When there is something to do next."""
        moments = [moment for moment in (self._inner_wake, self._due()) if moment is not None]
        return max(min(moments), self._now) if moments and not self.ended else None

    def _run(self, until: float) -> None:
        while not self.ended:
            if self._inner is not None:
                self._pass_on(self._inner.advance(max(min(until, self._latest()), self._now), []))
            due = self._due()
            if due is None or due > until:
                break
            self._now = max(self._now, due)
            if self._judged_at is not None:
                self._judge()
            else:
                self._break_off(self._now)
                self._judged_at = self._now
        self._now = max(self._now, until)

    def _due(self) -> float | None:
        """When the drill itself has something to decide: a round is to be judged, or given up."""
        if self._judged_at is not None or self._inner is None:
            return self._judged_at
        return self._latest() if self._held_since is None else min(self._held_since, self._latest())

    def _latest(self) -> float:
        """When the round is over at the latest: a player may go back in it again and again, or think for long."""
        played = self.round
        if self.request.time == "patient":
            return max(self._last_note, played.start) + self.rules.patience
        whole = float(played.passage.chart.unfold().length) * 60 / played.tempo
        return played.first_click + LONGEST * whole

    def _pass_on(self, step: Step) -> None:
        """What the round's rehearsal gives, as the drill's."""
        self._inner_wake = step.wake
        self._out.orders += step.orders
        for report in step.reports:
            self._report_within(report)

    def _report_within(self, report: Report) -> None:
        played = self.round
        start = float(played.passage.start)
        if isinstance(report, Beat):
            played.beats.append((report.chart_beat, report.seconds))
            self._out.reports.append(replace(report, chart_beat=report.chart_beat + start, chorus=played.number))
        elif isinstance(report, State) and report.name == "ended":
            if self._judged_at is None and not self.ended:
                self._over(report.seconds + self.latency)
        elif isinstance(report, State):
            holds = report.name == "holding" and self.request.time == "follow"
            self._held_since = report.seconds if holds else None
            place = None if report.chart_beat is None else report.chart_beat + start
            self._out.reports.append(replace(report, chart_beat=place))

    # Hearing

    def _take(self, event: Heard | Wish) -> None:
        self._now = max(self._now, event.seconds)
        if isinstance(event, Wish):
            self._grant(event)
            return
        if self.ended:
            return
        if event.is_note_on:
            self._last_note = event.seconds
            if self._inner is None and self._judged_at is None:
                self._begin(event.seconds + AWAKE)
                return
            self.round.heard.append(event)
            if event.seconds < self.round.first_click:
                return  # whatever is played in the rest is nobody's business
        if self._inner is not None:
            self._pass_on(self._inner.advance(event.seconds, [event]))

    def _grant(self, wish: Wish) -> None:
        """Do what the player asks for."""
        if self.ended:
            return
        soon = wish.seconds + AWAKE
        match wish.name:
            case "stop":
                self.stopped = True
                self._end("player", wish.seconds)
            case "start" if self._inner is None and self._judged_at is None:
                self._begin(soon)
            case "again":
                self._break_off(wish.seconds)
                self._begin(soon)
            case "faster" | "slower":
                self._ladder.hurry(1 if wish.name == "faster" else -1)
                if self._waits_for_its_click(wish.seconds):
                    first_click = self.rounds.pop().first_click
                    self._begin(first_click)
                else:
                    self._tell(f"next at {self._ladder.rung.tempo:g}")
            case "next" if self._moves_on:
                self._break_off(wish.seconds)
                self._go_on()
                self._begin(soon)
            case "next":
                self._end("player", wish.seconds)
            case "stay":
                self._ladder.stay()
                self._tell(f"stays at {self._ladder.rung.tempo:g}" if self._ladder.stays else "goes on as before")
            case "last time" if self.silent and wish.value is True:
                self._end("player", wish.seconds)  # nobody plays the round that would be the last
            case "last time":
                self._last_time = wish.value is True or not self._last_time
                self._tell("the last round" if self._last_time else "taken back: it goes on as before")

    def _waits_for_its_click(self, now: float) -> bool:
        """Whether the round that is laid out isn't clicked in yet."""
        return self._inner is not None and now < self.round.first_click - self.latency - MARGIN

    def _go_on(self) -> None:
        """To the bars after these, as many, at the first tempo; from the end of the form to its beginning."""
        first, last = self.bars
        many, bars = last - first + 1, len(self.form.bars)
        begin = last + 1 if last < bars else 1
        self.bars = begin, min(begin + many - 1, bars)
        self._ladder = self._new_ladder()

    # A round

    @property
    def round(self) -> RoundPlayed:
        """The round that is on, or was last."""
        return self.rounds[-1]

    @property
    def silent(self) -> bool:
        """Whether it waits for a key, nothing having been played for some rounds."""
        return self._inner is None and self._judged_at is None and not self.ended

    def _new_ladder(self) -> Ladder:
        asked = self.request
        return Ladder(asked.ladder, asked.start, asked.goal, asked.step, len(self._steps) - 1)

    def _laid_out(self, parts: Sequence[Part], key: int, bars: tuple[int, int]) -> Excerpt:
        """The passage in a key with the companion's parts."""
        asked = self.request
        how = Arranged(
            frozenset(parts), asked.treatment, asked.seed, None if key == self.chart.fifths else key, asked.style
        )
        return passage(arranged_chart(self.chart, how), *bars, self.rules.way_in)

    def _begin(self, first_click: float) -> None:
        """Lay out the next round, its first click at a moment."""
        asked, number = self.request, len(self.rounds) + 1
        you, parts = asked.hands(number)
        rung, (first, last) = self._ladder.rung, self.bars
        if asked.anywhere:
            first = random.Random(f"{asked.seed}/{number}").randint(first, last)
        cut = self._laid_out(parts, asked.key(number), (first, last))
        withheld = self._steps[rung.withheld]
        chart = roots_alone(cut.chart) if withheld == "roots" else cut.chart
        metre = chart.metre
        before = max(self.rules.count_in * metre.bar, chart.unfold().pickup)
        zero = first_click + float(ceil(before / metre.pulse) * metre.pulse) * 60 / rung.tempo
        self.rounds.append(
            RoundPlayed(
                number=number,
                bars=(first, last),
                you=you,
                key=key_text(self.chart, asked.key(number)),
                tempo=rung.tempo,
                passage=cut,
                first_click=first_click,
                start=zero + float(cut.way_in) * 60 / rung.tempo,
                withheld=withheld,
            )
        )
        self._held_since, self._judged_at = None, None
        self._inner = Rehearsal(
            chart,
            Settings(
                you=you,
                parts=self._parts_in(parts, withheld, you),
                time=asked.time,
                tempo=rung.tempo,
                start=zero,
                choruses=1,
                latency=self.latency,
                seed=asked.seed,
                count_in=self.rules.count_in,
                click=asked.click or "all",
                whole_bars=round(cut.way_in / metre.bar),
                divide=asked.divide,
                shape=self._shape and self._shape.part(float(cut.start), float(chart.unfold().length)),
            ),
        )
        self._inner.adopt(self._inner.prepare(1)())
        self._inner.advance(self._now, [])  # that it is going to count is told with each click
        self._inner_wake = first_click - self.latency
        self._say_round(self._now if self._now > float("-inf") else first_click)

    def _parts_in(self, parts: Sequence[Part], withheld: MemoryStep, you: frozenset[Part]) -> tuple[Part, ...]:
        """What the companion plays in a round."""
        click: tuple[Part, ...] = ("click",) if self.request.click else ()
        if withheld == "alone":
            return ()
        if withheld == "click" or (withheld == "roots" and "bass" in you):
            return ("click",)
        if withheld == "roots":
            return ("bass", *click)
        return (*(part for part in parts if part != "click"), *click)

    def _break_off(self, now: float) -> None:
        """End what sounds of the round that is on; it is not judged."""
        if self._inner is not None:
            self._pass_on(self._inner.finish(now))
            self.round.end = now
        self._inner, self._inner_wake, self._judged_at = None, None, None

    def _over(self, seconds: float) -> None:
        """The round has come to the end of the passage at a moment; it is judged when late notes have come."""
        self.round.end = seconds
        self._judged_at = seconds - self.latency + self.rules.late * 60 / self.round.tempo

    def _judge(self) -> None:
        """Judge the round that is over, and lay out the next."""
        played = self.round
        self._inner, self._inner_wake, self._judged_at = None, None, None
        played.verdict = verdict = judge_round(played, self.request.time, self.good, self.request.click)
        self._silent = self._silent + 1 if verdict.nothing else 0
        if not verdict.nothing:
            self._ladder.take(good=verdict.good)
            self._sound(self.sounds.good if verdict.good else self.sounds.again)
        over: Ended | None = None
        if self._ladder.reached and verdict.good:
            over = "goal"
        elif self._last_time:
            over = "player"
        elif played.number == self.request.rounds:
            over = "rounds"
        self._say_round(self._now, over=over is not None)
        if over:
            self._end(over, self._now)
        elif self._silent >= self.rules.silent:
            self._silent = 0
            self._say("waiting")
        else:
            self._say("resting")
            rest = self.rules.rest * float(self.form.metre.bar) * 60 / played.tempo
            end = played.end if played.end is not None else self._now
            self._begin(max(end + rest, self._now + self.latency + MARGIN))

    def _end(self, how: Ended, seconds: float) -> None:
        if self.ended:
            return
        self._break_off(seconds)
        self.ended = how
        self._out.reports.append(State(seconds, "ended", None, self.round.tempo))

    # Telling

    def _sound(self, notes: Sequence[int]) -> None:
        """What is heard after a round."""
        moment, level = self._now + self.latency, round(self.sounds.level)
        for number, note in enumerate(notes):
            begin = moment + number * SOUND_APART
            self._out.orders.append(Order(begin, "click", 0x90, note, level))
            self._out.orders.append(Order(begin + SOUND_LASTS, "click", 0x80, note, 0))

    def _say(self, name: StateName) -> None:
        self._out.reports.append(State(self._now, name, float(self.round.passage.start), self._ladder.rung.tempo))

    def _tell(self, text: str) -> None:
        self._say_round(self._now, text=text)

    def _say_round(self, seconds: float, *, text: str = "", over: bool = False) -> None:
        played = self.round
        verdict = played.verdict
        self._out.reports.append(
            Round(
                seconds=seconds,
                number=played.number,
                first=played.bars[0],
                last=played.bars[1],
                you=tuple(sorted(played.you)),
                key=played.key,
                tempo=played.tempo,
                start=played.start,
                good=verdict.good if verdict else None,
                why=verdict.why if verdict else text,
                then=self._ladder.rung.tempo if verdict and not over else None,
                hidden=played.hidden,
                **(verdict.counts() if verdict else {}),
                spread_ms=verdict.spread_ms if verdict else None,
            )
        )
