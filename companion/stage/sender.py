"""The sender process: owns the output, sends each message at its moment, and leaves nothing sounding.

It does nothing else, so that nothing else makes it late: orders come over a pipe a few milliseconds ahead and wait in a
heap. Where the system grants real-time priority (SCHED_FIFO) it sleeps to shortly before the moment and spins through
the rest; where that is refused it only sleeps, because on a full machine spinning makes things worse.

When the pipe breaks, the player process has died, whatever it died of: everything is silenced. So it is on SIGTERM and
SIGINT, at an orderly end, and when the player process has given no sign of life for a while: then it is stopped or
hangs, and what it ordered before isn't played either. A note that is too late isn't begun; its end is always sent.

The protocol is in :mod:`companion.stage.wire`. Conventions: seconds on the live clock.
"""

from __future__ import annotations

import contextlib
import gc
import heapq
import json
import os
import signal
import sys
import threading
import time
from array import array
from collections.abc import Sequence
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, Protocol

from companion.errors import DeviceError
from companion.ports.connection import PortChange
from companion.ports.midi import DRAIN, Output
from companion.ports.quiet import quiet_libraries
from companion.ports.sounding import SUSTAIN, Sounding
from companion.stage import wire
from companion.stage.beside import take_standard_input
from companion.stage.clock import now
from companion.stage.priority import ask_for_priority, ask_for_short_turns
from companion.stage.sounding_marks import SoundingMark, left_sounding, silencing

SPIN = 0.0002
"""Seconds before the moment at which sleeping turns into spinning, with real-time priority."""
POLL = 1.0
"""Seconds between looks at whether the output is still there."""
QUIET = 0.02
"""Seconds with nothing due in which there is time for such a look."""
LAST = 0.25
"""Seconds ahead that an orderly end still plays out."""
CABLE = 0.001
"""Seconds that a message takes on a MIDI cable (three bytes at 31250 baud), for many at once."""
PRIORITY = 20
"""Above everything ordinary, below the sound servers (which ask for 60 and more)."""


class Outlet(Protocol):
    """Where messages go: a port, or the computer's sound."""

    name: str

    def send(self, message: tuple[int, ...]) -> None:
        """Send one message now."""

    def present(self) -> bool:
        """Whether it is still there."""

    def connected(self) -> bool:
        """Whether what is sent reaches it; it may have been away and be there again."""

    def reconnect(self) -> bool:
        """Mend that; False when it can't be done."""

    def find_again(self) -> str | None:
        """Its present name once it is there again; None while it is away."""

    def close(self) -> None:
        """Give it back."""


def main(arguments: list[str]) -> int:
    """Run a sender: ``python -m companion.stage.sender WORDS``, started by the player process."""
    words = wire.SenderWords.from_json(arguments[0])
    frames: SimpleQueue[wire.Frame | None] = SimpleQueue()
    for signum in _signals():
        # Not an exception: it could fall between a note-off's booking and its sending.
        signal.signal(signum, lambda *_: frames.put(None))
    with quiet_libraries():
        try:
            return _run(words, frames)
        except DeviceError as error:
            _notice("failed", text=error.what, mend=error.mend)
            return error.exit_status
        except Exception as defect:
            if os.environ.get("COMPANION_DEBUG"):
                raise
            _notice("failed", text=f"the sender met a defect: {type(defect).__name__}: {defect}", mend=None)
            return 1


def _run(words: wire.SenderWords, frames: SimpleQueue[wire.Frame | None]) -> int:
    realtime = words.realtime and ask_for_priority(PRIORITY) is not None
    if not realtime:
        ask_for_short_turns()
    outlet = _open(words, words.port)
    threading.Thread(target=_read, args=(frames, realtime), daemon=True).start()
    sender = Sender(words, outlet, realtime)
    try:
        silenced = sender.silence_before()
        sender.start()
        _notice("ready", port=outlet.name, realtime=realtime, mark=sender.mark_path, silenced=silenced)
        _undisturbed()
        sender.heard()
        return sender.serve(frames)
    finally:
        sender.stop()


def _signals() -> list[signal.Signals]:
    """Those that ask for the end, where the system has them."""
    return [signal.Signals[name] for name in ("SIGTERM", "SIGINT", "SIGHUP") if name in signal.Signals.__members__]


class Sender:
    """The order book of one output.

    Parameters
    ----------
    words : SenderWords
        How it was started.
    outlet : Outlet
        Where messages go.
    realtime : bool
        Whether real-time priority was granted.
    """

    def __init__(self, words: wire.SenderWords, outlet: Outlet, realtime: bool):
        self.words, self.outlet, self.realtime = words, outlet, realtime
        self.sounding = Sounding(words.channels, words.shared)
        self._heap: list[tuple[float, int, tuple[int, int, int]]] = []
        self._count = 0
        self._lateness = array("f")
        self._dropped = 0
        self._heard_at, self._unheard = now(), False
        self._mark: SoundingMark | None = None
        self._lost_at: float | None = None
        self._next_look = now() + POLL

    @property
    def mark_path(self) -> str | None:
        """Where the mark of this output lies, if there is one."""
        return str(self._mark.path) if self._mark else None

    def silence_before(self) -> bool:
        """Silence what a companion that was killed left sounding here; whether there was one. From now on, mark it."""
        words = self.words
        if words.marks is None or (words.port is None and words.listening is None):
            return False
        folder, port = Path(words.marks), words.port and self.outlet.name
        # The computer's sound falls silent with its process.
        left = left_sounding(folder, words.api, port) if port else {}
        for message in silencing(set().union(*left.values())):
            self.outlet.send(message)
            time.sleep(CABLE)
        for path in left:
            with contextlib.suppress(OSError):
                path.unlink()
        channels = words.channels if port else ()
        self._mark = SoundingMark(folder, words.api, port, channels, listening=words.listening, title=words.title)
        return bool(left)

    def heard(self) -> None:
        """The player process gave a sign of life."""
        self._heard_at, self._unheard = now(), False

    def start(self) -> None:
        """Set the sounds that the player wants set; no other program change is ever sent."""
        for channel, program in self.words.programs:
            self.outlet.send((0xC0 | channel, program))

    def serve(self, frames: SimpleQueue[wire.Frame | None]) -> int:
        """Send what is due until the end; None is a broken pipe or a signal. Returns the exit status."""
        until = float("inf")
        while True:
            for frame in self._wait(frames, until):
                if frame is None:
                    return 0
                self.heard()
                if frame.kind == wire.END:
                    until = now() + LAST
                    # What lies further ahead isn't played any more.
                    self._heap = [entry for entry in self._heap if entry[0] <= until]
                    heapq.heapify(self._heap)
                else:
                    self._take(frame)
            self._silence_if_unheard()
            self._send_due()
            if until < float("inf") and (not self._heap or now() >= until):
                return 0
            if self._is_time_to_look() and not self._look():
                return DeviceError.exit_status

    def stop(self) -> None:
        """Silence everything, give the port back and say how it went."""
        if self._lost_at is None:
            for message in self.sounding.silence():
                with contextlib.suppress(Exception):  # the next may still get through
                    self.outlet.send(message)
            time.sleep(DRAIN)
            if self._mark:
                self._mark.remove()
        each = {"each_ms": [round(1000 * late, 3) for late in self._lateness]} if self.words.report_each else {}
        _notice("done", **lateness_figures(self._lateness), dropped=self._dropped, **each)
        with contextlib.suppress(Exception):
            self.outlet.close()

    def _take(self, frame: wire.Frame) -> None:
        if frame.kind == wire.ORDER:
            self._count += 1
            heapq.heappush(self._heap, (frame.due, self._count, frame.message))
        elif frame.kind == wire.PLAYER:
            self._send_all(self.sounding.player(frame.message, now()))
        elif frame.kind == wire.ALIVE:
            _notice("alive")
        elif frame.kind == wire.THROUGH and not self._is_too_late(frame.due, frame.message):
            self._send_all(self.sounding.order(frame.message, now()))  # like ours, so that it ends with ours

    def _wait(self, frames: SimpleQueue[wire.Frame | None], until: float) -> list[wire.Frame | None]:
        """Wait for frames or for the next moment; returns what came."""
        due = self._heap[0][0] if self._heap else float("inf")
        look = self._next_look if due > now() + QUIET else float("inf")
        unheard = float("inf") if self._unheard else self._heard_at + wire.SILENT_AFTER
        wake = min(due - (SPIN if self.realtime else 0.0), until, look, unheard)
        came: list[wire.Frame | None] = []
        try:
            wait = wake - now()
            came.append(frames.get(timeout=min(wait, POLL)) if wait > 0 else frames.get_nowait())
            while True:
                came.append(frames.get_nowait())
        except Empty:
            return came

    def _send_due(self) -> None:
        ahead = SPIN if self.realtime else 0.0
        while self._heap and self._heap[0][0] <= now() + ahead:
            due, _, message = heapq.heappop(self._heap)
            if self._is_too_late(due, message):
                continue
            while now() < due:
                pass
            self._send_all(self.sounding.order(message, due))
            self._lateness.append(now() - due)

    def _is_too_late(self, due: float, message: tuple[int, ...]) -> bool:
        """Whether a message isn't sent any more: it begins something, at a moment that is over, or for nobody."""
        if not begins(message) or (now() <= due + wire.TOO_LATE and not self._unheard):
            return False
        self._dropped += 1
        return True

    def _silence_if_unheard(self) -> None:
        if self._unheard or now() < self._heard_at + wire.SILENT_AFTER:
            return
        self._unheard = True
        if self._lost_at is None:  # else it is done when the output is back
            self._send_all(self.sounding.silence())

    def _send_all(self, messages: list[tuple[int, ...]]) -> None:
        if self._lost_at is None:
            for message in messages:
                self.outlet.send(message[: wire.length_of(message[0])])

    # Unplugging

    def _is_time_to_look(self) -> bool:
        return now() >= self._next_look and not (self._heap and self._heap[0][0] < now() + QUIET)

    def _look(self) -> bool:
        """See whether the output is there; False when it stayed away too long."""
        self._next_look = now() + POLL
        if self._lost_at is None:
            if self.outlet.present():
                if self.outlet.connected():
                    return True
                if self.outlet.reconnect():
                    self._begin_again("again")
                    return True
            self._lost_at = now()
            _notice("lost", port=self.outlet.name)
            return True
        if self._reopen():
            return True
        if now() - self._lost_at > self.words.give_up_after:
            _notice("gone", port=self.outlet.name)
            return False
        return True

    def _reopen(self) -> bool:
        name = self.outlet.find_again()
        if name is None:
            return False
        with contextlib.suppress(DeviceError):
            outlet = _open(self.words, name if self.words.port else None)
            with contextlib.suppress(Exception):
                self.outlet.close()
            self.outlet, self._lost_at = outlet, None
            self._begin_again("back")
            return True
        return False

    def _begin_again(self, what: PortChange) -> None:
        self._send_all(self.sounding.silence())  # what sounded when it went may still sound
        self.start()
        _notice(what, port=self.outlet.name)


def begins(message: Sequence[int]) -> bool:
    """Whether a message begins something that another has to end: a note, or a pedal that goes down."""
    kind = message[0] & 0xF0
    return (kind == 0x90 and message[2] > 0) or (kind == 0xB0 and message[1] == SUSTAIN and message[2] >= 64)


def lateness_figures(lateness: Sequence[float]) -> dict[str, float]:
    """Count, median, 99th percentile and worst of seconds of lateness, in milliseconds."""
    ordered = sorted(lateness)
    if not ordered:
        return {"sent": 0}
    last = len(ordered) - 1
    figures = {"median_ms": ordered[last // 2], "p99_ms": ordered[int(last * 0.99)], "worst_ms": ordered[last]}
    return {"sent": len(ordered), **{name: round(1000 * value, 3) for name, value in figures.items()}}


def _undisturbed() -> None:
    if sys.platform == "win32":
        import ctypes

        ctypes.windll.winmm.timeBeginPeriod(1)  # else waits end up to 16 ms late
    gc.collect()
    gc.freeze()
    gc.disable()
    sys.setswitchinterval(0.0005)


def _open(words: wire.SenderWords, name: str | None) -> Outlet:
    if name is not None:
        return Output(words.api, name)
    from companion.ports.instruments import Synth
    from companion.ports.sound import SynthOutput

    synth = SynthOutput(words.synth or Synth())
    if words.realtime:
        ask_for_priority(PRIORITY, synth.pid)  # it reads its commands with its main thread
    return synth


def _read(frames: SimpleQueue[wire.Frame | None], realtime: bool) -> None:
    """Hand on what comes through the pipe; None when it breaks before the end was said."""
    if realtime:
        ask_for_priority(PRIORITY)
    pipe = take_standard_input()
    while len(data := pipe.read(wire.FRAME.size)) == wire.FRAME.size:
        frame = wire.unpack(data)
        frames.put(frame)
        if frame.kind == wire.END:
            return
    frames.put(None)


def _notice(what: wire.NoticeKind, **more: Any) -> None:
    """Tell the player process something; it may be dead."""
    with contextlib.suppress(OSError, ValueError):
        os.write(sys.stdout.fileno(), (json.dumps({"what": what, **more}) + "\n").encode())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
