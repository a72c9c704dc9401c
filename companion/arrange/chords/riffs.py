"""Riffs: a rhythm of one bar or two that is kept over four bars, as far as the melody leaves room, and then broken.

Conventions: bars are counted from 0, the first of the form; places in quarters from the bar line. Method: each rhythm
that may be struck, and each pair, is held against the four bars; the one that most of them have room for is drawn, with
some chance. Common practice: the fifth bar brings something else, and a riff may turn away in its fourth.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import permutations

from companion.arrange.chords.context import FAR, TINY, BarPlan, CompingContext, least_gap
from companion.arrange.chords.rhythms import CompingRhythm, rhythms, taken_up
from companion.arrange.chords.room import Found, room_for

PLACEMENTS = ("gaps", "answering", "free")
"""Placements in which rhythms are chosen; in the others melody, bass or route say where chords fall."""


Places = tuple[float, ...]
"""Where a bar is struck, in quarters from its bar line; a chord on the quaver before it counts as on 1."""


@dataclass(frozen=True)
class PastBar:
    """What a bar had: the name of its rhythm, and where it was struck."""

    name: str
    places: Places


def worn(context: CompingContext, places: Places, before: Sequence[PastBar]) -> float:
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
    pool = [one for one in _pool(context, plans[0]) if not one.comes_early]
    fits = {one: [fitting(context, plan, one) for plan in plans] for one in pool}
    open_bars = sum(any(row[k] for row in fits.values()) for k in range(len(bars)))
    scored = [
        (_score(context, cell, fits, before), cell)
        for cell in [*((one,) for one in pool), *permutations(pool, 2)]
        if not _goes_on(cell, before) and _held(cell, fits, open_bars)
    ]
    if not scored:
        return {}
    cell = max(scored, key=lambda one: one[0])[1]
    away = plans[0].placement == "free" and context.chance.random() < taste.turned_away
    last = len(bars) - 1 if away else len(bars)
    return {n: cell[k % len(cell)] for k, (n, _) in enumerate(bars[:last]) if fits[cell[k % len(cell)]][k]}


def _goes_on(cell: Sequence[CompingRhythm], before: Sequence[PastBar]) -> bool:
    """Whether a riff would begin as one of the last two bars, or have the last bar's rhythm in turn with another."""
    had = [one.places for one in before[-2:]]
    return places_of(cell[0].floats) in had or places_of(cell[-1].floats) in had[-1:]


def _pool(context: CompingContext, bar: BarPlan) -> list[CompingRhythm]:
    """The rhythms of the bar's set, and those that the melody has just had."""
    own = rhythms(context.comping, bar.treatment.rhythms, str(context.form.metre), bar.end - bar.start)
    return [*own, *(taken_up(context, bar) if bar.placement != "free" else ())]


def places_of(hits: Iterable[tuple[float, float]]) -> Places:
    """Where a bar is struck by some hits."""
    return tuple(sorted({max(at, 0.0) for at, _ in hits}))


def fitting(context: CompingContext, bar: BarPlan, one: CompingRhythm) -> bool:
    """Whether a bar has room for all of a rhythm."""
    return len(kept(context, bar, one, -FAR)) == len(one.hits)


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


def _held(cell: Sequence[CompingRhythm], fits: dict[CompingRhythm, list[bool]], open_bars: int) -> bool:
    """Whether a riff comes often enough to be heard as one: twice at least, and in most bars that have room."""
    there = [fits[cell[k % len(cell)]][k] for k in range(len(fits[cell[0]]))]
    again = any(there[k] and there[k + len(cell)] for k in range(len(there) - len(cell)))
    return again and sum(there) >= min(3, open_bars)


def _score(
    context: CompingContext,
    cell: Sequence[CompingRhythm],
    fits: dict[CompingRhythm, list[bool]],
    before: Sequence[PastBar],
) -> float:
    """How well a riff suits its bars: how many have room for it, how much it says, how fresh it is, a little chance."""
    taste, rules = context.comping.phrases, context.comping.placement
    there = sum(fits[cell[k % len(cell)]][k] for k in range(len(fits[cell[0]])))
    says = sum(min(len(one.hits), 2) for one in cell) / len(cell)
    called = sum(taste.taken_up for one in cell if one.taken_up) / len(cell)
    stale = sum(worn(context, places_of(one.floats), before) for one in cell) / len(cell)
    return there + rules.kept * says + called - stale + context.chance.gauss(0, rules.chance)
