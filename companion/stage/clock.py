"""The live clock, and how a port's time stamps are laid on it.

Conventions: seconds. :func:`now` is one clock for all processes of the machine: on Linux and macOS the one that
``time.monotonic`` reads, on Windows the finer performance counter.

RtMidi stamps each message when it reaches the driver, before Python runs, but only tells the time since the message
before. :class:`StampClock` adds these up and lays the sum on the clock: the moment at which Python got to a message
is never early, sometimes late, so the smallest difference between the two over the last few seconds is the offset.
Because only recent messages count, a drift between the two clocks is followed: at 100 millionths it costs 2 ms at
most. The same minimum filter serves to set clocks over a network (Paxson, On calibrating measurements of packet
transit times, SIGMETRICS 1998).
"""

from __future__ import annotations

import time
from collections import deque

now = time.perf_counter

WINDOW = 20.0
"""Seconds for which a message counts in the estimate of the offset."""
FEWEST, MOST = 4, 64
"""Messages in the estimate: at least, however old, and at most."""


class StampClock:
    """Lays the stamps of one open port on the live clock.

    >>> clock = StampClock()
    >>> clock.seconds(0.0, 100.002), clock.seconds(0.5, 100.500), round(clock.seconds(0.5, 101.009), 3)
    (100.002, 100.5, 101.0)
    """

    def __init__(self) -> None:
        self._sum = 0.0
        self._last = float("-inf")
        self._recent: deque[tuple[float, float]] = deque(maxlen=MOST)

    def seconds(self, delta: float, arrival: float) -> float:
        """The moment of a message.

        Parameters
        ----------
        delta : float
            Seconds since the port's message before, as RtMidi tells them (0 for the first).
        arrival : float
            :func:`now` when Python got to it.

        Returns
        -------
        float
            Its moment by :func:`now`: never after the arrival, and never before the message before.
        """
        self._sum += max(0.0, delta)
        self._recent.append((arrival, arrival - self._sum))
        while len(self._recent) > FEWEST and self._recent[0][0] < arrival - WINDOW:
            self._recent.popleft()
        offset = min(difference for _, difference in self._recent)
        self._last = min(arrival, max(self._last, self._sum + offset))
        return self._last
