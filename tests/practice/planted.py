"""Takes of which everything is known: a player goes through a chart by a route, on a human beat, with planted faults.

The beat wanders by a random walk of its tempo; notes fall near it with a spread of 8 ms. Nothing here knows how takes
are laid on charts or judged.

Conventions: beats in quarters; seconds from the start of the take.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from companion.chart.model import Form
from companion.messages import Heard
from companion.music.swing import straight_quarters, to_sounding

TOUCH = 0.008
"""Seconds, standard deviation: how far a good player's notes fall from their place."""
WANDER, HOME = 0.006, 0.02
"""How far the tempo moves in a quarter (standard deviation of its logarithm); how much of the way home it goes."""


@dataclass(frozen=True)
class Leg:
    """A stretch of the chart, and the silence before it."""

    low: float
    high: float
    pause: float = 0.0
    """Seconds."""


@dataclass(frozen=True)
class PlayedNote:
    """A note of the chart as it was played, or wasn't."""

    beat: float
    """Chart beat."""
    expected: int
    pitch: int | None
    seconds: float


@dataclass(frozen=True)
class PlantedTake:
    """A take and its truth."""

    notes: tuple[PlayedNote, ...]
    beats: tuple[tuple[float, float], ...]
    """Chart beats of the metre and their moments."""
    begins: tuple[float, ...]
    """Moments at which the legs begin."""
    more: tuple[tuple[float, int], ...] = field(default=())
    """Keys that aren't in the chart: seconds and MIDI numbers."""

    @property
    def heard(self) -> tuple[Heard, ...]:
        """What the keyboard sends."""
        struck = [(note.seconds, note.pitch) for note in self.notes if note.pitch is not None]
        events = [
            Heard(moment, status, pitch, 70 if status == 0x90 else 0)
            for seconds, pitch in (*struck, *self.more)
            for moment, status in ((seconds, 0x90), (seconds + 0.09, 0x80))
        ]
        return tuple(sorted(events, key=lambda event: (event.seconds, event.status)))

    def changed(self, index: int, pitch: int | None) -> PlantedTake:
        """The same with another pitch at one note; None leaves it out."""
        notes = list(self.notes)
        notes[index] = replace(notes[index], pitch=pitch)
        return replace(self, notes=tuple(notes))

    def with_key(self, seconds: float, pitch: int) -> PlantedTake:
        """The same with a key more."""
        return replace(self, more=(*self.more, (seconds, pitch)))

    def held(self, moment: float, by: float) -> PlantedTake:
        """The same with everything from a moment on later by some seconds."""
        notes = [replace(n, seconds=n.seconds + by) if n.seconds >= moment else n for n in self.notes]
        beats = [(beat, seconds + by if seconds >= moment - 0.03 else seconds) for beat, seconds in self.beats]
        return replace(self, notes=tuple(notes), beats=tuple(beats))


def perform(
    form: Form, legs: Sequence[Leg], *, tempo: float | None = None, ratio: float = 1.6, seed: int = 1
) -> PlantedTake:
    """Play the melody by a route.

    Parameters
    ----------
    form : Form
    legs : sequence of Leg
        Chart beats; one that begins at or below 0 brings the pickup.
    tempo : float, optional
        Quarters a minute; the form's own unless given.
    ratio : float
        Long quaver to short one.
    seed : int
    """
    chance = random.Random(seed)
    even = straight_quarters(note.beat for note in form.melody)
    usual = 60 / (tempo or form.tempo)
    compound = form.metre.compound
    pulse = float(form.metre.pulse)
    off, now = 0.0, 1.0 + usual * 2
    notes: list[PlayedNote] = []
    beats: list[tuple[float, float]] = []
    begins = []
    for leg in legs:
        now += leg.pause
        begins.append(now)
        quarters = {}
        first = math.floor(leg.low)
        for quarter in range(first, math.ceil(leg.high) + 1):
            quarters[quarter] = now
            off += chance.gauss(0, WANDER) - HOME * off
            now += usual * math.exp(off)
        shift = begins[-1] - _at(quarters, leg.low)
        quarters = {quarter: moment + shift for quarter, moment in quarters.items()}
        now = _at(quarters, leg.high)
        n = math.ceil(max(leg.low, 0) / pulse - 1e-6)
        while n * pulse < leg.high - 1e-6:
            beats.append((n * pulse, _at(quarters, n * pulse)))
            n += 1
        for note in form.melody:
            if leg.low - 1e-6 <= note.beat < leg.high - 1e-6:
                sounding = float(note.beat) if compound else to_sounding(note.beat, ratio, even)
                moment = _at(quarters, sounding) + chance.gauss(0, TOUCH)
                notes.append(PlayedNote(float(note.beat), note.pitch.midi, note.pitch.midi, moment))
    notes.sort(key=lambda one: one.seconds)
    return PlantedTake(tuple(notes), tuple(beats), tuple(begins))


def _at(quarters: dict[int, float], beat: float) -> float:
    low = min(max(math.floor(beat), min(quarters)), max(quarters) - 1)
    return quarters[low] + (beat - low) * (quarters[low + 1] - quarters[low])
