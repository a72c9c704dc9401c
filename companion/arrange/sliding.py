"""Fourths that slide in parallel by semitones, whatever the chords say, to an arrival that fits.

Conventions: a strike with ``steps`` lies so many semitones from the arrival that follows it. Source: common practice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from companion.arrange.comping import Strike
from companion.arrange.melody import Line
from companion.arrange.voicings import Voicing, clear


def slid(
    struck: Sequence[Strike],
    chosen: Sequence[Voicing | None],
    above: Line,
    under: Sequence[Sequence[int]],
    chance: random.Random,
) -> list[Voicing | None]:
    """The voicings, with those filled in that slide towards the next arrival.

    A row slides from above or below, whichever leaves the melody and the bass alone; chords that would touch them
    either way are left out.
    """
    result = list(chosen)
    n = 0
    while n < len(struck):
        if not struck[n].steps:
            n += 1
            continue
        end = next((k for k in range(n, len(struck)) if not struck[k].steps), len(struck))
        arrival = result[end] if end < len(struck) else None
        if arrival is not None:
            rows = [
                [_at(struck[k], arrival, sign, above, under[k]) for k in range(n, end)]
                for sign in chance.sample((1, -1), 2)
            ]
            result[n:end] = max((_unbroken(row) for row in rows), key=lambda row: sum(v is not None for v in row))
        n = max(end, n + 1)
    return result


def _unbroken(row: list[Voicing | None]) -> list[Voicing | None]:
    """What of a row comes after its last hole, so that it slides to the arrival without a skip."""
    start = max((k + 1 for k, voicing in enumerate(row) if voicing is None), default=0)
    return [None] * start + row[start:]


def _at(strike: Strike, arrival: Voicing, sign: int, above: Line, under: Sequence[int]) -> Voicing | None:
    """The arrival's own shape, some semitones away, or None where it would touch the melody or the bass."""
    midi = tuple(note + sign * strike.steps for note in arrival.midi)
    sounding = [n.pitch.midi for n in above.sounding(float(strike.beat), float(strike.beat + strike.length))]
    return Voicing(arrival.shape, midi, 0.0) if clear(midi, sounding, under) else None
