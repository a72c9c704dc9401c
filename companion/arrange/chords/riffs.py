"""Riffs: a rhythm of one bar or two that is kept over four bars, as far as the melody leaves room, and then broken.

Conventions: bars are counted from 0, the first of the form; places in quarters from the bar line. Method: each rhythm
that may be struck, and each pair, is held against the four bars; the one that most of them have room for is drawn, with
some chance. Common practice: the fifth bar brings something else, and a riff may turn away in its fourth.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import permutations

from companion.arrange.chords.context import FAR, TINY, BarPlan, CompingContext, Found, least_gap
from companion.arrange.chords.liking import rhythm_liking
from companion.arrange.chords.rhythms import CompingRhythm, rhythms_for, taken_up
from companion.arrange.chords.room import room_for

MOST_OFFERS = 9
"""Rhythms of which pairs are tried."""
PLACEMENTS = ("gaps", "answering", "free")
"""Placements in which rhythms are chosen; in the others melody, bass or route say where chords fall."""


StruckPlaces = tuple[float, ...]
"""Where a bar is struck, in quarters from its bar line; a chord on the quaver before it counts as on 1."""


@dataclass(frozen=True)
class PastBar:
    """What a bar had: the name of its rhythm, and where it was struck."""

    name: str
    places: StruckPlaces


def worn(context: CompingContext, places: StruckPlaces, before: Sequence[PastBar]) -> float:
    """Dislike of a rhythm that was there in the last bars, and a little for those in which it was before."""
    rules = context.comping.placement
    lately = sum(one.places == places for one in before[-4:])
    earlier = sum(one.places == places for one in before[-16:-4])
    return rules.worn * lately + rules.worn_before * earlier


Riff = dict[int, CompingRhythm]
"""The rhythm of each bar that has one, by its number in the form (0 = the first)."""


def riff(context: CompingContext, bars: Sequence[tuple[int, BarPlan]], before: Sequence[PastBar]) -> Riff:
    """A riff over some bars, or nothing.

    Parameters
    ----------
    context : CompingContext
    bars : sequence of (int, BarPlan)
        Four bars, or those that are left of a section; each with its number in the form.
    before : sequence of PastBar
        The bars before them: what they had last isn't gone on with.
    """
    taste, plans = context.comping.phrases, [plan for _, plan in bars]
    same = {(plan.placement, plan.size) for plan in plans}
    if len(same) > 1 or plans[0].placement not in PLACEMENTS or len(bars) < 3 or context.chance.random() >= taste.riff:
        return {}
    pool = [_offer(context, plans, one, before) for one in _pool(context, plans[0]) if not one.comes_early]
    pool = [offer for offer in pool if any(offer.fits)]
    open_bars = sum(any(offer.fits[k] for offer in pool) for k in range(len(bars)))
    pool = sorted(pool, key=lambda offer: _score(context, (offer,)), reverse=True)[:MOST_OFFERS]
    scored = [
        (_score(context, cell), cell)
        for cell in [*((one,) for one in pool), *permutations(pool, 2)]
        if not _goes_on(cell, before) and _held(cell, open_bars)
    ]
    if not scored:
        return {}
    cell = max(scored, key=lambda one: one[0])[1]
    away = plans[0].placement == "free" and context.chance.random() < taste.turned_away
    last = len(bars) - 1 if away else len(bars)
    turns_by = [cell[k % len(cell)] for k in range(last)]
    return {n: one.rhythm for k, ((n, _), one) in enumerate(zip(bars, turns_by, strict=False)) if one.fits[k]}


@dataclass(frozen=True, eq=False)
class _Offer:
    """A rhythm held against the bars of a riff."""

    rhythm: CompingRhythm
    fits: tuple[bool, ...]
    """Which of the bars have room for all of it."""
    places: StruckPlaces
    liking: float
    """How much it says, whether it is the melody's, how fresh it is."""


def _offer(context: CompingContext, plans: Sequence[BarPlan], one: CompingRhythm, before: Sequence[PastBar]) -> _Offer:
    taste, rules = context.comping.phrases, context.comping.placement
    places = places_of(one.floats)
    liking = rules.kept * min(len(one.hits), 2) + taste.taken_up * one.taken_up - worn(context, places, before)
    liking += rhythm_liking(context.liking, context.form, [at for at, _ in one.floats])
    fits = tuple(len(kept(context, plan, one, -FAR)) == len(one.hits) for plan in plans)
    return _Offer(one, fits, places, liking)


def _goes_on(cell: Sequence[_Offer], before: Sequence[PastBar]) -> bool:
    """Whether a riff would begin as one of the last two bars, or have the last bar's rhythm in turn with another."""
    had = [one.places for one in before[-2:]]
    return cell[0].places in had or cell[-1].places in had[-1:]


def _pool(context: CompingContext, bar: BarPlan) -> list[CompingRhythm]:
    """The rhythms of the bar's set, and those that the melody has just had."""
    return [*rhythms_for(context, bar), *(taken_up(context, bar) if bar.placement != "free" else ())]


def places_of(hits: Iterable[tuple[float, float]]) -> StruckPlaces:
    """Where a bar is struck by some hits."""
    return tuple(sorted({max(at, 0.0) for at, _ in hits}))


def kept(context: CompingContext, bar: BarPlan, one: CompingRhythm, last: float) -> list[tuple[int, Found]]:
    """What of a rhythm there is room for from a beat on: which of its hits, and what they would be."""
    rules = context.comping.placement
    result: list[tuple[int, Found]] = []
    for n, (at, length) in enumerate(one.floats):
        beat = bar.at + at
        if beat < last - TINY or (found := room_for(context, bar, beat, length)) is None:
            continue
        if (found.early or at < 0) and beat < last + rules.before_early - rules.next - TINY:
            continue
        result.append((n, found))
        last = beat + least_gap(rules, found.early or at < 0)
    return result


def _held(cell: Sequence[_Offer], open_bars: int) -> bool:
    """Whether a riff comes often enough to be heard as one: twice at least, and in most bars that have room."""
    there = _there(cell)
    again = any(there[k] and there[k + len(cell)] for k in range(len(there) - len(cell)))
    return again and sum(there) >= min(3, open_bars)


def _there(cell: Sequence[_Offer]) -> list[bool]:
    """In which of its bars a riff finds room."""
    return [cell[k % len(cell)].fits[k] for k in range(len(cell[0].fits))]


def _score(context: CompingContext, cell: Sequence[_Offer]) -> float:
    """How well a riff suits its bars: how many have room for it, how it is liked, and a little chance."""
    liking = sum(one.liking for one in cell) / len(cell)
    return sum(_there(cell)) + liking + context.chance.gauss(0, context.comping.placement.chance)
