"""Gestures: what the player tells by playing itself: that this is the last time, and when a last chord ends.

The last time is told by a pedal that goes down before a bar line and up after it, within two bars; so a pedal held
through a soft passage tells nothing. It sounds as ever meanwhile; what is for telling alone never gets here
(:mod:`companion.stage.signals`). Which pedal it is stands in ``configs/signals.toml``.
"""

from __future__ import annotations

from companion.messages import Heard
from companion.preferences import preferences
from companion.preferences.signals import DAMPER, SignalPreferences

NOTE_OFF, NOTE_ON, CONTROLLER = 0x80, 0x90, 0xB0
DOWN = 64
"""A switch is on from this value (MIDI 1.0)."""


class Gestures:
    """Watches the player's pedals and keys.

    Parameters
    ----------
    on : bool
        Whether anything can be told.
    """

    def __init__(self, on: bool) -> None:
        self.pedal = preferences(SignalPreferences).last_time.pedal if on else 0
        self._bar_lines = 0
        """Bar lines that have gone by."""
        self._pedal_down: int | None = None
        self._keys: set[int] = set()
        self._damper = False

    def bar_line(self) -> None:
        """A bar line goes by."""
        self._bar_lines += 1

    def tells(self, event: Heard) -> bool:
        """Take what was heard; whether it says that this is the last time."""
        if event.is_note_on:
            self._keys.add(event.data1)
        elif event.status in (NOTE_OFF, NOTE_ON):
            self._keys.discard(event.data1)
        elif event.status == CONTROLLER and event.data1 == DAMPER:
            self._damper = event.data2 >= DOWN
        return event.status == CONTROLLER and event.data1 == self.pedal != 0 and self._over_one_bar_line(event.data2)

    def _over_one_bar_line(self, value: int) -> bool:
        if value >= DOWN:
            self._pedal_down = self._bar_lines if self._pedal_down is None else self._pedal_down
            return False
        down, self._pedal_down = self._pedal_down, None
        return down is not None and self._bar_lines == down + 1

    @property
    def holding(self) -> bool:
        """Whether the player holds anything, by key or damper pedal."""
        return bool(self._keys) or self._damper
