"""Signals: what the player tells the companion by keys, pedals and switches is taken out of what they play.

:class:`Signals` stands before everything else: it takes each message of the keyboard once and gives back what of it is
playing, and what was wished. A message that tells something is followed by nobody, sounded nowhere and kept in no take;
the take has the wish. It reads no clock: live it is asked again at the moment that it names, in a replay by
:func:`sifted`.

A key tells when it is struck alone: no other key near it shortly after, and no playing near it before. So a run or a
glissando that goes to the end of the keyboard is playing, with its first keys handed on as soon as that is clear. Of
two keys struck together the firmer is meant, if it is clearly so; else neither. Where a key was taught that lies close
to the player's own notes, these make no difference; nor does how long a key is held, nor what the other hand and the
pedals do. The same struck twice in haste is done once. A pedal or switch tells as it goes down.

Conventions: seconds on the rehearsal's clock; MIDI numbers, controllers and velocities 0-127, programs from 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from companion.messages import Heard, Wish, WishName
from companion.preferences import preferences
from companion.preferences.signals import SignalPreferences
from companion.stage.signal_keys import SignalTable

CONTROLLER, PROGRAM = 0xB0, 0xC0
DOWN, UP = 64, 40
"""Values from which a switch is on (MIDI 1.0), and under which it has come up: a pedal's way is not smooth."""
SEVERAL = 3
"""Keys near each other at once that are no press gone astray."""
STEPS: tuple[WishName, ...] = ("faster", "slower")
"""What may be meant several times in a row."""


@dataclass
class _Attempt:
    """Signal keys struck together, until it is clear whether they tell something."""

    due: float
    """When it is clear, unless more comes before."""
    presses: list[Heard] = field(default_factory=list)
    releases: list[Heard] = field(default_factory=list)

    def is_near(self, key: int, near: int) -> bool:
        return any(abs(press.data1 - key) <= near for press in self.presses)

    def has(self, key: int) -> bool:
        return any(press.data1 == key for press in self.presses)


class Signals:
    """Takes signals out of what is played.

    Parameters
    ----------
    table : SignalTable, optional
        What tells what; nothing unless given.
    """

    def __init__(self, table: SignalTable | None = None) -> None:
        self.table = table or SignalTable()
        self._press = preferences(SignalPreferences).press
        self._attempts: list[_Attempt] = []
        self._taken: set[int] = set()
        """Signal keys that are down, of which nobody else knows."""
        self._played: dict[int, float] = {}
        """When each key was played last."""
        self._on: set[int] = set()
        """Pedals and switches that are down."""
        self._done: dict[WishName, float] = {}
        """When each was pressed last."""

    @property
    def due(self) -> float | None:
        """When :meth:`ripen` will have something to say if nothing is heard before; None: never."""
        return min((attempt.due for attempt in self._attempts), default=None)

    def hear(self, event: Heard) -> list[Heard | Wish]:
        """Take a message, in order of time.

        Returns
        -------
        list of Heard and Wish
            What of it is playing and what is wished, in order of time. The first keys of what turned out to be a run
            come with the message by which that was clear, at its moment.
        """
        found: list[Heard | Wish] = [*self.ripen(event.seconds)]
        if event.status == PROGRAM:
            wish = self.table.programs.get(event.data1)
            return found + (self._told(wish, event.seconds, event.seconds) if wish else [])
        if event.status == CONTROLLER:
            return found + self._controlled(event)
        if event.is_note_on:
            return found + self._struck(event)
        return found + self._let_go(event)

    def ripen(self, now: float) -> list[Wish]:
        """What is clear by now, in seconds, because nothing more came."""
        ripe = sorted((a for a in self._attempts if a.due <= now), key=lambda attempt: attempt.due)
        self._attempts = [attempt for attempt in self._attempts if attempt.due > now]
        return [wish for attempt in ripe for wish in self._meant(attempt)]

    # Keys

    def _struck(self, event: Heard) -> list[Heard | Wish]:
        key, now = event.data1, event.seconds
        alone = key in self.table.close
        uncertain = [] if alone else [a for a in self._attempts if not any(map(a.has, self.table.close))]
        attempt = next((a for a in uncertain if a.is_near(key, self._press.near)), None)
        if key not in self.table.keys:
            return [*(self._played_after_all(attempt, now) if attempt else ()), self._pass_on(event)]
        if not alone and self._is_in_a_run(event):
            return [*(self._played_after_all(attempt, now) if attempt else ()), self._pass_on(event)]
        attempt = attempt or next((a for a in self._attempts if a.has(key)), None)
        if attempt is None:
            self._attempts.append(_Attempt(now + self._press.alone_ms / 1000, [event]))
        elif attempt.has(key):  # twice in haste
            attempt.presses.append(event)
        elif len({press.data1 for press in attempt.presses}) + 1 >= SEVERAL:
            return [*self._played_after_all(attempt, now), self._pass_on(event)]
        else:
            attempt.presses.append(event)
            attempt.due = now + self._press.alone_ms / 1000
        self._taken.add(key)
        return []

    def _is_in_a_run(self, event: Heard) -> bool:
        since = event.seconds - self._press.run_ms / 1000
        near = range(event.data1 - self._press.near, event.data1 + self._press.near + 1)
        return any(self._played.get(key, since) > since for key in near)

    def _let_go(self, event: Heard) -> list[Heard | Wish]:
        if event.data1 not in self._taken:
            return [event]
        self._taken.discard(event.data1)
        for attempt in self._attempts:
            if attempt.has(event.data1):
                attempt.releases.append(event)
        return []

    def _pass_on(self, event: Heard) -> Heard:
        self._played[event.data1] = event.seconds
        self._taken.discard(event.data1)
        return event

    def _played_after_all(self, attempt: _Attempt, now: float) -> list[Heard]:
        """Hand on what was held back, at this moment."""
        self._attempts.remove(attempt)
        both = sorted([*attempt.presses, *attempt.releases], key=lambda event: event.seconds)
        return [self._pass_on(replace(e, seconds=now)) if e.is_note_on else replace(e, seconds=now) for e in both]

    def _meant(self, attempt: _Attempt) -> list[Wish]:
        firmest = max(attempt.presses, key=lambda press: press.data2)
        others = [press for press in attempt.presses if press.data1 != firmest.data1]
        if any(other.data2 > self._press.brushed * firmest.data2 for other in others):
            return []
        if firmest.data2 < self._press.lightest:
            return []
        pressed = next(press.seconds for press in attempt.presses if press.data1 == firmest.data1)
        return self._told(self.table.keys[firmest.data1], pressed, attempt.due)

    # Pedals and switches

    def _controlled(self, event: Heard) -> list[Heard | Wish]:
        wish = self.table.controllers.get(event.data1)
        if wish is None:
            return [event]
        if event.data2 < UP:
            self._on.discard(event.data1)
        elif event.data2 >= DOWN and event.data1 not in self._on:
            self._on.add(event.data1)
            return [*self._told(wish, event.seconds, event.seconds)]
        return []

    def _told(self, wish: WishName, pressed: float, seconds: float) -> list[Wish]:
        """A wish at a moment, unless it is the same once more."""
        apart = (self._press.step_ms if wish in STEPS else self._press.once_ms) / 1000
        if pressed - self._done.get(wish, float("-inf")) < apart:
            return []
        self._done[wish] = pressed
        return [Wish(seconds, wish)]


def sifted(performance: Sequence[Heard | Wish], signals: Signals, until: float = float("inf")) -> list[Heard | Wish]:
    """A whole performance, its signals taken out; in order of time, up to a moment in seconds.

    What comes out up to any moment depends on nothing that comes later. Wishes that are in it already stay.
    """
    found: list[Heard | Wish] = []
    for event in performance:
        if event.seconds > until:
            break
        found += [*signals.ripen(event.seconds), event] if isinstance(event, Wish) else signals.hear(event)
    return [*found, *signals.ripen(until)]
