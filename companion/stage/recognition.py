"""Whether a chorus after a solo is one more solo or the head, by how much of the melody is heard in it.

Players miscount choruses of solos. In the first bars of a chorus after a solo the written melody's notes are looked for
among those heard: few of them found means one more chorus of solos, most of them the head out.

Conventions: beats in quarters through the choruses. A note of the melody is found when its pitch class was struck near
it. Over the same changes a soloist finds one in six by chance, and one soloist in twenty more than 45 per cent; who
plays the head finds nine in ten, and with many slips hardly ever less than half (the built-in players, all our tunes).
"""

from __future__ import annotations

from companion.arrange.events import Stretch
from companion.messages import TINY
from companion.preferences.following import SoloOrHead

NEAR = 0.45
"""Beats from its written place within which a note is found."""
ENOUGH = 5
"""Notes written, and notes heard, below which nothing is concluded."""
BUSY = 2.0
"""Ratio of notes heard to notes written above which the player isn't playing the head."""


class Recognition:
    """What was heard of late, against the melody.

    Parameters
    ----------
    likes : SoloOrHead
        What says which it is.
    """

    def __init__(self, likes: SoloOrHead) -> None:
        self._likes = likes
        self._heard: list[tuple[float, int]] = []

    def hear(self, beat: float, pitch: int) -> None:
        """The player struck a key (MIDI number) at a place."""
        self._heard = [*self._heard[-127:], (beat, pitch % 12)]

    def played(self, stretch: Stretch, beat: float) -> str | None:
        """'solos' or 'head', by what was heard from the start of a stretch up to a bar line; None: it can't be said."""
        bars = bars_gone(stretch, beat)
        start = float(stretch.start)
        melody = [(start + float(n.beat), n.pitch.midi % 12) for n in stretch.form.melody if 0 <= n.beat < beat - start]
        heard = [(at, pc) for at, pc in self._heard if start - NEAR <= at < beat]
        if min(len(melody), len(heard)) < ENOUGH:
            return None
        found = sum(any(pc == p and abs(at - b) < NEAR for at, pc in heard) for b, p in melody) / len(melody)
        if found <= self._likes.solo:
            return "solos" if bars >= self._likes.soonest else None
        return "head" if found >= self._likes.head and len(heard) <= BUSY * len(melody) else None


def bars_gone(stretch: Stretch, beat: float) -> int:
    """Bars from the start of a stretch to a beat on a bar line; 0 elsewhere."""
    at = beat - float(stretch.start)
    return next((n for n, bar in enumerate(stretch.form.bars) if abs(float(bar) - at) < TINY), 0)
