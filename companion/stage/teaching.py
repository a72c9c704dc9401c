"""Teaching: which key, pedal or switch was pressed, when the player shows with what they want to tell something.

:class:`Demonstration` reads no clock and opens no port; :class:`KeyWatch` gives it what the keyboard sends.

Conventions: seconds on the live clock; controllers as in MIDI 1.0.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from companion.errors import DeviceError
from companion.messages import Heard, WishName
from companion.ports.choice import choose_ports
from companion.ports.echo import EchoFilter
from companion.ports.instruments import read_instruments
from companion.ports.midi import find_ports
from companion.preferences.own_file import set_values
from companion.preferences.signals import DAMPER, SignalPreferences, TaughtPress
from companion.stage.clock import now
from companion.stage.keyboard import Keyboard, Raw
from companion.stage.signal_keys import Range, keyboard_range
from companion.stage.signals import CONTROLLER, DOWN, PROGRAM, UP

NO_SWITCHES = frozenset((0, 1, 2, 7, 10, 11, 32, *range(120, 128)))
"""Controllers that are turned, or go along with something else: bank, modulation, breath, volume, pan, expression, and
the channel modes (MIDI 1.0)."""
APART = 0.3
"""Seconds without anything before the next press is looked for: keys bounce, and chords aren't struck at once."""
LOOK, LOOK_FOR_PORT = 0.1, 1.0
"""Seconds between two looks whether the waiting is over, and whether the keyboard is still there."""


class Demonstration:
    """Watches the keyboard until something is pressed."""

    def __init__(self) -> None:
        self._last = float("-inf")
        """When something was pressed last."""
        self._on: set[int] = set()
        """Controllers that are down."""

    def hear(self, event: Heard) -> TaughtPress | None:
        """What was pressed by this message; None where it is no press, or still belongs to the one before."""
        press = self._pressed(event)
        if press is None:
            return None
        apart, self._last = event.seconds - self._last >= APART, event.seconds
        return press if apart else None

    def _pressed(self, event: Heard) -> TaughtPress | None:
        if event.is_note_on:
            return TaughtPress(key=event.data1)
        if event.status == PROGRAM:
            return TaughtPress(program=event.data1 + 1)
        if event.status != CONTROLLER or event.data1 in NO_SWITCHES or event.data1 == DAMPER:
            return None
        if event.data2 < UP:
            self._on.discard(event.data1)
        if event.data2 < DOWN or event.data1 in self._on:
            return None
        self._on.add(event.data1)
        return TaughtPress(controller=event.data1)


def told_already(press: TaughtPress, others: Mapping[WishName, TaughtPress | None]) -> WishName | None:
    """What a press tells already."""
    return next((other for other, its in others.items() if its == press), None)


def keep_taught(taught: Mapping[WishName, TaughtPress | None]) -> Path | None:
    """Set in the player's own file what tells each wish, None taking it out; where the former file is kept, if any.

    Raises
    ------
    ConfigError, InputError
        As :func:`companion.preferences.own_file.set_values`.
    """
    values: dict[str, Any] = {wish: None if press is None else press.as_written() for wish, press in taught.items()}
    return set_values(SignalPreferences, "taught", values)


class KeyWatch:
    """The keyboard, listened to for presses.

    Parameters
    ----------
    port_in, midi : str, optional
        Part of the port's name, and the MIDI service; by default those of ``configs/instruments.toml``.

    Raises
    ------
    UseError, DeviceError
        As :func:`companion.ports.midi.find_ports` and :func:`companion.ports.choice.choose_ports`.
    """

    def __init__(self, port_in: str | None = None, midi: str | None = None) -> None:
        instruments = read_instruments()
        wanted = port_in or instruments.input
        choice = choose_ports(find_ports(midi or instruments.midi, wanted), wanted, play=False)
        self.keys: Range = keyboard_range()
        self._queue: SimpleQueue[Raw] = SimpleQueue()
        self._demonstration = Demonstration()
        echo = EchoFilter(instruments.echo_window)
        self._keyboard = Keyboard(choice.api, choice.input, instruments.listen, echo, self._queue.put, 0.0)

    @property
    def name(self) -> str:
        """The port's name."""
        return self._keyboard.name

    def press(self, wait: float, over: threading.Event) -> TaughtPress | None:
        """What is pressed next; None when that takes longer than so many seconds, or the event is set.

        Raises
        ------
        DeviceError
            The keyboard went away.
        """
        end, look = now() + wait, now() + LOOK_FOR_PORT
        while now() < end and not over.is_set():
            try:
                played = self._keyboard.hear(self._queue.get(timeout=LOOK))
            except Empty:
                played = None
            if played is not None:
                status, data1, data2 = played.message
                press = self._demonstration.hear(Heard(played.seconds, status & 0xF0, data1, data2))
                if press is not None:
                    return press
            if now() >= look:
                look = now() + LOOK_FOR_PORT
                if self._keyboard.look() == "lost":
                    raise DeviceError(f"{self.name} went away", mend="plug it in and start again")
        return None

    def close(self) -> None:
        """Stop listening."""
        self._keyboard.close()
