"""A practising player's way through a chart: in which order they play its bars, how fast, and where they halt.

Conventions: chart beats in quarters from the first downbeat of the form; *places* in quarters since the player began,
pauses left out; seconds from the start of the performance. The count-in, if the companion is told of one, begins at
``FIRST_CLICK``. Everything is drawn from the dice that are handed in.

Method: the tempo is a random walk of its logarithm, which forgets slowly, with slow waves on top; a halt is a step in
time at a place. How far single notes lie beside the beat is the touch's matter.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from random import Random
from typing import Any

from beat_scores import TrueBeat

from companion.chart.model import Form
from companion.pianist.route import FIRST_CLICK, Clock

DRIFT = (0.002, 0.010)
"""Standard deviation of the change of tempo from beat to beat, as a share of it: a player's lies in this range."""
WAVE = (0.0, 0.025)
"""How far a slow wave of the tempo goes to either side, as a share of it."""
WAVE_BEATS = (24, 96)
"""Beats in which a wave comes round."""
COUNTED_BARS = 2


@dataclass(frozen=True)
class Leg:
    """A stretch of one chorus played without a break."""

    start: float
    end: float
    chorus: int = 1
    mark: str = ""
    """'jump' or 'resume' where it doesn't go on from the leg before."""
    pause: float = 0.0
    """Seconds of silence before it."""
    plays: str = "melody"
    """What is played in it: a name from :data:`practising_lines.PLAYED`."""
    pace: float = 1.0
    """How many times as fast as the player's usual tempo."""

    @property
    def length(self) -> float:
        """Quarters."""
        return self.end - self.start


@dataclass(frozen=True)
class Plan:
    """What a player sets out to do, and what they have told the companion."""

    legs: tuple[Leg, ...]
    you: str = "melody"
    told: float = 1.0
    """The tempo counted in over the one that is played."""
    entrance: float = 0.0
    """Beats of the metre after the moment promised by the count-in at which they begin; below 0 before it."""
    freely: int = 0
    """Beats at the beginning that are played out of time."""
    sagging: float = 0.0
    """By how much slower the end is than the beginning (0.3 = 30 per cent)."""
    halts: tuple[tuple[float, float], ...] = ()
    """Hesitations: places, and the seconds by which all from there on comes later."""
    slips: Mapping[str, float] = field(default_factory=dict)
    """Shares of the notes, as in ``configs/players.toml``, where they aren't the usual ones of somebody practising."""
    phrasing: str = ""
    """How the melody is phrased: a name from :data:`practising_lines.PHRASINGS`; empty: as it is written."""
    fumbles: float = 0.0
    """Share of the notes that are struck until they are right; the halts follow from it."""
    cats: tuple[int, ...] = ()
    """Numbers of the legs in the pause before which a cat walks over the keys."""


class HaltingClock(Clock):
    """From a place to seconds, with halts."""

    def __init__(self, halts: Sequence[tuple[float, float]], *args: Any):
        super().__init__(*args)
        self.halts = halts

    def seconds(self, stretch: int, at: float, swing: float | None = None) -> float:
        """When a place of a leg sounds; what lies before a halt keeps its moment."""
        return super().seconds(stretch, at, swing) + sum(s for place, s in self.halts if at >= place - 1e-6)


def begins_of(legs: Sequence[Leg]) -> list[float]:
    """The place at which each leg begins, and that of the end."""
    return list(accumulate((leg.length for leg in legs), initial=0.0))


def timed(form: Form, plan: Plan, tempo: float, dice: Random) -> tuple[HaltingClock, list[TrueBeat], float, float]:
    """When everything happens.

    Parameters
    ----------
    form : Form
    plan : Plan
    tempo : float
        The player's, in quarters a minute.
    dice : Random

    Returns
    -------
    clock : HaltingClock
    truth : list of TrueBeat
        Every beat of the metre that the player feels, from their first downbeat on; none in the pauses between legs.
    told_tempo, told_start : float
        The count-in: quarters a minute, and the moment promised for the place at which the first leg begins.
    """
    pulse, bar = float(form.metre.pulse), float(form.metre.bar)
    before = max(2, round(COUNTED_BARS * bar / pulse))
    told_period = 60.0 / (tempo * plan.told) * pulse
    promised = FIRST_CLICK + before * told_period
    first = promised + plan.entrance * told_period
    own = [first]
    for period in _periods(form, plan, 60.0 / tempo * pulse, dice):
        own.append(own[-1] + period)
    lead_in = [first - (before - k) * (own[1] - own[0]) for k in range(before)]  # what a pickup is played by
    shifts = list(accumulate(leg.pause for leg in plan.legs))
    clock = HaltingClock(plan.halts, lead_in + own, before, pulse, shifts)
    truth = []
    for n, (leg, begun) in enumerate(zip(plan.legs, begins_of(plan.legs), strict=False)):
        for k in range(round(leg.length / pulse)):
            moment = clock.seconds(n, begun + k * pulse)
            truth.append(TrueBeat(leg.start + k * pulse, moment, leg.mark if k == 0 else ""))
    human = 1.0 + max(-0.01, min(0.01, dice.gauss(0.0, 0.004)))  # nobody counts in more exactly
    return clock, truth, tempo * plan.told * human, promised + dice.gauss(0.0, 0.008)


def _periods(form: Form, plan: Plan, period: float, dice: Random) -> list[float]:
    """Seconds of each beat of the metre on the way."""
    pulse = float(form.metre.pulse)
    paces = [leg.pace for leg in plan.legs for _ in range(round(leg.length / pulse))]
    paces += paces[-1:] * 2
    drift = dice.uniform(*DRIFT)
    waves = [(dice.uniform(*WAVE), dice.uniform(*WAVE_BEATS), dice.random()) for _ in range(2)]
    walk, periods = 0.0, []
    for k, pace in enumerate(paces):
        walk = 0.99 * walk + dice.gauss(0.0, drift)
        wave = sum(a * (math.sin(2 * math.pi * (k / n + x)) - math.sin(2 * math.pi * x)) for a, n, x in waves)
        slower = 1.0 / (1.0 - plan.sagging * k / len(paces))
        periods.append(period / pace * slower * math.exp(walk + wave))
    return _opening(plan, periods, dice)


def _opening(plan: Plan, periods: Sequence[float], dice: Random) -> list[float]:
    """The beats at the beginning out of time: slow at the ends of each four, some held."""
    free = []
    for k, period in enumerate(periods[: plan.freely]):
        arch = 1.0 + 0.25 * abs(k % 8 - 3.5) / 3.5
        held = dice.uniform(1.2, 1.9) if k % 8 == 7 and dice.random() < 0.6 else 1.0
        free.append(period * arch * held * math.exp(dice.gauss(0.0, 0.10)))
    return free + list(periods[plan.freely :])
