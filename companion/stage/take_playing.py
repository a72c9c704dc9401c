"""A kept take sounds again: both hands at the moments at which they were played.

Conventions: seconds from the take's start; channels 1-16.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from companion.messages import Part
from companion.stage.clock import now
from companion.stage.link import SenderLink
from companion.stage.take import Take

BEFORE = 0.3
"""Seconds from the command to the first note."""
AFTER = 1.0
"""Seconds left for the last notes to fade."""
STEP = 0.25
"""Seconds between two looks of ``watch`` while nothing sounds."""
PLAYER_CHANNEL = 1


@dataclass(frozen=True)
class _Sounding:
    """One message at its moment."""

    seconds: float
    message: tuple[int, int, int]

    @property
    def starts(self) -> bool:
        return self.message[0] & 0xF0 == 0x90 and self.message[2] > 0


def play_take(
    take: Take,
    sound: SenderLink,
    channels: Mapping[Part, int],
    *,
    begin: float = 0.0,
    parts: frozenset[str] | None = None,
    watch: Callable[[float], None] = lambda seconds: None,
) -> None:
    """Play a take from a moment to its end, on an output that is open.

    Parameters
    ----------
    take : Take
    sound : SenderLink
        Whoever opened it ends it, and with it whatever sounds.
    channels : mapping of part to int
        The player is on channel 1.
    begin : float
        Seconds; what had begun before isn't struck.
    parts : set of str, optional
        Those that sound, 'you' for the player; all unless given.
    watch : callable
        Told the moment that is reached, at least every :data:`STEP`; what it raises ends the playing.

    Raises
    ------
    PerformanceError
        The take's file is damaged.
    """
    origin = now() + BEFORE - begin
    last = begin
    for event in _events(take, channels, parts):
        if event.seconds < begin and event.message[0] & 0xF0 != 0xB0:
            continue
        moment = max(event.seconds, begin)
        while moment - last > STEP:
            last += STEP
            sound.wait_until(origin + last)
            watch(last)
        sound.wait_until(origin + moment)
        sound.order(origin + moment, event.message)
        watch(moment)
        last = moment
    sound.wait_until(origin + last + AFTER)
    watch(max(last, take.seconds))


def _events(take: Take, channels: Mapping[Part, int], parts: frozenset[str] | None) -> list[_Sounding]:
    found = [
        _Sounding(event.seconds, (event.status & 0xF0 | PLAYER_CHANNEL - 1, event.data1, event.data2))
        for event in (take.heard() if parts is None or "you" in parts else ())
    ]
    for order in take.sounded():
        if parts is None or order.part in parts:
            message = (order.status & 0xF0 | channels.get(order.part, 1) - 1, order.data1, order.data2)
            found.append(_Sounding(order.seconds, message))
    return sorted(found, key=lambda event: (event.seconds, event.starts))
