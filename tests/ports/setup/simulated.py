"""Pianos of several kinds and a person at them, in virtual time: the dialogue meets them as it meets real ones."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from companion.ports.choice import Ports
from companion.ports.instruments import read_instruments
from companion.ports.setup.desk import (
    Desk,
    FromPort,
    Opened,
    OpenOutput,
    Reply,
    Sent,
    SetupEvent,
    SetupStep,
    Talk,
    ToPort,
    Typed,
)
from companion.ports.setup.dialogue import SettingUp
from companion.ports.setup.identity import IDENTITY_REQUEST
from companion.ports.setup.keeping import writing_of
from companion.ports.sound import NAME as COMPUTER

IDENTITY_REPLY = (0xF0, 0x7E, 0x00, 0x06, 0x02, 0x7D, 0x02, 0x01, 0x05, 0x00, 1, 0, 0, 2, 0xF7)
"""MIDI 1.0: a reply; 7D is the number kept for instruments that aren't sold."""
REACTION = 0.6
"""Seconds from a note to the key that says it was heard."""
Played = tuple[float, tuple[int, ...]]
"""Seconds from now, message."""


@dataclass
class SimulatedPiano:
    """An instrument with one input and one output."""

    input: str = "upright:keys"
    output: str | None = "upright:ears"
    keys: tuple[int, int] = (21, 108)
    channel: int = 1
    low_channel: int | None = None
    """Of the keys below middle C, where the keyboard is split."""
    layered: tuple[int, ...] = ()
    """Further channels on which each key is sent."""
    also: tuple[str, ...] = ()
    """Further ports on which each key is sent."""
    hears: Iterable[int] = range(1, 17)
    drums: bool = True
    sounds: bool = True
    one_sound: bool = False
    """A program change on any channel changes all of it."""
    echo: float | None = None
    """Seconds after which it returns what it gets."""
    zero_velocity: bool = False
    """It ends notes by note-ons of velocity 0."""
    pedals: dict[int, tuple[int, ...]] = field(default_factory=lambda: {64: (0, 30, 70, 127, 80, 20, 0), 67: (127, 0)})
    """By controller: what is sent when it is pressed and let go of."""
    opens: bool = True
    local: bool = True
    programs: dict[int, int] = field(default_factory=dict)
    received: list[tuple[int, ...]] = field(default_factory=list)

    def stroke(self, key: int, after: float, lasts: float = 0.15) -> list[tuple[float, str, tuple[int, ...]]]:
        """A key goes down and up, on every port and channel that it is sent on."""
        if not self.keys[0] <= key <= self.keys[1]:
            return []
        split = self.low_channel if self.low_channel and key < 60 else self.channel
        found = []
        for port in (self.input, *self.also):
            for channel in (split, *self.layered):
                end = (0x90 if self.zero_velocity else 0x80) | channel - 1
                found.append((after, port, (0x90 | channel - 1, key, 77)))
                found.append((after + lasts, port, (end, key, 0)))
        return found

    def get(self, message: tuple[int, ...]) -> list[Played]:
        """Take a message; what it sends back."""
        self.received.append(message)
        back = [(self.echo, message)] if self.echo is not None else []
        if message == IDENTITY_REQUEST:
            return [*back, (0.02, IDENTITY_REPLY)]
        kind, channel = message[0] & 0xF0, (message[0] & 0x0F) + 1
        if kind == 0xC0:
            self.programs[0 if self.one_sound else channel] = message[1] + 1
        if kind == 0xB0 and message[1] == 122:  # MIDI 1.0: local control
            self.local = message[2] >= 64
        return back

    def is_heard(self, message: tuple[int, ...]) -> bool:
        """Whether somebody in the room hears a note-on."""
        channel = (message[0] & 0x0F) + 1
        return self.sounds and channel in self.hears and (channel != 10 or self.drums)

    def program(self, channel: int) -> int:
        """The sound of a channel."""
        return self.programs.get(0 if self.one_sound else channel, 1)

    def sounding(self) -> set[tuple[int, int]]:
        """What was begun and not ended."""
        on: set[tuple[int, int]] = set()
        for message in self.received:
            if message[0] & 0xF0 == 0x90:
                on.add((message[0] & 0x0F, message[1]))
            elif message[0] & 0xF0 == 0x80:
                on.discard((message[0] & 0x0F, message[1]))
        return on


@dataclass
class Person:
    """Who sits there: does what is asked, when it is asked.

    ``does`` has what is done otherwise, by the step: nothing for None, a text that is typed, or keys.
    """

    does: dict[SetupStep, str | tuple[int, ...] | None] = field(default_factory=dict)
    left: tuple[int, ...] = (43, 50, 59)
    right: tuple[int, ...] = (60, 67, 74)
    answers: bool = True
    """Whether a key is pressed when something is heard."""


@dataclass
class Evening:
    """What came of it."""

    dialogue: SettingUp
    lines: list[tuple[float, str]]
    seconds: float
    over: bool
    leave: Callable[[], Reply]

    @property
    def text(self) -> str:
        return "\n".join(line for _, line in self.lines)

    def values(self) -> dict[str, str]:
        """What is to be written: '[piano] latency-ms' by its value, as text."""
        files = self.dialogue.kept.files if self.dialogue.kept else ()
        return dict(tuple(text.split(" = ", 1)) for file in files for text in file.said)  # type: ignore[misc]


class Room:
    """Pianos and a person; the dialogue's other side."""

    def __init__(self, pianos: tuple[SimulatedPiano, ...], person: Person, noise: list[FromPort], computer: bool):
        self.pianos, self.person = pianos, person
        self.played = pianos[0]
        """The one that the person sits at."""
        inputs = dict.fromkeys(port for piano in pianos for port in (piano.input, *piano.also) if port)
        noisy = dict.fromkeys(event.port for event in noise)
        outputs = tuple(piano.output for piano in pianos if piano.output)
        ports = Ports("virtual", tuple(noisy | inputs), outputs)
        partners = {piano.input: piano.output for piano in pianos}
        instruments = read_instruments()
        self.dialogue = SettingUp(
            ports, lambda found: writing_of(found, instruments, "2026-01-01"), partners.get, computer
        )
        self._order = count()
        self._heap: list[tuple[float, int, SetupEvent]] = []
        self._open: str | None = None
        self._answered_at = -1.0
        for event in noise:
            self._put(event)

    def run(self, until: float = 600.0, leave_in: SetupStep | None = None) -> Evening:
        now, step, lines = 0.0, "", []
        reply = self.dialogue.advance(0.0)
        while True:
            lines += [(now, line) for line in reply.lines]
            for deed in reply.deeds:
                self._do(now, deed)
            if self.dialogue.step != step:
                step = self.dialogue.step
                self._asked(now, step)
            if reply.wake is None or now >= until or (leave_in == step and now > 0):
                return Evening(self.dialogue, lines, now, reply.wake is None, self._leave)
            now = min([reply.wake, *(entry[0] for entry in self._heap[:1])])
            events = []
            while self._heap and self._heap[0][0] <= now:
                events.append(heapq.heappop(self._heap)[2])
            reply = self.dialogue.advance(now, events)

    def _leave(self) -> Reply:
        reply = self.dialogue.leave()
        for deed in reply.deeds:
            self._do(0.0, deed)
        return reply

    def _put(self, event: SetupEvent) -> None:
        heapq.heappush(self._heap, (event.seconds, next(self._order), event))

    def _do(self, now: float, deed: OpenOutput | ToPort) -> None:
        if isinstance(deed, OpenOutput):
            piano = self._at(deed.port)
            opens = piano.opens if piano else deed.port == COMPUTER
            self._open = deed.port if opens else None
            self._put(Opened(now + 0.4, deed.port, "" if opens else f"the MIDI port '{deed.port}' can't be opened"))
            if piano and opens:
                self._back(now, piano, IDENTITY_REQUEST)
            return
        self._put(Sent(now, deed.message))
        if (piano := self._at(self._open)) is not None:
            self._back(now, piano, deed.message)
            if deed.message[0] & 0xF0 == 0x90 and piano.is_heard(deed.message):
                self._hears(now, piano, (deed.message[0] & 0x0F) + 1)
        elif self._open == COMPUTER and deed.message[0] & 0xF0 == 0x90:
            self._hears(now, self.played, 1)

    def _at(self, output: str | None) -> SimulatedPiano | None:
        return next((piano for piano in self.pianos if output and piano.output == output), None)

    def _back(self, now: float, piano: SimulatedPiano, message: tuple[int, ...]) -> None:
        for after, returned in piano.get(message):
            self._put(FromPort(now + after, piano.input, returned))

    def _hears(self, now: float, piano: SimulatedPiano, channel: int) -> None:
        """Somebody who hears what was asked for presses a key, once a try."""
        asked = self.dialogue.step
        yes = {
            "bass sound": piano.program(channel) == 33,
            "own sound": piano.program(channel) == 1,
        }.get(asked, asked in ("sound", "bass", "clicks", "other channels"))
        if self.person.answers and yes and asked not in self.person.does and now > self._answered_at + 1.0:
            self._answered_at = now
            self._press(now + REACTION, (52,))

    def _press(self, moment: float, keys: Iterable[int], lasts: float = 0.15) -> None:
        for key in keys:
            for after, port, message in self.played.stroke(key, 0.0, lasts):
                self._put(FromPort(moment + after, port, message))

    def _asked(self, now: float, step: SetupStep) -> None:
        person, piano = self.person, self.played
        if step in person.does:
            does = person.does[step]
            if isinstance(does, str):
                self._put(Typed(now + 1.0, does))
            elif does is not None:
                self._press(now + 1.0, does, 0.5)
        elif step == "key":
            self._press(now + 1.5, (60,))
        elif step == "range":
            self._press(now + 1.5, piano.keys[:1])
            self._press(now + 4.0, piano.keys[1:])
        elif step == "pedals":
            moment = now + 1.5
            for controller, values in piano.pedals.items():
                for value in values:
                    self._put(FromPort(moment, piano.input, (0xB0 | piano.channel - 1, controller, value)))
                    moment += 0.1
        elif step in ("left hand", "right hand"):
            self._press(now + 2.0, person.left if step == "left hand" else person.right, 0.6)
        elif step == "keep":
            self._press(now + 3.0, (60,))


# one step alone

KEYS, EARS = "upright:keys", "upright:ears"


def a_desk(*, computer: bool = False, typing: bool = True) -> Desk:
    """Before a piano with its own output and a module; it is 10 s past."""
    ports = Ports("virtual", (KEYS, "other:out"), ("module:ears", EARS))
    desk = Desk(ports, computer, {KEYS: EARS}.get, typing)
    desk.found.input, desk.now = KEYS, 10.0
    return desk


def key(after: float, note: int = 60, port: str = KEYS, channel: int = 1) -> FromPort:
    return FromPort(10.0 + after, port, (0x90 | channel - 1, note, 70))


def let_go(after: float, note: int = 60) -> FromPort:
    return FromPort(10.0 + after, KEYS, (0x80, note, 0))


def typed(after: float, text: str) -> Typed:
    return Typed(10.0 + after, text)


def driven(desk: Desk, talk: Talk[Any], *events: FromPort | Typed | Opened) -> tuple[Any, float]:
    """What a talk gives, and after how many seconds, when this comes meanwhile."""
    coming = list(events)
    try:
        until = next(talk)
        while True:
            if coming and coming[0].seconds < until:
                desk.now = coming[0].seconds
                until = talk.send(coming.pop(0))
            else:
                desk.now = until
                until = talk.send(None)
    except StopIteration as ended:
        return ended.value, round(desk.now - 10.0, 6)
