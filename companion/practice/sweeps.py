"""Sweeps: the stretches of a take in which the chart goes on without a leap or a stop, with the player's own beat.

How the player swings is taken from their off-beat quavers, against the beat that their notes on the beat show; then all
notes tell the beat.

Conventions: beats in quarters, going on through the choruses; seconds on the take's clock; a swing ratio is the length
of the long quaver over that of the short one.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from companion.chart.model import Form
from companion.follow.roles import swings
from companion.music.played import BeatMap
from companion.music.swing import straight_quarters, to_sounding
from companion.practice.beat_curve import BeatManner, Timed, manner_of, smoothed
from companion.practice.departures import Departure, floor_to
from companion.practice.expected import SWUNG_MOST, Expected
from companion.practice.placing import TakePlace

OFF_BEAT_LOOSE, FOLLOWED_LOOSE = 1.6, 1.6
"""How many times as far as others a swung quaver may lie from its place; a beat as followed from the player's own."""
MEDIUM_SWING, LEAST_SHOWN = 1.55, 6
"""Ratio where the player doesn't show theirs; off-beat quavers from which theirs is known."""
FOLLOWED_MANNER = BeatManner(0.018, 2e-4)
"""How a player keeps time of whom only the beats are known that were foreseen for them, which are smoother."""


@dataclass(frozen=True)
class Sweep:
    """A stretch in which the chart went on without a leap or a stop."""

    low: float
    high: float
    """Beats through the choruses; ``high`` excluded."""
    beats: tuple[tuple[float, float], ...]
    """The player's beats of the metre and their moments, both rising; at least two, the last not before ``high``."""
    held: tuple[tuple[float, float], ...] = ()
    """Beats before which they held back, and for how many seconds."""
    free: tuple[tuple[float, float], ...] = ()
    """Where they played something else than what is written."""

    def map(self) -> BeatMap:
        """Beats and moments."""
        return BeatMap(self.beats)


def swept(
    form: Form,
    expected: Sequence[Expected],
    placed: Sequence[TakePlace],
    left: Sequence[Departure],
    bounds: tuple[float, float],
) -> tuple[Sweep, ...]:
    """The sweeps of a take.

    Parameters
    ----------
    expected : sequence of Expected
        Once through the form.
    placed : sequence of TakePlace
        At least two, in order of time.
    left : sequence of Departure
    bounds : (low, high)
        Where the first sweep begins and the last one ends, in beats.
    """
    stretches = [placed[a:b] for a, b in pairwise([0, *(cut.after + 1 for cut in left), len(placed)])]
    lows, highs = [bounds[0], *(cut.land for cut in left)], [*(cut.leave for cut in left), bounds[1]]
    ratio = MEDIUM_SWING if swings(form) else 1.0
    even = straight_quarters(Fraction(note.beat).limit_denominator(960) for note in expected)
    timed = [_timed(form, stretch, ratio, even) for stretch in stretches]
    manner = _manner(stretches, timed)
    if swings(form):
        ratio = _swing_of(form, stretches, timed, manner, even)
        timed = [_timed(form, stretch, ratio, even) for stretch in stretches]
        manner = _manner(stretches, timed)
    usual = _usual_quarter(placed)
    return tuple(
        _sweep(form, stretch, notes, low, max(high, low + 1e-3), manner, usual)
        for stretch, notes, low, high in zip(stretches, timed, lows, highs, strict=True)
    )


def _manner(stretches: Sequence[Sequence[TakePlace]], timed: Sequence[Sequence[Timed]]) -> BeatManner:
    """How the player keeps time, by the notes that are known."""
    known = [notes for stretch, notes in zip(stretches, timed, strict=True) if not any(p.free for p in stretch)]
    return manner_of(known) if any(len(notes) >= LEAST_SHOWN for notes in known) else FOLLOWED_MANNER


def _usual_quarter(placed: Sequence[TakePlace]) -> float:
    """Seconds a quarter, as most steps have it."""
    steps = [(a, b) for a, b in pairwise(placed) if not b.leapt and b.beat > a.beat]
    return statistics.median((b.seconds - a.seconds) / (b.beat - a.beat) for a, b in steps) if steps else 0.5


def _timed(form: Form, stretch: Sequence[TakePlace], ratio: float, even: Collection[int]) -> list[Timed]:
    """The places of a stretch where they sound with so much swing."""
    length = float(form.length)
    found: list[Timed] = []
    for place in stretch:
        chorus = max(0, math.floor(place.written / length + 1e-9)) * length
        sounding = place.beat if place.free else chorus + to_sounding(place.written - chorus, ratio, even)
        loose = FOLLOWED_LOOSE if place.free else OFF_BEAT_LOOSE if ratio > 1 and _off_beat(place.written) else 1.0
        if not found or (sounding > found[-1].beat + 1e-6 and place.seconds > found[-1].seconds):
            found.append(Timed(sounding, place.seconds, loose))
    return found


def _off_beat(beat: float) -> bool:
    return abs(beat % 1 - 0.5) < 1e-6


def _swing_of(
    form: Form,
    stretches: Sequence[Sequence[TakePlace]],
    timed: Sequence[Sequence[Timed]],
    manner: BeatManner,
    even: Collection[int],
) -> float:
    """How this player swings: by their off-beat quavers against the beat that their other notes show."""
    shown = []
    for stretch, notes in zip(stretches, timed, strict=True):
        on_beat = [note for note in notes if note.loose == 1.0]
        if len(on_beat) < 4:
            continue
        low, high = math.floor(notes[0].beat), math.ceil(notes[-1].beat)
        curve = smoothed(on_beat, [float(beat) for beat in range(low, high + 1)], manner, float(form.metre.pulse))
        for place in stretch:
            quarter = math.floor(place.written)
            if place.free or not _off_beat(place.written) or quarter % int(form.length) in even:
                continue
            if 0 <= quarter - low < len(curve.seconds) - 1:
                here, there = curve.seconds[quarter - low : quarter - low + 2]
                shown.append((place.seconds - here) / (there - here))
    if len(shown) < LEAST_SHOWN:
        return MEDIUM_SWING
    at = min(max(statistics.median(shown), 0.5), SWUNG_MOST / (SWUNG_MOST + 1))
    return at / (1 - at)


def _sweep(
    form: Form,
    stretch: Sequence[TakePlace],
    notes: Sequence[Timed],
    low: float,
    high: float,
    manner: BeatManner,
    usual: float,
) -> Sweep:
    """One sweep with its beats of the metre."""
    pulse = float(form.metre.pulse)
    first = math.ceil(low / pulse - 1e-6)
    last = max(math.ceil(high / pulse - 1e-6), first + 1)
    if len(notes) == 1:
        notes = [notes[0], Timed(notes[0].beat + 1.0, notes[0].seconds + usual, 4.0)]
    curve = smoothed(notes, [n * pulse for n in range(first, last + 1)], manner, pulse)
    beats = tuple(zip(curve.beats, curve.seconds, strict=True))
    return Sweep(low, high, beats, curve.held, tuple(_free(stretch, low, high, pulse)))


def _free(stretch: Sequence[TakePlace], low: float, high: float, pulse: float) -> list[tuple[float, float]]:
    """The spans of beats in which something else was played."""
    found = []
    runs = [(free, list(group)) for free, group in groupby(stretch, key=lambda place: place.free)]
    for n, (free, run) in enumerate(runs):
        if free:
            start = low if n == 0 else max(run[0].beat, low)
            end = high if n == len(runs) - 1 else floor_to(runs[n + 1][1][0].written, pulse)
            found.append((start, max(end, start)))
    return found
