"""What a walk strikes between its beats for the sake of its phrases and its tempo: fills, and a slow walk's quavers.

A phrase ends with a fill now and then: quavers, a triplet or a short run to the next bar line. A slow walk is divided
all along, rather where a beat leads to another chord than elsewhere (common practice).

Conventions: beats in quarters from the first downbeat of the form; tempi in beats a minute.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from fractions import Fraction

from companion.preferences.bass import BassFills, FillFigure, SlowWalk


def fill(
    fills: BassFills, bounds: Sequence[Fraction], tempo: float, section: bool, chance: random.Random
) -> tuple[Fraction, ...]:
    """Where a bar that ends a phrase is struck between its beats; often nowhere.

    Parameters
    ----------
    fills : BassFills
    bounds : sequence of Fraction
        Its beats and the next bar line.
    tempo : float
        Beats a minute.
    section : bool
        Whether a section ends with it.
    chance : random.Random
    """
    if chance.random() >= (fills.section if section else fills.phrase):
        return ()
    count = len(bounds) - 1
    chosen = _drawn(fills.ways, tempo, bounds[-1] - bounds[-2], chance)
    return tuple(sorted(_place(bounds, count - at) for at in chosen if at < count))


def divided(
    slow: SlowWalk, bounds: Sequence[Fraction], tempo: float, leads: Callable[[int], bool], chance: random.Random
) -> tuple[Fraction, ...]:
    """Where a bar of a slow walk is struck between its beats, never after two running.

    Parameters
    ----------
    slow : SlowWalk
    bounds : sequence of Fraction
        Its beats and the next bar line.
    tempo : float
        Beats a minute.
    leads : callable
        Whether another chord begins after a beat, given by its index in the bar.
    chance : random.Random
    """
    count = len(bounds) - 1
    if tempo >= slow.from_tempo or count < 1:
        return ()
    share = slow.share * min(1.0, (slow.from_tempo - tempo) / (slow.from_tempo - slow.down_to))
    weights = [slow.leads if leads(k) else 1.0 for k in range(count)]
    scale = share * count / sum(weights)
    found: list[Fraction] = []
    last = -2
    for k, weight in enumerate(weights):
        if k == last + 1 or chance.random() >= scale * weight * (1 + share):
            continue
        found += [_place(bounds, k + at) for at in _drawn(slow.ways, tempo, bounds[k + 1] - bounds[k], chance)]
        last = k
    return tuple(found)


def _drawn(ways: Sequence[FillFigure], tempo: float, step: Fraction, chance: random.Random) -> tuple[float, ...]:
    """One of the figures that suit a tempo and a beat of so many quarters: thirds and quarters are no part of three."""
    fitting = [
        way
        for way in ways
        if way.tempo[0] <= tempo <= way.tempo[1] and (step % Fraction(3, 2) or all(at % 1 == 0.5 for at in way.at))
    ]
    return chance.choices(fitting, [way.share for way in fitting])[0].at if fitting else ()


def _place(bounds: Sequence[Fraction], at: float) -> Fraction:
    """A place counted in beats of the bar; between two dotted quarters it is the last quaver."""
    beat, rest = int(at), Fraction(at % 1).limit_denominator(12)
    step = bounds[beat + 1] - bounds[beat]
    return bounds[beat] + step * (Fraction(2, 3) if step == Fraction(3, 2) else rest)
