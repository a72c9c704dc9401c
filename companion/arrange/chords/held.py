"""Chords held over a root that the pedal has caught: struck soon after it, in another rhythm from bar to bar.

Conventions: beats and lengths in quarters from the first downbeat of the form, written. The ways are in
``comping.toml``, by the length of the stretch that one chord rules in a bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from companion.arrange.chords.context import BarPlan, CompingContext, Strike
from companion.arrange.harmony import Harmony
from companion.preferences.comping import Held, HeldWay


def held_strikes(context: CompingContext, bar: BarPlan) -> list[Strike]:
    """The chords of a bar, each soon after its root and held until the next."""
    found: list[Strike] = []
    for harmony in context.within(bar.start, bar.end):
        found += _one(context, bar, harmony)
    return found


def _one(context: CompingContext, bar: BarPlan, harmony: Harmony) -> list[Strike]:
    start, end = max(harmony.start, bar.start), min(harmony.end, bar.end)
    way = max(_ways(context.comping.held, end - start), key=lambda way: _liking(context, way, float(start)))
    context.used.append(way.name)
    places = [start + Fraction(at).limit_denominator(24) for at in way.after]
    return [
        Strike(at, until - at, harmony, bar.treatment, f"held, {way.name}")
        for at, until in zip(places, [*places[1:], end], strict=True)
    ]


def _ways(held: Held, length: Fraction) -> Sequence[HeldWay]:
    """Ways for a stretch of so many quarters, or for the longest stretch that is shorter."""
    fitting = [key for key in held.ways if key <= length]
    if not fitting:
        return [HeldWay("with its root", (0.0,))]
    return held.ways[max(fitting)]


def _liking(context: CompingContext, way: HeldWay, start: float) -> float:
    """A way is liked where its chords fall between the melody's notes, and better after another than after itself."""
    rules = context.comping.placement
    struck_with = sum(context.moves(start + at, rules.clear) for at in way.after)
    again = sum(name == way.name for name in context.used[-2:])
    return context.chance.gauss(0, rules.chance) - rules.lost * struck_with - rules.worn * again
