"""A bar that was begun again after a note or two, told from keys too many before or after a pause.

Laid note by note, whoever plays the beginning of a bar, stops, and plays it once more has notes too many on one side of
a time in which they held back. What tells it is that those notes are the bar's own first ones, in their order: then the
player held back to begin again, and none of them was a slip.

Conventions: beats in quarters, going on through the choruses; seconds on the take's clock; MIDI numbers.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from companion.chart.model import Form
from companion.music.played import BeatMap
from companion.practice.alignment import Alignment
from companion.practice.expected import expected_between
from companion.practice.judging import OCTAVE

HELD_LEAST = 0.4
"""Seconds for which one has to have held back."""
EARLY = 0.1
"""Quarters before a bar line at which its first note may come."""


@dataclass(frozen=True)
class BegunAgain:
    """A bar that was begun again."""

    start: float
    """Its first beat, through the choruses."""
    share: float
    """How much of its notes had been played before, 0-1."""


@dataclass(frozen=True)
class _Pause:
    """Where the player held back, or stopped and went on where they had been."""

    moment: float
    """When they went on."""
    seconds: float
    beat: float
    """Where, through the choruses."""
    tempo: float
    """Quarters a minute."""


def bars_begun_again(
    form: Form, alignment: Alignment, parts: Collection[str]
) -> tuple[Alignment, dict[float, BegunAgain]]:
    """The alignment with the notes that were played once more forgiven, and where that was.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    parts : collection of str
        The player's.

    Returns
    -------
    tuple of Alignment and dict
        By the moment when the player went on: the bar that they began again.
    """
    judged = [list(notes) for notes in alignment.judged]
    found: dict[float, BegunAgain] = {}
    for pause in _pauses(form, alignment):
        start, end = _bar_around(form, pause.beat)
        bar = (end - start) * 60 / pause.tempo
        low, high = pause.moment - pause.seconds - bar, pause.moment + bar
        extra = [
            (n, k)
            for n, notes in enumerate(judged)
            for k, note in enumerate(notes)
            if note.kind == "extra" and note.seconds is not None and low <= note.seconds <= high
        ]
        wanted = [one.pitch for one in expected_between(form, parts, start - EARLY, end - EARLY)]
        pitches = [judged[n][k].pitch or 0 for n, k in extra]
        if pitches and _are_its_first(pitches, wanted):
            found[pause.moment] = BegunAgain(start, len(pitches) / len(wanted))
            for n, k in extra:
                judged[n][k] = replace(judged[n][k], forgiven=True)
    return replace(alignment, judged=tuple(map(tuple, judged))), found


def _pauses(form: Form, alignment: Alignment) -> list[_Pause]:
    found = []
    for sweep in alignment.sweeps:
        moments = sweep.map()
        for beat, by in sweep.held:
            if by >= HELD_LEAST:
                found.append(_Pause(moments.seconds(beat), by, beat, _tempo_from(moments, beat)))
    for move, sweep in zip(alignment.moves, alignment.sweeps[1:], strict=True):
        if move.from_beat == move.to_beat and move.pause >= HELD_LEAST:
            found.append(_Pause(move.seconds, move.pause, sweep.low, _tempo_from(sweep.map(), sweep.low)))
    return found


def _tempo_from(moments: BeatMap, beat: float) -> float:
    """The tempo from a beat on: in the time before it the player held back."""
    return moments.tempo(beat + 0.5)


def _are_its_first(pitches: Sequence[int], wanted: Sequence[int]) -> bool:
    """Whether pitches are the first of a bar, in order; in any octave."""
    if len(pitches) > len(wanted):
        return False
    return all((pitch - own) % OCTAVE == 0 for pitch, own in zip(pitches, wanted, strict=False))


def _bar_around(form: Form, beat: float) -> tuple[float, float]:
    """From where to where the bar of a beat goes, through the choruses."""
    length = float(form.length)
    chorus = max(0, math.floor(beat / length + 1e-9)) * length
    edges = [*map(float, form.bars), length]
    n = min(max(bisect_right(edges, beat - chorus + 1e-6), 1), len(edges) - 1)
    return edges[n - 1] + chorus, edges[n] + chorus
