"""The whole dialogue, as a plain object: events and time in, lines and messages out.

It is driven like a rehearsal: ``advance(now, events)`` gives what is to be done and said, and when it wants to be
called next. Cutting one advance in two changes nothing. Whatever happens, :meth:`SettingUp.leave` ends what sounds and
puts back what was tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from companion.errors import DeviceError
from companion.ports.choice import Ports
from companion.ports.setup.desk import (
    CONTROLLER,
    NOTE_OFF,
    NOTE_ON,
    PROGRAM,
    SYSTEM,
    Desk,
    Findings,
    FromPort,
    Opened,
    Reply,
    Sent,
    SetupEvent,
    SetupStep,
    Skipped,
    Talk,
    Typed,
)
from companion.ports.setup.identity import read_identity
from companion.ports.setup.keys import find_keyboard, find_range, find_span
from companion.ports.setup.local import offer_local
from companion.ports.setup.pedals import find_pedals
from companion.ports.setup.review import Writing, review
from companion.ports.setup.sounds import GRAND, find_channels, find_sound

CHANNEL_MESSAGES = (NOTE_OFF, NOTE_ON, CONTROLLER)


class SettingUp:
    """The dialogue.

    Parameters
    ----------
    ports : Ports
        Those there are, without the ones that only pass messages on.
    writing : callable
        What would be written of some findings.
    partner : callable
        The output of the instrument that an input belongs to, or None.
    computer : bool
        Whether the computer has a sound of its own.
    typing : bool
        Whether anything can be typed at the computer.
    """

    def __init__(
        self,
        ports: Ports,
        writing: Callable[[Findings], Writing],
        partner: Callable[[str], str | None],
        computer: bool = False,
        typing: bool = True,
    ):
        self._desk = Desk(ports, computer, partner, typing)
        self._writing = writing
        self._talk = self._whole()
        self._wake: float | None = None
        self._begun = False
        self.kept: Writing | None = None
        """What is to be written, once it is over; None: nothing."""
        self.trouble: DeviceError | None = None
        """Why it couldn't go on, once it is over."""

    @property
    def step(self) -> SetupStep:
        """What is being asked or tried."""
        return self._desk.step

    @property
    def found(self) -> Findings:
        """What is known so far."""
        return self._desk.found

    def advance(self, now: float, events: Sequence[SetupEvent] = ()) -> Reply:
        """Go on to a moment.

        Parameters
        ----------
        now : float
        events : sequence
            What has come since the last call, in order of time, none of it later than ``now``.
        """
        if not self._begun:
            self._begun = True
            self._desk.now = events[0].seconds if events else now
            self._go_on(None)
        for event in events:
            self._until(event.seconds)
            self._take(event)
        self._until(now)
        return self._reply()

    def leave(self) -> Reply:
        """Break off: end what sounds, and put back what was tried. Nothing is kept."""
        self._talk.close()
        self._wake, self.kept = None, None
        self._desk.end_notes()
        self._put_back()
        return self._reply()

    def _whole(self) -> Talk[None]:
        desk = self._desk
        skips = "Enter" if desk.typing else "Waiting"
        desk.say(f"About a minute, at the piano. {skips} skips a step; Ctrl-C leaves everything as it was.")
        yield from find_keyboard(desk)
        for steps in self._steps():
            try:
                yield from steps
            except Skipped:
                desk.end_notes()
                desk.say("   skipped")
        self.kept = yield from review(desk, self._writing)
        if self.kept is None:
            self._put_back()
        desk.step = "over"

    def _steps(self) -> Iterator[Talk[None]]:
        desk = self._desk
        yield find_range(desk)
        yield find_pedals(desk)
        yield find_sound(desk)
        yield find_channels(desk)
        yield offer_local(desk)
        desk.say("6  Your hands, comfortably: it is no contest, and pain means stop.")
        yield find_span(desk, "left")
        yield find_span(desk, "right")

    def _put_back(self) -> None:
        desk = self._desk
        if desk.owes_local:
            desk.switch_local(True)
            desk.owes_local = False
        if desk.owes_program is not None and desk.output == desk.found.output:
            desk.send(PROGRAM, desk.owes_program, GRAND - 1)
            desk.owes_program = None

    def _until(self, moment: float) -> None:
        """Let the moments pass that the dialogue waits for."""
        while self._wake is not None and self._wake <= moment:
            self._desk.now = max(self._desk.now, self._wake)
            self._go_on(None)
        self._desk.now = max(self._desk.now, moment)

    def _take(self, event: SetupEvent) -> None:
        if isinstance(event, Sent):
            if event.message[0] & 0xF0 in CHANNEL_MESSAGES:
                self._desk.echo.sent(event.seconds, event.message)
        elif isinstance(event, (Typed, Opened)) or self._is_theirs(event):
            self._go_on(event)

    def _is_theirs(self, event: FromPort) -> bool:
        """Whether a message is something that the player did; an identity is kept on the way."""
        message, found = event.message, self._desk.found
        if message[0] >= SYSTEM:
            if event.port == found.input:
                found.identity = read_identity(message) or found.identity
            return False
        if len(message) != 3 or message[0] & 0xF0 not in CHANNEL_MESSAGES or max(message[1:]) > 0x7F:
            return False
        if found.input is not None and event.port != found.input:
            return False
        return not self._desk.echo.is_copy(event.seconds, message)

    def _go_on(self, event: FromPort | Typed | Opened | None) -> None:
        if self._desk.step == "over":
            return
        try:
            self._wake = self._talk.send(event)
        except StopIteration:
            self._wake, self._desk.step = None, "over"
        except DeviceError as error:
            self._wake, self._desk.step, self.trouble = None, "over", error

    def _reply(self) -> Reply:
        reply = Reply(tuple(self._desk.deeds), tuple(self._desk.lines), self._wake)
        self._desk.deeds, self._desk.lines = [], []
        return reply
