"""The beat clock of a rehearsal: which beat is sounded next, which was the last, and when the next is due.

Beats are sounded one after the other. What lies between two of them is laid between the moment of the one and the
moment foreseen for the next, in proportion. The clock foresees nothing: it is told moments, and holds them to the order
of time, so that no beat comes before what has been sounded. Once the last chord is struck, what is due next is its end.

Conventions: seconds on the rehearsal's clock; beats in quarters from the first downbeat, going on through the choruses;
speed in quarters a second.
"""

from __future__ import annotations

from math import ceil, inf

from companion.messages import TINY

CLOSEST = 0.25
"""Beats of the metre between two soundings, at least."""


class BeatClock:
    """The beats of one rehearsal.

    Parameters
    ----------
    pulse : float
        Quarters from one beat of the metre to the next.
    """

    def __init__(self, pulse: float) -> None:
        self._pulse = pulse
        self._next: float | None = None
        self._last: tuple[float, float] | None = None
        self._due: float | None = None
        self._waits_at = inf
        self._closes: float | None = None
        self._latest = 0.0
        """When the last chord is over if it is held as long as it is written."""

    # What is asked

    @property
    def next(self) -> float | None:
        """The beat to be sounded next; None while it isn't known where the player is."""
        return self._next

    @property
    def last(self) -> float | None:
        """The beat sounded last; before any, and after going elsewhere, the one before the next."""
        return None if self._last is None else self._last[0]

    @property
    def sounded_at(self) -> float | None:
        """The moment of :attr:`last`."""
        return None if self._last is None else self._last[1]

    @property
    def due(self) -> float | None:
        """When the next beat is due; infinity where it waits, None where that isn't foreseen."""
        return inf if self._next is not None and self._due is not None and self._waits_at <= self._next else self._due

    @property
    def closes(self) -> float | None:
        """When the last chord, which sounds, is over; None before it is struck."""
        return self._closes

    def moment(self, beat: float) -> float:
        """When a place up to the next beat sounds; with the last what lies on it; infinity where it isn't foreseen."""
        if self._last is None or self._next is None:
            return inf
        last, at = self._last
        if beat <= last or self._next <= last:  # however long the next is waited for
            return at
        if self._due is None or beat >= self._waits_at:
            return inf
        return at + (beat - last) / (self._next - last) * (max(self._due, at) - at)

    def place(self, now: float, speed: float) -> float | None:
        """How far the beats have come by now: between the last and the next; None before there are two."""
        if self._last is None or self._next is None:
            return None
        return min(self._last[0] + (now - self._last[1]) * speed, self._next)

    # What is told

    def begin(self, beat: float, lead: float) -> float:
        """Begin so many quarters before a beat, or as much earlier as makes whole beats; where that is."""
        self._next = beat - ceil(lead / self._pulse - TINY) * self._pulse
        return self._next

    def renumber(self, beats: float) -> None:
        """The same beats are called by numbers so much higher from now on."""
        if self._next is not None:
            self._next += beats
        if self._last is not None:
            self._last = (self._last[0] + beats, self._last[1])

    def go_to(self, place: float, seconds: float, speed: float) -> None:
        """Go on elsewhere: with the first beat from a place on, as if the one before it had been sounded in time.

        ``seconds`` is the moment at which the place is reached.
        """
        self._next = ceil(place / self._pulse - TINY) * self._pulse
        self._last = (self._next - self._pulse, seconds - self._pulse / speed)

    def foresee(self, moment: float, earliest: float, speed: float, waits_at: float = inf) -> None:
        """The next beat is due at a moment; not before ``earliest``, nor too soon after the last beat.

        From a place ``waits_at`` on nothing sounds until more is foreseen; what lies before it sounds in time.
        """
        if self._last is not None:
            earliest = max(earliest, self._last[1] + CLOSEST * self._pulse / speed)
        self._due, self._waits_at = max(moment, earliest), waits_at

    def wait(self) -> None:
        """Nothing is due for now."""
        self._due = None

    def sound(self, seconds: float) -> float:
        """The next beat is sounded at a moment; the one after it."""
        assert self._next is not None
        self._last = (self._next, seconds)
        self._next += self._pulse
        return self._next

    def close(self, until: float, speed: float) -> None:
        """The beat sounded last is the last chord's: what comes next is its end, at a beat, by the speed of now."""
        assert self._last is not None
        beat, seconds = self._last
        self._next = until
        self._closes = self._latest = seconds + (until - beat) / speed

    def let_go(self, moment: float) -> None:
        """The last chord is over at a moment."""
        self._closes = moment

    def hold_on(self) -> None:
        """The last chord is held as long as it is written."""
        self._closes = self._latest
