"""Setting up at the real piano: drives the dialogue with the live clock, every input port, and a sender for the output.

The dialogue itself is :class:`companion.ports.setup.dialogue.SettingUp`, which tests drive with a virtual clock. Notes
go out through a sender process as when a tune is played, so that none is left sounding, whatever dies.

Conventions: seconds on the live clock (:mod:`companion.stage.clock`).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from queue import Empty, SimpleQueue

from companion.errors import DeviceError
from companion.ports.binding import Receive
from companion.ports.choice import Ports, choose_ports, instrument_ports
from companion.ports.instruments import Instruments, read_instruments
from companion.ports.midi import DRAIN, Input, Output, find_ports
from companion.ports.quiet import quiet_libraries
from companion.ports.setup.desk import FromPort, Opened, OpenOutput, Reply, Sent, SetupEvent, ToPort, Typed
from companion.ports.setup.dialogue import SettingUp
from companion.ports.setup.identity import IDENTITY_REQUEST
from companion.ports.setup.keeping import writing_of
from companion.ports.sound import NAME as COMPUTER
from companion.ports.sound import find_program, find_soundfont
from companion.resources import data_folder
from companion.stage import sounding_marks
from companion.stage.clock import StampClock, now
from companion.stage.link import Notice, SenderLink
from companion.stage.loop import Stop, ends_asked_for
from companion.stage.wire import HEARTBEAT, SenderWords

LEAD = 0.005
"""Seconds that a message takes at most to the sender's order book; so the moment at which it leaves is known."""
POLL = 1.0
"""Seconds between looks at whether the piano is still there."""


@dataclass(frozen=True)
class _Came:
    """A message as a port brought it."""

    port: str
    delta: float
    arrival: float
    message: tuple[int, ...]


SetupItem = _Came | Typed | Notice | Stop
SetupInbox = SimpleQueue[SetupItem]
"""Where everything comes in; a :class:`Typed` gets its moment when it is taken."""


def set_up(
    say: Callable[[str], None], inbox: SetupInbox | None = None, midi: str | None = None, *, typing: bool = True
) -> bool:
    """Go through the dialogue, and write what it finds into the player's own files.

    Parameters
    ----------
    say : callable
        Shows a line.
    inbox : SimpleQueue, optional
        Lines typed at the computer's keyboard come here.
    midi : str, optional
        The MIDI service, as in :func:`companion.stage.live.play`.
    typing : bool
        Whether anything can be typed.

    Returns
    -------
    bool
        Whether anything was kept.

    Raises
    ------
    DeviceError
        No instrument is there, it went away, or no key was heard.
    InputError
        A file can't be written.
    KeyboardInterrupt
        The player pressed Ctrl-C: nothing sounds, and everything is as it was.
    """
    inbox = inbox or SimpleQueue()
    instruments = read_instruments()
    with quiet_libraries(), ends_asked_for(inbox.put):
        ports = find_ports(midi or instruments.midi)
        choose_ports(ports, play=False)  # says what to do where no instrument is
        ports = instrument_ports(ports)
        today = time.strftime("%Y-%m-%d")
        dialogue = SettingUp(
            ports,
            lambda found: writing_of(found, instruments, today),
            lambda port: _partner(ports, port),
            _computer_sounds(instruments),
            typing,
        )
        _Driver(dialogue, ports, instruments, inbox, say).run()
    for file in dialogue.kept.files if dialogue.kept else ():
        say(file.write())
    if not dialogue.kept:
        say("nothing is changed")
    return dialogue.kept is not None


class _Driver:
    """The loop, and what is open."""

    def __init__(
        self,
        dialogue: SettingUp,
        ports: Ports,
        instruments: Instruments,
        inbox: SetupInbox,
        say: Callable[[str], None],
    ):
        self._dialogue, self._ports, self._instruments = dialogue, ports, instruments
        self._inbox, self._say = inbox, say
        self._inputs: dict[str, Input] = {}
        self._clocks: dict[str, StampClock] = {}
        self._link: SenderLink | None = None
        self._due: list[SetupEvent] = []
        """What is to be told to the dialogue when its moment has come."""
        self._next_look = now() + POLL

    def run(self) -> None:
        """Until the dialogue is over; whatever ends it, nothing is left sounding."""
        try:
            self._listen()
            self._loop()
        finally:
            if self._dialogue.step != "over":
                self._carry_out(self._dialogue.leave())
            if self._link:
                self._link.end()
            for port in self._inputs.values():
                with suppress(Exception):
                    port.close()
        if self._dialogue.trouble:
            raise self._dialogue.trouble

    def _listen(self) -> None:
        for name in self._ports.inputs:
            try:
                self._inputs[name] = Input(self._ports.api, name, self._receiver(name), sysex=True)
                self._clocks[name] = StampClock()
            except DeviceError as error:
                self._say(f"{error.what}; it is left out")
        if not self._inputs:
            raise DeviceError("no MIDI input can be opened", mend="close what else uses it, and start again")

    def _receiver(self, name: str) -> Receive:
        def receive(delta: float, message: Sequence[int]) -> None:
            self._inbox.put(_Came(name, delta, now(), tuple(message)))

        return receive

    def _loop(self) -> None:
        reply = self._dialogue.advance(now())
        self._carry_out(reply)
        while reply.wake is not None:
            events = self._wait(min([reply.wake, *(event.seconds for event in self._due)]))
            moment = now()
            events += [event for event in self._due if event.seconds <= moment]
            self._due = [event for event in self._due if event.seconds > moment]
            reply = self._dialogue.advance(moment, sorted(events, key=lambda event: event.seconds))
            self._carry_out(reply)
            if self._link:
                self._link.alive()
            self._look()

    def _wait(self, wake: float) -> list[SetupEvent]:
        """What has come by the moment, or as soon as something comes."""
        events: list[SetupEvent] = []
        wait = min(wake - now(), HEARTBEAT)
        try:
            item = self._inbox.get(timeout=wait) if wait > 0 else self._inbox.get_nowait()
            while True:
                events += self._taken(item)
                item = self._inbox.get_nowait()
        except Empty:
            return events

    def _taken(self, item: SetupItem) -> list[SetupEvent]:
        if isinstance(item, Stop):
            raise KeyboardInterrupt
        if isinstance(item, Notice):
            if item.what in ("gone", "failed", "died", "lost"):
                what = item.more.get("text") or "the output went away"
                raise DeviceError(f"{what}; nothing is changed", mend="plug it in and start again")
            return []
        if isinstance(item, Typed):
            return [replace(item, seconds=now())]
        if not item.message:
            return []
        return [FromPort(self._clocks[item.port].seconds(item.delta, item.arrival), item.port, item.message)]

    def _look(self) -> None:
        if now() < self._next_look:
            return
        self._next_look = now() + POLL
        port = self._inputs.get(self._dialogue.found.input or "")
        if port and not port.present():
            raise DeviceError(f"{port.name} went away; nothing is changed", mend="plug it in and start again")

    def _carry_out(self, reply: Reply) -> None:
        for line in reply.lines:
            self._say(line)
        for deed in reply.deeds:
            if isinstance(deed, OpenOutput):
                self._due.append(Opened(now(), deed.port, self._open(deed.port)))
            else:
                self._send(deed)

    def _open(self, port: str) -> str:
        """Have an output open, and ask who it is; why it can't be, or ''."""
        if self._link:
            self._link.end()
            self._link = None
        data = data_folder()
        try:
            if port != COMPUTER:
                sounding_marks.check_alone(data / sounding_marks.FOLDER, self._ports.api, output=port, ask=None)
                self._ask_who(port)
            self._link = SenderLink(_words(self._ports.api, port, self._instruments, data), self._inbox.put)
        except DeviceError as error:
            return error.what
        return ""

    def _ask_who(self, port: str) -> None:
        output = Output(self._ports.api, port)
        output.send(IDENTITY_REQUEST)
        time.sleep(DRAIN)
        output.close()

    def _send(self, deed: ToPort) -> None:
        if self._link is None:
            return
        due = now() + LEAD
        self._link.order(due, deed.message)
        self._due.append(Sent(due, deed.message))


def _partner(ports: Ports, port: str) -> str | None:
    """The output of the instrument that an input belongs to."""
    try:
        choice = choose_ports(ports, port)
    except DeviceError:
        return None
    return choice.output if choice.same else None


def _computer_sounds(instruments: Instruments) -> bool:
    try:
        find_program()
        find_soundfont(instruments.synth.soundfont)
    except DeviceError:
        return False
    return True


def _words(api: str, port: str, instruments: Instruments, data: Path) -> SenderWords:
    return SenderWords(
        api=api,
        port=None if port == COMPUTER else port,
        channels=tuple(range(16)),
        give_up_after=0.0,
        synth=instruments.synth if port == COMPUTER else None,
        marks=str(data / sounding_marks.FOLDER),
        title="a piano being set up",
    )
