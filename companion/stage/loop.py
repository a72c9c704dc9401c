"""The loop of the player process: the real clock, the keyboard and the sender drive a rehearsal.

What is heard comes from RtMidi's callback with the driver's stamp through one queue; so do the sender's notices, a
page's wishes, signals and what was worked out ahead. The loop waits on that queue until something comes or the
rehearsal wants to be woken, and calls ``advance``: the same object that ``replay`` drives with a virtual clock.

What a message of the keyboard's is for, playing or telling something, :mod:`companion.stage.signals` decides before it
is sounded, kept or followed.

Conventions: the rehearsal's seconds count from :attr:`Player.origin` on the live clock. A message is due at the
instrument ``setup.latency`` before it sounds, which is what the instrument takes from message to sound.
"""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, Protocol, runtime_checkable

from companion.errors import DeviceError
from companion.messages import Beat, Heard, Order, Report, State, Step, Wish
from companion.ports.choice import Choice
from companion.ports.echo import EchoFilter
from companion.ports.instruments import Instruments, Setup
from companion.preferences import preferences
from companion.preferences.care import CarePreferences
from companion.stage.ahead import Ahead
from companion.stage.care import PauseReminder
from companion.stage.clock import now
from companion.stage.console import Account
from companion.stage.keyboard import Keyboard, PlayerMessage, Raw
from companion.stage.link import Notice, SenderLink
from companion.stage.priority import undisturbed
from companion.stage.sending_figures import SendingFigures
from companion.stage.signals import Signals
from companion.stage.take_files import Outcome
from companion.stage.take_writer import TakeWriter
from companion.stage.wire import HEARTBEAT, SILENT_AFTER, SenderWords

POLL = 1.0
"""Seconds between looks at whether the keyboard is still there."""
LAST = 6.0
"""Seconds that an ended rehearsal may take to end its last notes."""
AHEAD = 2
"""Choruses that are prepared before they are played: a chord may anticipate the first beat of the next."""
PRIORITY = 10
"""Real-time priority of the loop; the sender has a higher one."""
LEAST_WAIT = 0.0002
"""Seconds between two calls of a rehearsal that wants to be woken at once."""


@runtime_checkable
class TakesTreatments(Protocol):
    """A rehearsal whose sections can be treated otherwise while it is played."""

    def prepare_treatment(self, wish: Wish) -> Callable[[], Any] | None:
        """The longer work for such a wish, as ``prepare``; None: it can't be fulfilled."""


class AnyRehearsal(Protocol):
    """What is driven here; :class:`companion.stage.rehearsal.Rehearsal` is one."""

    def advance(self, now: float, events: Sequence[Heard | Wish]) -> Step:
        """Go on to a moment."""

    def prepare(self, chorus: int) -> Callable[[], Any] | None:
        """The longer work for a chorus (1 = the first), to be done ahead of time in another thread; None: nothing."""

    def adopt(self, prepared: Any) -> None:
        """Take what was worked out ahead, in the thread that calls ``advance``."""

    def finish(self, now: float) -> Step:
        """End everything that sounds."""


@dataclass(frozen=True)
class Stop:
    """Why the playing stops: of its own accord, by Ctrl-C ('interrupted'), as asked, or because of a failure."""

    how: Outcome
    why: str = ""
    mend: str | None = None
    error: Exception | None = None
    """What went wrong with the companion itself."""


@dataclass(frozen=True)
class Ready:
    """Something that was worked out ahead."""

    what: Any
    wish: Wish | None = None
    """The wish for which that was done, and which waited for it."""


Inbox = SimpleQueue["Raw | Notice | Wish | Stop | Ready"]


class Player:
    """The loop; parameters as prepared by :func:`companion.stage.live.play`."""

    def __init__(
        self,
        rehearsal: AnyRehearsal,
        signals: Signals,
        inbox: Inbox,
        take: TakeWriter,
        instruments: Instruments,
        choice: Choice,
        setup: Setup,
        watch: Sequence[Callable[[Report], None]],
        say: Callable[[str], None],
        words: SenderWords,
    ):
        self.rehearsal, self.signals, self.inbox, self.take, self.setup = rehearsal, signals, inbox, take, setup
        self._watch, self._say, self._choice = watch, say, choice
        self._ended_at: float | None = None
        self._stopped = False
        """Whether the player wished for the end."""
        self._lateness: dict[str, Any] = {}
        self._folder: Path | None = None
        self._echo = EchoFilter(instruments.echo_window)
        self.pause = PauseReminder(preferences(CarePreferences).pause)
        self.link = SenderLink(words, inbox.put)
        try:
            self.keyboard = Keyboard(
                choice.api, choice.input, instruments.listen, self._echo, inbox.put, instruments.give_up_after
            )
        except DeviceError:
            self.link.end()
            raise
        self._give_up_after = instruments.give_up_after
        self._prepared, self._chorus = AHEAD, 1
        self._ahead = Ahead(self._ready, lambda error: inbox.put(Stop("lost", error=error)), PRIORITY)
        self._greet()
        self.origin = now()

    def run(self) -> Stop:
        """Drive the rehearsal until something stops it; then silence, keep and close everything."""
        stop = Stop("lost", "the companion broke off")
        self._ahead.start()
        try:
            with undisturbed(PRIORITY):
                stop = self._loop()
        except Exception as error:  # told by whoever called, once all is silent and the take is kept
            stop = Stop("lost", error=error)
        finally:
            self._ahead.end()
            stop = self._close(stop)
        return stop

    def account(self, title: str) -> Account:
        """What happened, after :meth:`run`."""
        take = self.take
        parts = {part: count for part, count in take.notes_by_part.items() if count}
        return Account(
            title,
            take.seconds,
            take.notes_heard,
            take.beats,
            parts,
            [] if take.drilled else take.player.lines(),
            self._folder,
            stopped=self._stopped,
            drilled=take.drilled,
        )

    def remarks(self) -> list[str]:
        """What wasn't as it should be, after :meth:`run`: a sentence each."""
        remarks = [self.take.trouble] if self.take.trouble else []
        if count := self._lateness.get("dropped"):
            many = f"{count} notes were" if count > 1 else "one note was"
            remarks.append(f"{many} more than 50 ms late, and not played any more")
        if count := self.keyboard.malformed:
            many = f"{count} messages that were no MIDI came" if count > 1 else "a message that was no MIDI came"
            remarks.append(f"{many} from {self.keyboard.name}, and nothing was made of {'them' if count > 1 else 'it'}")
        return remarks

    # The loop

    def _loop(self) -> Stop:
        next_look, turned = now() + POLL, now()
        step = self._advance([])
        while True:
            moment = now()
            if moment > turned + SILENT_AFTER:
                self._say(f"the companion stood still for {moment - turned:.0f} s; what sounded was silenced")
            turned = moment
            self.link.alive()
            moments = [self.origin + due for due in (step.wake, self.signals.due) if due is not None]
            wake = min(next_look, moment + HEARTBEAT, max(moment + LEAST_WAIT, min(moments, default=next_look)))
            events: list[Heard | Wish] = []
            for item in self._wait(wake):
                if isinstance(item, Stop):
                    return item
                if isinstance(item, Notice):
                    if stop := self._notice(item):
                        return stop
                elif isinstance(item, Ready):
                    self.rehearsal.adopt(item.what)
                    events += [replace(item.wish, seconds=now() - self.origin)] if item.wish else []
                elif isinstance(item, Wish) and item.name == "treatment":
                    self._prepare_treatment(item)
                elif isinstance(item, Wish):
                    events.append(replace(item, seconds=now() - self.origin))
                elif played := self.keyboard.hear(item):
                    events += self._heard(played)
            if now() >= next_look:
                next_look = now() + POLL
                ends, gone = self._look()
                events += ends
                if gone:
                    return gone
            events += self.signals.ripen(now() - self.origin)
            step = self._advance(sorted(events, key=lambda e: e.seconds))
            if self._ended_at is not None and (step.wake is None or now() > self._ended_at + LAST):
                return Stop("stopped" if self._stopped else "ended")

    def _wait(self, wake: float) -> Iterator[Raw | Notice | Wish | Stop | Ready]:
        """What has come by the moment, or as soon as something comes."""
        try:
            wait = wake - now()
            yield self.inbox.get(timeout=wait) if wait > 0 else self.inbox.get_nowait()
            while True:
                yield self.inbox.get_nowait()
        except Empty:
            return

    def _advance(self, events: list[Heard | Wish]) -> Step:
        for event in events:
            self.take.add(event)
            if isinstance(event, Wish):
                self._wished(event)
            else:
                self.pause.take(event)
        step = self.rehearsal.advance(now() - self.origin, events)
        self._carry_out(step)
        wished = {event.name for event in events if isinstance(event, Wish)}
        if wished & {"again", "treatment"}:
            self._prepared = 0 if "again" in wished else self._chorus
            self._prepare(self._prepared + AHEAD)
        if text := self.pause.due(now() - self.origin):
            self._say(text)
        return step

    def _wished(self, wish: Wish) -> None:
        """What a wish means to the evening as a whole."""
        if wish.name == "stop":
            self._stopped = True
        elif wish.name == "keep":
            self._say("this take is marked to be kept")

    def _prepare(self, last: int) -> None:
        """Have all choruses up to one arranged ahead."""
        for chorus in range(self._prepared + 1, last + 1):
            if work := self.rehearsal.prepare(chorus):
                self._ahead.ask(work)
        self._prepared = max(self._prepared, last)

    def _ready(self, done: Any) -> None:
        """Something was worked out; in the thread that did it."""
        self.inbox.put(done if isinstance(done, Ready) else Ready(done))

    def _prepare_treatment(self, wish: Wish) -> None:
        """Have a wished treatment arranged; the wish is told to the rehearsal when it is, and kept with that moment."""
        if isinstance(self.rehearsal, TakesTreatments) and (work := self.rehearsal.prepare_treatment(wish)):
            self._ahead.ask(lambda: Ready(work(), wish))

    def _carry_out(self, step: Step) -> None:
        for order in step.orders:
            message = self._message(order)
            due = self.origin + order.seconds - self.setup.latency
            self.link.order(due, message)
            self._echo.sent(due, message)
        for order in step.orders:
            self.take.add(order)
        for report in step.reports:
            self.take.add(report)
            self.pause.take(report)
            for callable_ in self._watch:
                callable_(report)
            if isinstance(report, State) and report.name == "ended" and self._ended_at is None:
                self._ended_at = now()
            if isinstance(report, Beat):
                self._chorus = report.chorus
                self._prepare(report.chorus + AHEAD)

    def _message(self, order: Order) -> tuple[int, ...]:
        channel = self.setup.channels.get(order.part, 1) - 1
        return (order.status & 0xF0 | channel, order.data1, order.data2)

    def _heard(self, played: PlayerMessage) -> list[Heard | Wish]:
        """What a message of the player's says; what of it is playing sounds on a shared output, too."""
        status, data1, data2 = played.message
        channel = status & 0x0F
        found = self.signals.hear(Heard(played.seconds - self.origin, status & 0xF0, data1, data2))
        for event in found:
            if isinstance(event, Heard):
                self._sound_too(event, channel)
        return found

    def _sound_too(self, event: Heard, channel: int) -> None:
        if self._choice.same:
            self.link.player((event.status | channel, event.data1, event.data2))
        elif self.setup.through:
            through = event.seconds + self.origin
            self.link.player((event.status, event.data1, event.data2), through=through)

    # Devices

    def _look(self) -> tuple[list[Heard | Wish], Stop | None]:
        ends = self._all_heard(self.keyboard.taken_back())
        match self.keyboard.look():
            case "lost":
                wait = f"the companion waits {self._give_up_after:.0f} s"
                self._say(f"{self.keyboard.name} is gone; plug it in again, {wait}")
                return [*ends, *self._all_heard(self.keyboard.let_go())], None
            case "again":
                self._say(f"{self.keyboard.name} was cut off for a moment, and is connected again")
                return [*ends, *self._all_heard(self.keyboard.let_go())], None
            case "back":
                self._say(f"{self.keyboard.name} is back")
            case "gone":
                return [], Stop("lost", f"{self.keyboard.name} went away", "plug it in and start again")
        return ends, None

    def _all_heard(self, messages: Sequence[PlayerMessage]) -> list[Heard | Wish]:
        return [event for played in messages for event in self._heard(played)]

    def _notice(self, notice: Notice) -> Stop | None:
        match notice.what:
            case "lost" if notice.more["port"] != self.keyboard.name:
                self._say(f"{notice.more['port']} is gone; nothing sounds until it is back")
            case "again" if notice.more["port"] != self.keyboard.name:
                self._say(f"{notice.more['port']} was cut off for a moment, and is connected again")
            case "back" if notice.more["port"] != self.keyboard.name:
                self._say(f"{notice.more['port']} is back")
            case "gone":
                return Stop("lost", f"{notice.more['port']} went away", "plug it in and start again")
            case "failed":
                return Stop("lost", notice.more["text"], notice.more["mend"])
            case "died":
                self.link.silence_for()
                return Stop("lost", "the process that sends the notes was ended", "start again")
        return None

    def _greet(self) -> None:
        where = self.link.port if not self._choice.same else "the same instrument"
        if self.link.silenced:
            self._say("the companion was killed last time; what it may have left sounding is silenced")
        self._say(f"listening to {self.keyboard.name}, playing on {where}; Ctrl-C ends")
        if not self.link.realtime:
            self._say("real-time priority is refused here: on a busy machine notes may be some milliseconds late")

    def _close(self, stop: Stop) -> Stop:
        """Silence, keep and close everything; what is raised on the way is the reason to stop, unless there was one."""
        try:
            self._carry_out(self.rehearsal.finish(now() - self.origin))
        except Exception as error:
            stop = stop if stop.error else Stop("lost", error=error)
        finally:
            self._lateness = self.link.end()
            self.take.sending = SendingFigures.of(self._lateness, self._echo.returns.figures())
            self._folder = self.take.close(stop.how)
            with contextlib.suppress(Exception):
                self.keyboard.close()
        return stop


@contextlib.contextmanager
def ends_asked_for(put: Callable[[Stop], None]) -> Iterator[None]:
    """Turn signals that ask for the end into a stop in the queue, so that the end is always an orderly one."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    wanted: dict[str, Outcome] = {"SIGINT": "interrupted", "SIGTERM": "stopped", "SIGHUP": "stopped"}
    before = {}
    for name, how in wanted.items():
        if name in signal.Signals.__members__:
            stop = Stop(how)
            before[name] = signal.signal(signal.Signals[name], lambda *_, stop=stop: put(stop))
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(signal.Signals[name], handler)
