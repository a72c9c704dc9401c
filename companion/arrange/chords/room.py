"""Room for a chord: whether melody and harmony leave it at a beat, which chord it is there, and how long it may sound.

Conventions: beats and lengths in quarters from the first downbeat of the form, written. A chord that comes early lies
on the quaver before its place and is the chord to come. Common practice: where the melody moves, the chord waits; where
it holds or rests, the chord answers.
"""

from __future__ import annotations

from fractions import Fraction

from companion.arrange.chords.context import FAR, TINY, BarPlan, CompingContext, Found, Strike
from companion.arrange.harmony import Harmony


def room_for(context: CompingContext, bar: BarPlan, at: float, length: float, must: bool = False) -> Found | None:
    """A chord at a beat, where melody and harmony leave room for it; ``must``: a smaller gap will do."""
    if at < -TINY or at >= bar.at + bar.size - TINY:
        return None
    place = bar.placement, at, length, must
    if place not in context.rooms:
        context.rooms[place] = _room(context, *place)
    return context.rooms[place]


def _room(context: CompingContext, placement: str, at: float, length: float, must: bool) -> Found | None:
    free = _free(context, at, placement, must) if placement in ("gaps", "answering") else FAR
    shortest = context.comping.placement.shortest
    if free < shortest:
        return None
    harmony, until, early = meant(context, at, min(length, free))
    if not harmony.written:
        return None
    length = min(length, free, until - at)
    if not must:
        length = min(length, _before_fourth(context, harmony, at, length))
    return Found(harmony, length, early) if length >= shortest else None


def strike_of(context: CompingContext, bar: BarPlan, hit: tuple[Fraction, Fraction], found: Found, name: str) -> Strike:
    """The strike of a hit, place and length in quarters from the bar line, with its reason."""
    at, length = hit
    meant_to = length if bar.placement == "answering" and bar.treatment.bass in context.pedalled else Fraction(0)
    if float(length) > found.length + TINY:
        length = Fraction(found.length).limit_denominator(24)
    reason = name
    if found.early:
        said = "" if name.startswith("the quaver before") or not name else f"{name}, "
        reason = f"{said}a quaver before {found.harmony.chord.symbol} begins"
    return Strike(bar.start + at, length, found.harmony, bar.treatment, reason, meant=meant_to, ahead=at < 0)


def meant(context: CompingContext, at: float, length: float) -> tuple[Harmony, float, bool]:
    """The chord of a strike, until when it rules, and whether it comes early.

    On the quaver before a chord it is the chord to come, if it sounds into it and the melody doesn't contradict; where
    N.C. stands, nothing comes early.
    """
    here = context.harmony(at)
    until = at - at % context.length + float(here.end)
    off_beat = abs(at - round(at)) > TINY
    if not here.written or not off_beat or until - at > 0.5 + TINY or length < 0.5 - TINY:
        return here, until, False
    coming = context.harmony(until)
    if coming.label == here.label or not coming.written:
        return here, until + (float(coming.end - coming.start) if coming.label == here.label else 0.0), False
    sounding = context.melody.classes(at, until)
    if any(pc not in coming.tones and (pc in coming.avoid or pc not in coming.scale) for pc in sounding):
        return here, until, False
    return coming, until + float(coming.end - coming.start), True


def _before_fourth(context: CompingContext, harmony: Harmony, at: float, length: float) -> float:
    """How long a chord with a major third may sound before the melody has its fourth."""
    third = (harmony.root + 4) % 12
    if third not in harmony.tones:
        return length
    for start, pc in context.melody.heard(at, at + length):
        if pc == (harmony.root + 5) % 12:
            return start - at
    return length


def _free(context: CompingContext, at: float, placement: str, must: bool) -> float:
    """How long a chord struck at a beat may sound before the melody moves on; negative where it has to wait."""
    rules = context.comping.placement
    start, long, after = context.melody.around(at)
    until = after - at
    if until <= rules.clear:
        return -1.0
    gap, since = after - start, at - start
    holds = long >= rules.long
    if since <= rules.clear and not holds:
        return -1.0
    if not must and gap < rules.gap:
        return -1.0
    wait = rules.after_long if holds and placement == "answering" else rules.after_short
    return until if since >= wait - TINY else -1.0
