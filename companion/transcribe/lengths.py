"""Written lengths: how long a note is meant to last, from when its key was let go.

Conventions: beats and lengths in quarters as Fractions. A player holds a note for most of its written length and lets
go before the next; a copyist writes the length, not the gap (common practice). So a note fills the time up to the next
one unless it was let go so early that a rest is likelier: the ends that could be written are weighed by how rarely
rests are written there, and by how much of the length would have been held (``configs/capture.toml``).
"""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, log
from typing import Any

from companion.music.meter import Metre
from companion.music.played import KeyPress
from companion.music.swing import to_sounding
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.quantise import Quantisation
from companion.transcribe.rhythms import division

NEARLY_ALL = 0.92
"""Share of the time to the next note that a long note is held, neither short nor legato."""

LONGEST = 64
"""Quarters after which no rest is looked for: a longer note ends with the next one."""
EVEN_TAIL = 0.012
LIKE = 0.2
"""Share of the time to the next note within which two notes count as held alike."""


@dataclass(frozen=True)
class TranscribedNote:
    """A note of the melody as it is to be written."""

    beat: Fraction
    length: Fraction
    key: KeyPress
    doubt: float = 0.0
    """How far it was played from its place, in standard deviations."""


def notes_with_lengths(
    reading: Quantisation, metre: Metre, costs: CapturePreferences | None = None
) -> list[TranscribedNote]:
    """Beats and lengths of a line, grace notes left out.

    Parameters
    ----------
    reading : Quantisation
        As :func:`companion.transcribe.quantise.quantise` gives it.
    metre : Metre
    costs : CapturePreferences, optional
        Instead of ``configs/capture.toml``.

    Returns
    -------
    list of Written
        One voice: each ends where the next begins, or before.
    """
    placed = [(note.beat, note) for note in reading.notes if note.beat is not None]
    if not placed:
        return []
    weigher = _Weigher(reading, metre, [beat for beat, _ in placed], costs or preferences(CapturePreferences))
    ends: list[Fraction | None] = [*(beat for beat, _ in placed[1:]), None]
    held = []
    for k, (beat, note) in enumerate(placed):
        after = placed[k + 1][1].key if k + 1 < len(placed) else None
        held.append(weigher.held(beat, note.key, ends[k], after))
    means = _alike([(beat, note.key.midi) for beat, note in placed], held, metre)
    return [
        TranscribedNote(beat, weigher.length(beat, mean, end, times), note.key, note.doubt)
        for (beat, note), (mean, times), end in zip(placed, means, ends, strict=True)
    ]


def _alike(notes: Sequence[tuple[Fraction, int]], held: Sequence[float], metre: Metre) -> list[tuple[float, int]]:
    """How long each is held and how often it was played: of a phrase that comes again, the mean of all its times.

    So it is written alike, and more surely. A time at which it was held quite otherwise isn't one of them.
    """
    groups: dict[tuple[Any, ...], list[int]] = {}
    for k in range(1, len(notes) - 1):
        (before, low), (beat, midi), (after, high) = notes[k - 1 : k + 2]
        groups.setdefault((low, midi, high, beat % metre.bar, beat - before, after - beat), []).append(k)
    means = [(time, 1) for time in held]
    for (*_, gap), group in groups.items():
        for k in group:
            near = [held[j] for j in group if abs(held[j] - held[k]) < LIKE * gap]
            means[k] = (statistics.fmean(near), len(near))
    return means


def _densest(shares: Sequence[float]) -> tuple[float, float] | None:
    """The narrow range in which most shares lie, when there is one: a sequencer holds every note alike."""
    ordered = sorted(shares)
    need = ceil(0.6 * len(ordered))
    if len(ordered) < 8:
        return None
    low, high = min(((a, b) for a, b in zip(ordered, ordered[need - 1 :], strict=False)), key=lambda r: r[1] - r[0])
    return (low, high) if low > 0.3 and high < low * 1.02 else None


class _Weigher:
    def __init__(self, reading: Quantisation, metre: Metre, beats: Sequence[Fraction], costs: CapturePreferences):
        self.costs = costs.length
        self.metre, self.pulse = metre, metre.pulse
        self.ratio = reading.ratio if reading.swung and not metre.compound else 1.0
        self.map = reading.beats
        (self.low, self.high), self.tail = self.costs.held, self.costs.tail
        self.pulses: dict[int, list[int]] = {}
        for beat in beats:
            pulse = floor(beat / self.pulse)
            self.pulses.setdefault(pulse, []).append(round((beat / self.pulse - pulse) * 24))
        self.triplets = {n for n, places in self.pulses.items() if division(tuple(places)) in (3, 6)}
        shares = []
        keys = [(note.beat, note.key) for note in reading.notes if note.beat is not None]
        for (beat, key), (next_beat, after) in itertools.pairwise(keys):
            if next_beat - beat <= 2 and after.on > key.on:
                shares.append((key.off - key.on) / (after.on - key.on))
        longest = statistics.quantiles(shares, n=10)[-1] if len(shares) >= 8 else 1.0
        if (even := _densest(shares)) is not None:
            self.low, self.high, self.tail = even[0] * 0.99, even[1] * 1.01, EVEN_TAIL
            self.usual = (self.low * self.high) ** 0.5
            return
        # Somebody who plays short notes throughout doesn't mean rests.
        self.low = min(self.low, self.low / NEARLY_ALL * longest)
        within = [share for share in shares if self.low <= share <= self.high]
        self.usual = statistics.median(within) if len(within) >= 8 else (self.low * self.high) ** 0.5

    def sounding(self, beat: Fraction) -> float:
        """Where a written beat sounds; triplets are not swung."""
        straight = not self.metre.compound and floor(beat) in self.triplets
        return float(beat) if straight else to_sounding(beat, self.ratio)

    def held(self, beat: Fraction, key: KeyPress, next_beat: Fraction | None, after: KeyPress | None) -> float:
        """Sounding quarters for which a key was down."""
        if next_beat is not None and after is not None and after.on > key.on:
            whole = self.sounding(next_beat) - self.sounding(beat)
            return whole * (key.off - key.on) / (after.on - key.on)
        return self.map.beat(key.off) - self.map.beat(key.on)

    def length(self, beat: Fraction, held: float, after: Fraction | None, times: int = 1) -> Fraction:
        """The likeliest written length of a note that was held so long, in the mean of so many times."""
        narrow = times**-0.5
        low, high = (self.usual * (edge / self.usual) ** narrow for edge in (self.low, self.high))
        start = self.sounding(beat)
        best, least = Fraction(0), float("inf")
        for end, cost in self._ends(beat, held, after):
            share = max(held, 1e-6) / max(self.sounding(end) - start, 1e-6)
            beyond = log(low / share) if share < low else log(share / high) if share > high else 0.0
            if end == after and share > self.usual:
                beyond = 0.0  # held on into the next note
            cost += 0.5 * (beyond / self.tail) ** 2 if beyond < 6 * self.tail else 18.0 + 12 * (beyond / self.tail - 6)
            if cost < least:
                best, least = end - beat, cost
        return best

    def _ends(self, beat: Fraction, held: float, after: Fraction | None) -> Iterator[tuple[Fraction, float]]:
        """Where a note may end, and what that costs."""
        if after is not None:
            yield after, self._tied(after - beat)
            if after - beat <= self.pulse / 2:
                return  # nobody writes a rest for so short a gap
        last = (
            after if after is not None else Fraction(ceil(beat + Fraction(held / self.low).limit_denominator(96))) + 1
        )
        last = min(last, beat + LONGEST)
        step = self.pulse / 12
        end = (floor(beat / step) + 1) * step
        while end < last or (after is None and end == last):
            place = self._place_cost(end)
            if place is not None:
                at_bar = self.costs.at_bar * (3 if after is None else 1) if end % self.metre.bar == 0 else 0.0
                yield end, place - at_bar + self._tied(end - beat) + self._rest(beat, end, after)
            end += step

    def _tied(self, length: Fraction) -> float:
        """What a length costs that no single note head has."""
        heads = length.numerator
        while heads % 2 == 0:
            heads //= 2
        return 0.0 if heads in (1, 3) else self.costs.tied

    def _rest(self, beat: Fraction, end: Fraction, after: Fraction | None) -> float:
        if after is None:
            return 0.0
        cost = self.costs.rest if after - beat <= 2 * self.pulse else self.costs.long_rest
        return cost + (self.costs.short_rest if after - end < self.pulse / 2 or after - beat < self.pulse else 0.0)

    def _place_cost(self, end: Fraction) -> float | None:
        """What it costs that a rest begins at a place; None where none is written."""
        place, thirds = (end / self.pulse) % 1, self.metre.compound or floor(end / self.pulse) in self.triplets
        if place == 0:
            return 0.0
        if (place.denominator == 3 and thirds) or (place.denominator == 2 and not thirds):
            return self.costs.off_beat
        if place.denominator == (6 if self.metre.compound else 4) and thirds == self.metre.compound:
            return self.costs.finer
        return None
