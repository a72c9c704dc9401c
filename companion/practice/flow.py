"""Where a take stopped flowing: where the player held back, stopped, went back, or left bars out.

Conventions: beats in quarters, in sweeps through the choruses; seconds on the take's clock.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

from companion.chart.model import Form
from companion.practice.alignment import Alignment
from companion.practice.begun_again import BegunAgain
from companion.practice.expected import expected_between
from companion.practice.findings import Finding, bar_and_chorus, place_words
from companion.practice.judging import JudgedNote

HESITATED = 0.5
"""Seconds from which holding back is told: shorter than that, a phrase may breathe."""

STAYED = 0.5
"""Seconds of silence besides the rest of a bar from which the player may have gone through it before they went back."""


def flow_findings(
    form: Form, alignment: Alignment, parts: Collection[str], again: Mapping[float, BegunAgain] | None = None
) -> list[tuple[float, Finding]]:
    """What broke the flow, each with its moment.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    parts : collection of str
        The player's.
    again : mapping, optional
        Bars that were begun again after holding back (:mod:`companion.practice.begun_again`).
    """
    found = [*_of_hesitations(form, alignment), *_of_moves(form, alignment, parts)]
    again = again or {}
    return [(moment, _begun_again(form, again[moment]) if moment in again else one) for moment, one in found]


def _begun_again(form: Form, again: BegunAgain) -> Finding:
    bar, chorus = bar_and_chorus(form, again.start)
    return Finding(bar, chorus, "restarted", round(again.share, 2), f"{place_words(bar)}: begun again")


def _of_hesitations(form: Form, alignment: Alignment) -> list[tuple[float, Finding]]:
    """Where the player held back."""
    found = []
    for sweep in alignment.sweeps:
        for beat, by in sweep.held:
            if by >= HESITATED:
                bar, chorus = bar_and_chorus(form, beat)
                text = f"{place_words(bar)}: hesitated for {by:.1f} s"
                found.append((sweep.map().seconds(beat), Finding(bar, chorus, "hesitated", round(by, 2), text)))
    return found


def _of_moves(form: Form, alignment: Alignment, parts: Collection[str]) -> list[tuple[float, Finding]]:
    """Where the player stopped, went back, or left bars out."""
    length, bar_length = float(form.length), float(form.metre.bar)
    found = []
    groups = pairwise(alignment.judged)
    for move, (before, after), notes in zip(alignment.moves, pairwise(alignment.sweeps), groups, strict=True):
        if any(end >= before.high - 1e-6 for _, end in before.free) or any(
            start <= after.low for start, _ in after.free
        ):
            continue  # in what is free, where the player was is too unsure for it to be said that they leapt
        last, first = (_played(group, length) for group in notes)
        here = last[-1] if last else before.high - 1e-3
        there = first[0] if first else after.low
        (bar, chorus), (goal, _) = bar_and_chorus(form, here), bar_and_chorus(form, there)
        bars = round(abs(after.low - before.high) / bar_length, 2)
        if abs(after.low - before.high) < 1e-6:
            text = f"{place_words(goal)}: hesitated for {move.pause:.1f} s"
            one = Finding(goal, chorus, "hesitated", round(move.pause, 2), text)
        elif after.low < before.high:
            if _is_overrun(form, goal, here % length, (move.pause - STAYED) * before.map().tempo(here) / 60):
                bar = goal
            text = "begun again" if bar == goal else f"went back to {place_words(goal)}"
            one = Finding(bar, chorus, "restarted", bars, f"{place_words(bar)}: {text}")
        else:
            lost = expected_between(form, parts, here + 1e-3, there - 1e-3)
            one = _skipped(form, lost[0].beat if lost else before.high, goal, bars)
        found.append((move.seconds, one))
    return found


def _is_overrun(form: Form, goal: int, here: float, silent: float) -> bool:
    """Whether a bar was begun again by one who had run on to the next downbeat, and no farther.

    Who was silent for longer than the rest of that bar (``silent``, in quarters) may have gone through it, too.
    """
    starts = form.bar_starts
    if not 1 <= goal < len(starts):
        return False
    pulse = float(form.metre.pulse)
    on_downbeat = starts[goal] - 1e-6 <= here < starts[goal] + pulse - 1e-6
    return on_downbeat and silent < float(form.metre.bar) - pulse


def _played(notes: Sequence[JudgedNote], length: float) -> list[float]:
    """Beats, through the choruses, of what was played of the chart."""
    return [
        note.chart_beat + (note.chorus - 1) * length
        for note in notes
        if note.seconds is not None and note.expected is not None
    ]


def _skipped(form: Form, left: float, landed: int, bars: float) -> Finding:
    """Bars left out, told where the first note is that wasn't played."""
    first, chorus = bar_and_chorus(form, left)
    text = f"{place_words(first)}: left out; you went on at {place_words(landed)}"
    return Finding(first, chorus, "skipped", bars, text)
