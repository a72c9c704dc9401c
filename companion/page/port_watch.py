"""The process that listens to every MIDI input while a page shows them: which ports there are, and what is pressed.

It plays nothing and keeps nothing. It lives as long as a page looks at what it tells
(:mod:`companion.page.port_stream`), and lets go of its ports when its standard input ends: some systems give a port to
one program alone.

Conventions: seconds on the live clock; channels and controllers as instruments count them; MIDI numbers of keys.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
import threading
from collections.abc import Callable
from queue import Empty, SimpleQueue

import msgspec

from companion.errors import CompanionError, DeviceError
from companion.messages import Heard
from companion.page.outgoing import to_line
from companion.ports.echo import EchoFilter
from companion.ports.instruments import Instruments, read_instruments
from companion.ports.midi import PortList, find_ports
from companion.ports.quiet import quiet_libraries
from companion.ports.setup.pedals import BETWEEN, CLEAR, PEDALS
from companion.preferences.signals import DAMPER
from companion.stage.beside import take_standard_input
from companion.stage.clock import now
from companion.stage.keyboard import Keyboard, PlayerMessage, Raw
from companion.stage.signal_keys import NAMES, press_name
from companion.stage.teaching import Demonstration

LOOK = 1.0
"""Seconds between two looks at which ports there are."""
AGAIN = 5.0
"""Seconds after which a service that doesn't run is looked for again."""
WAIT = 0.1
"""Seconds of waiting for a message, after which it is seen whether the page is still there."""
CHANNELS = frozenset(range(1, 17))
CONTROLLER = 0xB0


class Watched(msgspec.Struct, frozen=True, tag_field="kind"):
    """Anything that is told of the ports."""


class PortsTold(Watched, frozen=True, tag="ports"):
    """The ports that there are, told at first and whenever that changes."""

    inputs: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    deaf: dict[str, str] = {}  # msgspec makes a new one each time
    """Inputs that can't be listened to, and why."""
    fault: str = ""
    """Why there are none."""


class PressTold(Watched, frozen=True, tag="press"):
    """A key, pedal or switch went down."""

    input: str
    words: str
    channel: int
    listened: bool
    """Whether what comes on this channel is the player's, by ``instruments.toml``."""
    key: int | None = None
    pedal: int | None = None
    """Its controller, if it is one that a foot works."""
    half: bool = False
    """Whether a pedal has sent what lies between up and down."""
    signal: dict[str, int] | None = None
    """How it would stand in ``signals.toml``; None where it can't tell anything, or belongs to the press before."""


class PressesHeard:
    """What is pressed at one input; reads no clock and opens no port.

    Parameters
    ----------
    name : str
        The input's.
    listen : collection of int
        Channels that are the player's.
    """

    def __init__(self, name: str, listen: frozenset[int]) -> None:
        self._name, self._listen = name, listen
        self._demonstration = Demonstration()
        self._between: dict[int, set[int]] = {}
        self._down: set[int] = set()

    def hear(self, played: PlayerMessage) -> PressTold | None:
        """What this message presses; None where it presses nothing."""
        status, data1, data2 = played.message
        event = Heard(played.seconds, status & 0xF0, data1, data2)
        signal = self._demonstration.hear(event)
        channel = (status & 0x0F) + 1
        told = PressTold(
            self._name,
            press_name(signal) if signal else "",
            channel,
            channel in self._listen,
            signal=signal.as_written() if signal else None,
        )
        if event.is_note_on:
            words = f"{NAMES[data1 % 12]}{data1 // 12 - 1}"
            return msgspec.structs.replace(told, words=words, key=data1)
        if event.status == CONTROLLER and data1 in PEDALS:
            return self._pedal(told, data1, data2)
        return told if signal else None

    def _pedal(self, told: PressTold, pedal: int, value: int) -> PressTold | None:
        """A pedal that goes down, or for the first time rests between."""
        between = self._between.setdefault(pedal, set())
        before = len(between) >= BETWEEN
        between |= {value} & set(CLEAR)
        half, was_down = len(between) >= BETWEEN, pedal in self._down
        (self._down.add if value >= 64 else self._down.discard)(pedal)
        if (value < 64 or was_down) and half == before:
            return None
        words = f"{PEDALS[pedal]} pedal" if pedal in (DAMPER, 66, 67) else PEDALS[pedal]
        return msgspec.structs.replace(told, words=words, pedal=pedal, half=half)


class PortWatch:
    """Every input, listened to.

    Parameters
    ----------
    instruments : Instruments
    tell : callable
        Told what there is and what is pressed.
    """

    def __init__(self, instruments: Instruments, tell: Callable[[Watched], None]) -> None:
        self._instruments, self._tell = instruments, tell
        self._came: SimpleQueue[tuple[str, Raw]] = SimpleQueue()
        self._list: PortList | None = None
        self._keyboards: dict[str, Keyboard] = {}
        self._heard: dict[str, PressesHeard] = {}
        self._told: PortsTold | None = None

    def look(self) -> float:
        """See which ports there are, and listen to all that are new; the seconds up to the next look."""
        try:
            if self._list is None:
                self._list = PortList(find_ports(self._instruments.midi).api)
            ports = self._list.ports()
        except CompanionError as error:
            self._put(PortsTold(fault=str(error)))
            return AGAIN
        for name in self._keyboards.keys() - set(ports.inputs):
            self._keyboards.pop(name).close()
        for keyboard in self._keyboards.values():
            keyboard.look()
        deaf: dict[str, str] = {}
        for name in ports.inputs:
            if name not in self._keyboards:
                try:
                    self._open(ports.api, name)
                except DeviceError as error:
                    deaf[name] = error.what
        self._put(PortsTold(ports.inputs, ports.outputs, deaf))
        return LOOK

    def _open(self, api: str, name: str) -> None:
        def put(raw: Raw) -> None:
            self._came.put((name, raw))

        echo = EchoFilter(self._instruments.echo_window)
        self._keyboards[name] = Keyboard(api, name, CHANNELS, echo, put, 0.0)
        self._heard[name] = PressesHeard(name, self._instruments.listen)

    def _put(self, told: PortsTold) -> None:
        if told != self._told:
            self._told = told
            self._tell(told)

    def hear(self, wait: float) -> None:
        """Tell what is pressed next, if that comes within so many seconds."""
        with contextlib.suppress(Empty):
            name, raw = self._came.get(timeout=wait)
            keyboard = self._keyboards.get(name)
            played = keyboard.hear(raw) if keyboard else None
            if played is not None and (told := self._heard[name].hear(played)) is not None:
                self._tell(told)

    def close(self) -> None:
        """Let go of every port."""
        for keyboard in self._keyboards.values():
            keyboard.close()
        self._keyboards = {}
        if self._list is not None:
            self._list.close()


def watch(tell: Callable[[Watched], None], over: threading.Event) -> None:
    """Watch until it is over."""
    with quiet_libraries(), contextlib.closing(PortWatch(read_instruments(), tell)) as ports:
        next_look = now()
        while not over.is_set():
            if now() >= next_look:
                next_look = now() + ports.look()
            ports.hear(WAIT)


def watch_for_page() -> int:
    """Watch until standard input ends."""
    out = io.FileIO(os.dup(1), "w")
    os.dup2(2, 1)  # whatever else is printed is none of the page's
    over = threading.Event()

    def tell(message: Watched) -> None:
        try:
            out.write(to_line(message))
        except OSError:
            over.set()

    def listen() -> None:
        pipe = take_standard_input()
        while pipe.read(1024):
            pass
        over.set()

    threading.Thread(target=listen, daemon=True).start()
    try:
        watch(tell, over)
    except CompanionError as error:
        tell(PortsTold(fault=str(error)))
    return 0


if __name__ == "__main__":
    sys.exit(watch_for_page())
