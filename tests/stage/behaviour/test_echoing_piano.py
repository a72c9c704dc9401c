"""A piano that sends back what it is sent, later than expected: what is heard, and that nothing is left sounding.

The rehearsal, the filter and the books of the output are the real ones; clock and piano are simulated. That some pianos
return what reaches their input is common practice; how late they do is found by trying them.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Callable, Sequence
from itertools import count
from typing import Any

import pytest

from companion.messages import Heard, Order, Step
from companion.ports.echo import EchoFilter
from companion.ports.sounding import LONGEST, Sounding
from companion.stage import keyboard as keyboards
from companion.stage.keyboard import Keyboard, PlayerMessage, Raw
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

WINDOW = 0.12
"""Seconds, as shipped."""
LATENCY, LOOK, START = 0.010, 1.0, 2.0
MINE = {"chords": 0, "bass": 0, "melody": 0, "solo": 0, "click": 9}


class NoPort:
    """In the place of an open port: the simulated piano brings its messages itself."""

    def __init__(self, *_: object) -> None:
        pass


class Evening:
    """A player, a rehearsal, and one piano that both play.

    Parameters
    ----------
    rehearsal : Rehearsal
    heard : sequence of Heard
        What the player does.
    delay : callable
        Seconds after which the piano sends back what it was sent, asked each time; None: it doesn't.
    touch : callable
        With which velocity.
    """

    def __init__(
        self,
        rehearsal: Rehearsal,
        heard: Sequence[Heard],
        delay: Callable[[], float] | None,
        touch: Callable[[int], int],
    ) -> None:
        self.rehearsal, self.delay, self.touch = rehearsal, delay, touch
        self.echo = EchoFilter(WINDOW)
        self.keyboard = Keyboard("", "", range(1, 10), self.echo, lambda raw: None, 60.0)
        self.books = Sounding({0, 9}, shared=True)
        self.theirs: list[Heard] = []
        """What was taken for the player's."""
        self.ours: dict[tuple[int, int], float] = {}
        """Channel and key of what we struck and didn't end, and when it was struck."""
        self.longest = 0.0
        """Seconds that any of it sounded."""
        self._last = 0.0
        self._count = count()
        self._line: list[tuple[float, int, str, tuple[int, ...]]] = []
        for one in heard:
            self._put(one.seconds, "keys", (one.status, one.data1, one.data2))

    def _put(self, seconds: float, kind: str, message: tuple[int, ...]) -> None:
        heapq.heappush(self._line, (seconds, next(self._count), kind, message))

    def until(self, end: float) -> None:
        """Play up to a moment, then end in order."""
        wake: float | None = 0.0
        look = LOOK
        while True:
            moment = min(self._line[0][0] if self._line else end, end if wake is None else wake, look, end)
            events: list[Heard] = []
            if moment >= look:
                look += LOOK
                events += [self._heard(moment, played) for played in self.keyboard.taken_back()]
            while self._line and self._line[0][0] <= moment:
                _, _, kind, message = heapq.heappop(self._line)
                if kind == "due":
                    self._piano(moment, self.books.order(message, moment))
                elif played := self._keys(moment, message):
                    events.append(self._heard(moment, played))
            step = self.rehearsal.advance(moment, events)
            self._carry_out(step)
            wake = None if step.wake is None else max(step.wake, moment + 1e-4)
            if moment >= end:
                break
        self._carry_out(self.rehearsal.finish(end))
        while self._line and self._line[0][0] <= end + 0.25:
            seconds, _, kind, message = heapq.heappop(self._line)
            if kind == "due":
                self._piano(seconds, self.books.order(message, seconds))
        self._piano(end + 0.25, self.books.silence())

    def _keys(self, moment: float, message: tuple[int, ...]) -> PlayerMessage | None:
        delta, self._last = moment - self._last, moment
        return self.keyboard.hear(Raw(delta, moment, message))

    def _heard(self, moment: float, played: PlayerMessage) -> Heard:
        self._piano(moment, self.books.player(played.message, moment))
        status, data1, data2 = played.message
        self.theirs.append(Heard(moment, status & 0xF0, data1, data2))
        return self.theirs[-1]

    def _carry_out(self, step: Step) -> None:
        for order in step.orders:
            due, message = order.seconds - LATENCY, _message(order)
            self.echo.sent(due, message)
            self._put(due, "due", message)

    def _piano(self, moment: float, messages: Sequence[tuple[int, ...]]) -> None:
        for status, data1, data2 in messages:
            key = status & 0x0F, data1
            if status & 0xF0 == 0x90:
                self.ours[key] = moment
            elif status & 0xF0 == 0x80 and key in self.ours:
                self.longest = max(self.longest, moment - self.ours.pop(key))
            if self.delay is not None:
                value = self.touch(data2) if status & 0xF0 == 0x90 else data2
                self._put(moment + self.delay(), "back", (status, data1, value))


def _message(order: Order) -> tuple[int, int, int]:
    return order.status & 0xF0 | MINE[order.part], order.data1, order.data2


@pytest.fixture
def evening(stand: Any, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Evening]:
    """The melody played over chords and bass, on a piano of some kind."""
    monkeypatch.setattr(keyboards, "Input", NoPort)

    def make(
        delay: Callable[[], float] | None, touch: Callable[[int], int] = lambda velocity: velocity, bars: int = 8
    ) -> Evening:
        chart = stand.tune()
        told = Settings(tempo=132.0, start=START, latency=LATENCY)
        heard = stand.melody(chart, (START, 0, 4 * bars, 132.0))
        one = Evening(Rehearsal(chart, told), heard, delay, touch)
        one.until(heard[-1].seconds + 1.0)
        return one

    return make


DELAYS = {
    "100 ms": lambda dice: lambda: 0.100,  # within the window
    "130 ms": lambda dice: lambda: 0.130,
    "200 ms": lambda dice: lambda: 0.200,
    "100 to 200 ms": lambda dice: lambda: dice.uniform(0.100, 0.200),
}


@pytest.mark.parametrize("late", DELAYS)
@pytest.mark.parametrize("touch", ["the same", "its own"])
def test_whatever_comes_back_and_however_late_nothing_of_ours_is_left_sounding(
    evening: Callable[..., Evening], late: str, touch: str
) -> None:
    own = random.Random(2)
    same = touch == "the same"
    plays = evening(DELAYS[late](random.Random(1)), lambda velocity: velocity if same else own.randrange(20, 100))
    assert plays.ours == {}
    assert plays.longest < LONGEST + 1.0


@pytest.mark.parametrize("late", DELAYS)
def test_a_piano_that_returns_notes_late_is_not_taken_for_the_player(
    evening: Callable[..., Evening], late: str
) -> None:
    plays, alone = evening(DELAYS[late](random.Random(1))), evening(None)
    struck = [sum(h.is_note_on for h in one.theirs) for one in (plays, alone)]
    assert struck[0] <= struck[1] + 2, "a few, until it is understood"
    assert plays.longest < 4.0, "what was mistaken is given back within a second"
