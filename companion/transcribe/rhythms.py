"""Rhythms: what a pulse costs by the places that are struck in it, usually and in one tune.

Conventions: places within a pulse in 24ths of it, so that halves, quarters, eighths, thirds and sixths are all whole
numbers; costs are natural logarithms of how rare something is. All of them are in ``configs/capture.toml``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import exp, log
from typing import TypeVar

from companion.preferences.capture import CapturePreferences

WHOLE, HALF, THIRD = 24, 12, 8
"""24ths of a pulse."""
DIVISIONS = (1, 2, 4, 8, 3, 6)
ALIKE = ((0, 6, 12), (6, 12))
"""Two semiquavers and a quaver: when they swing they sound like a triplet, and tell nothing of the tune's habit."""
T = TypeVar("T")


def divisions_of(costs: CapturePreferences, compound: bool) -> tuple[Mapping[int, float], ...]:
    """What divisions of a pulse cost in each kind of tune."""
    return tuple((costs.division.compound if compound else costs.division.simple).values())


@lru_cache(maxsize=4096)
def division(places: tuple[int, ...]) -> int:
    """The coarsest division of a pulse that has all places (24ths); 0 when none has.

    >>> division((0, 12)), division((0, 8, 16)), division((18,)), division((8, 9))
    (2, 3, 4, 0)
    """
    return next((n for n in DIVISIONS if all(place % (WHOLE // n) == 0 for place in places)), 0)


class Rhythms:
    """What a pulse costs, by the places that have an onset in it."""

    def __init__(
        self,
        divisions: Mapping[int, float],
        costs: CapturePreferences,
        compound: bool,
        own: Mapping[tuple[int, ...], float],
    ):
        self.divisions, self.compound = divisions, compound
        patterns = costs.pattern.compound if compound else costs.pattern.simple
        self.other = patterns.other
        self.patterns = {
            tuple(round(Fraction(place) * WHOLE) for place in places.split()): cost
            for places, cost in patterns.named.items()
        } | dict(own)
        self.crotchets, self.hanging = costs.place.crotchet_triplet, costs.place.hanging
        self.off_bar = costs.place.off_bar
        self._known: dict[tuple[tuple[int, ...], bool, str], tuple[float, str] | None] = {}

    def close(self, places: tuple[int, ...], even: bool, owed: str) -> tuple[float, str] | None:
        """The cost of a pulse, and what it leaves to the next; None when it can't be.

        ``even``: its half sounded half way though quavers swing, as beside semiquavers; ``owed``: what the pulse before
        has left: 'third' of a triplet over both, 'beat' after a hanging note, or nothing.
        """
        known = (places, even, owed)
        if known not in self._known:
            self._known[known] = self._close(places, even, owed)
        return self._known[known]

    def _close(self, places: tuple[int, ...], even: bool, owed: str) -> tuple[float, str] | None:
        parts = division(places)
        if not parts or parts not in self.divisions or (even and parts < 4):
            return None
        cost, owes = self.divisions[parts], ""
        if owed == "third" and places == (8,):
            return self.crotchets, ""
        if owed and 0 not in places:
            cost += self.hanging
        if places in ((), (0,)):
            return cost, owes
        if places in ((0, 16), (16,)) and not self.compound:
            return cost + self.crotchets + (0.0 if 0 in places else self.other), "third"
        if places[-1] % THIRD if self.compound else places[-1] not in (HALF, 2 * THIRD):
            owes = "beat"
        return cost + self.pattern(places), owes

    def pattern(self, places: tuple[int, ...]) -> float:
        """What a pattern costs among those of the same division."""
        return self.patterns.get(places, self.other)


@dataclass(frozen=True)
class RhythmHabit:
    """What a tune does oftener than others, as costs."""

    divisions: Mapping[int, float]
    patterns: Mapping[tuple[int, ...], float]
    grace: float
    """What a grace note costs more."""
    told: float
    """What it costs to have this habit: the further from usual, the more."""


def habit_of(
    struck: Sequence[tuple[int, int]],
    graces: int,
    usual: Mapping[int, float],
    costs: CapturePreferences,
    compound: bool,
) -> RhythmHabit:
    """The tune's own habit and the usual one, weighed, as a reading has it.

    Parameters
    ----------
    struck : sequence of (pulse, place)
        What the reading has put at a place.
    graces : int
        What it has called grace notes.
    usual : mapping
        What divisions cost usually.
    costs : CapturePreferences
    compound : bool
        Whether a pulse is a dotted quarter.
    """
    pulses: dict[int, set[int]] = {}
    for pulse, place in struck:
        pulses.setdefault(pulse, set()).add(place)
    met = Counter(tuple(sorted(places)) for places in pulses.values())
    span = max(pulses) - min(pulses) + 1 if pulses else 0
    counted = Counter[int]()
    for places, n in met.items():
        counted[division(places)] += n
    semiquavers = sum(n for places, n in met.items() if {6, 18} <= {*places})
    met.update({places: min(met[places], semiquavers) - met[places] for places in ALIKE})
    counted[1] += span - len(pulses)
    own = costs.own
    expected = own.semiquavers * len(pulses)
    rarer = max(0.0, log((expected + 1.0) / (semiquavers + 1.0)))
    divisions, told = _weighed(usual, counted, own.divisions)
    rhythms = Rhythms(usual, costs, compound, {})
    patterns: dict[tuple[int, ...], float] = {}
    for parts in DIVISIONS:
        known = {places: rhythms.pattern(places) for places in {*rhythms.patterns, *met} if division(places) == parts}
        if parts in usual and len(known) > 1 and parts > 1:
            least = min(known.values())
            normal = log(sum(exp(least - cost) for cost in known.values()))
            weighed, more = _weighed(
                {places: cost - least + normal for places, cost in known.items()}, met, own.patterns
            )
            patterns |= {
                places: cost + least - normal + (rarer if places in ALIKE and not compound else 0.0)
                for places, cost in weighed.items()
            }
            told += more
    usually = exp(-costs.place.ornament)
    weight = own.graces
    rate = (graces + weight * usually) / (len(struck) + weight)
    oftener, seldomer = log(rate / usually), log((1.0 - rate) / (1.0 - usually))
    told -= weight * (usually * oftener + (1.0 - usually) * seldomer) + (len(struck) - graces) * seldomer
    return RhythmHabit(divisions, patterns, -oftener, told)


def _weighed(usual: Mapping[T, float], met: Mapping[T, int], weight: float) -> tuple[dict[T, float], float]:
    """Costs of what is met so often, the usual ones weighing as much as so many cases; and how far they are from those.

    The distance is the divergence of Kullback and Leibler, times the weight: the mode of the posterior under a
    Dirichlet prior pays just so much for leaving the prior's mean (the usual account, from memory).
    """
    count = sum(met.get(one, 0) for one in usual)
    costs = {one: -log((met.get(one, 0) + weight * exp(-cost)) / (count + weight)) for one, cost in usual.items()}
    return costs, weight * sum(exp(-cost) * (costs[one] - cost) for one, cost in usual.items())
