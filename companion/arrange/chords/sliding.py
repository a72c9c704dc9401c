"""Fourths that slide in parallel by semitones, whatever the chords say, to an arrival that fits.

By turns a bar has a route and a bar the arrival, so that the last bar of a section is one. A route (``comping.toml``)
says at which places the fourths are so many semitones away; from above or from below is chosen by what melody and bass
leave room for, and by where the hand is. Where the melody is dropped, the arrival's top note is the one that the
melody would have had there.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. Source: common practice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from companion.arrange.chords.context import HALF, BarPlan, CompingContext, Strike
from companion.arrange.chords.voicings import Voicing, clear, muddy
from companion.arrange.melody.part import MelodyIndex
from companion.preferences.comping import Route
from companion.preferences.voicings import VoicingPreferences

# --- where they are struck --------------------------------------------------------------------------------------------


def sliding_strikes(context: CompingContext, bar: BarPlan, before: Sequence[Strike]) -> list[Strike]:
    """The strikes of a bar: a route to the next, or an arrival; ``before`` are the strikes of the bars before."""
    return _arrival(context, bar, before) if bar.left % 2 else _route(context, bar)


def _route(context: CompingContext, bar: BarPlan) -> list[Strike]:
    way = max(_ways(context, bar), key=lambda way: _liking(context, bar, way))
    context.used.append(way.name)
    lands = bar.end + Fraction(way.lands).limit_denominator(24)
    places = [bar.start + Fraction(at).limit_denominator(24) for at, _ in way.steps]
    found = [
        Strike(at, until - at, context.harmony(float(at)), bar.treatment, way.name, away=away)
        for at, until, (_, away) in zip(places, [*places[1:], lands], way.steps, strict=True)
    ]
    if lands < bar.end:
        found.append(_landing(context, bar, lands, bar.end, bar.end + bar.end - bar.start))
    return found


def _arrival(context: CompingContext, bar: BarPlan, before: Sequence[Strike]) -> list[Strike]:
    there = bool(before) and not before[-1].slides and before[-1].beat + before[-1].length > bar.start
    found = [] if there else [_landing(context, bar, bar.start, bar.start, bar.end)]
    further = (h for h in context.within(bar.start, bar.end) if h.start > bar.start)
    return found + [Strike(h.start, min(h.end, bar.end) - h.start, h, bar.treatment, "and on") for h in further]


def _landing(context: CompingContext, bar: BarPlan, at: Fraction, start: Fraction, end: Fraction) -> Strike:
    """The chord that a route leads to: the one of the bar from ``start`` to ``end``."""
    harmony = context.harmony(float(start))
    until = min(end, start + harmony.end - harmony.start if harmony.start >= start else harmony.end)
    aim = _aim(context, start, end) if bar.treatment.melody == "dropped" else None
    why = f"where the fourths land{', a quaver early' if at < start else ''}"
    following = context.melody.after(float(max(at, start)))
    moves = min(until, following.beat) if following is not None else until
    length = max(moves - at, HALF)
    return Strike(at, length, harmony, bar.treatment, why, context.comping.placement.arrival, aim=aim, meant=until - at)


def _aim(context: CompingContext, start: Fraction, end: Fraction) -> int | None:
    """The note that the melody holds longest in a bar, had it not been dropped."""
    inside = [n for n in context.form.melody if n.beat < end and n.beat + n.length > start]
    longest = max(inside, key=lambda n: min(end, n.beat + n.length) - max(start, n.beat), default=None)
    return longest.pitch.midi if longest else None


def _ways(context: CompingContext, bar: BarPlan) -> Sequence[Route]:
    """Routes for a bar of its length; a step a beat where none is written."""
    length = bar.end - bar.start
    known = context.comping.slides.routes.get(f"{float(length):g}")
    if known and not context.form.metre.compound:
        return known
    count = int(length / context.form.metre.pulse)
    steps = tuple((float(n * context.form.metre.pulse), count - n) for n in range(count))
    return [Route("a step a beat", steps)]


def _liking(context: CompingContext, bar: BarPlan, way: Route) -> float:
    """A route is liked where it leaves the melody's moving notes alone, and if it wasn't taken lately."""
    rules = context.comping.placement
    struck_with = sum(context.moves(bar.at + at, rules.clear) for at, _ in way.steps)
    again = sum(name == way.name for name in context.used[-3:])
    return context.chance.gauss(0, rules.chance) - rules.lost * struck_with - 2 * rules.worn * again


# --- which notes they have --------------------------------------------------------------------------------------------


def with_slides(
    voicings: VoicingPreferences,
    spread: float,
    struck: Sequence[Strike],
    chosen: Sequence[Voicing | None],
    above: MelodyIndex,
    under: Sequence[Sequence[int]],
    chance: random.Random,
) -> list[Voicing | None]:
    """The voicings, with those filled in that slide towards the next arrival.

    A route comes from above or from below: the side on which more of it leaves the melody and the bass alone, and then
    the one that begins nearer the hand, give or take some chance.

    Parameters
    ----------
    voicings : VoicingPreferences
    spread : float
        Standard deviation, in semitones, of the chance in choosing the side.
    struck : sequence of Strike
    chosen : sequence of Voicing or None
        The voicings chosen so far, one a strike; None where one slides.
    above : MelodyIndex
        The melody that sounds meanwhile.
    under : sequence of sequence of int
        For each strike the MIDI numbers of the bass under it.
    chance : random.Random
    """
    result = list(chosen)
    n = 0
    while n < len(struck):
        if not struck[n].slides:
            n += 1
            continue
        end = next((k for k in range(n, len(struck)) if not struck[k].slides), len(struck))
        arrival = result[end] if end < len(struck) else None
        if arrival is not None and arrival.shape.family in struck[end].treatment.chords:  # thinned, it's no fourths
            goal = str(struck[end].harmony.name(arrival.midi[-1] % 12))
            hand = next((v.midi[-1] for v in reversed(result[:n]) if v is not None), arrival.midi[-1])
            rows = [
                _unbroken([_at(voicings, struck[k], arrival, sign, goal, above, under[k]) for k in range(n, end)])
                for sign in (1, -1)
            ]
            best: list[Voicing | None] = max(rows, key=lambda row: _reach(row, hand, spread, chance))
            result[n:end] = best
        n = max(end, n + 1)
    return result


def _reach(row: Sequence[Voicing | None], hand: int, spread: float, chance: random.Random) -> tuple[int, float]:
    """How much of a route is there, and how near it begins to where the hand's top note was."""
    there = [voicing for voicing in row if voicing is not None]
    leap = abs(there[0].midi[-1] - hand) if there else 0
    return len(there), chance.gauss(0, spread) - leap


def _unbroken(row: list[Voicing | None]) -> list[Voicing | None]:
    """What of a route comes after its last hole, so that it slides to the arrival without a skip."""
    start = max((k + 1 for k, voicing in enumerate(row) if voicing is None), default=0)
    return [None] * start + row[start:]


def _at(
    voicings: VoicingPreferences,
    strike: Strike,
    arrival: Voicing,
    sign: int,
    goal: str,
    above: MelodyIndex,
    under: Sequence[int],
) -> Voicing | None:
    """The arrival's own shape, some semitones away, or None where it would touch the melody, the bass or the mud."""
    away = sign * (strike.away or 0)
    midi = tuple(note + away for note in arrival.midi)
    sounding = [n.pitch.midi for n in above.sounding(float(strike.beat), float(strike.beat + strike.length))]
    if muddy(voicings, midi) or not clear(voicings, midi, sounding, under):
        return None
    why = f"sliding {'down' if away > 0 else 'up'} by semitones to {goal} on top, {abs(away)} to go"
    if (strike.away or 0) <= 0:
        why = f"sliding past {goal} by a semitone and back" if away else f"sliding through {goal}"
    return Voicing(replace(arrival.shape, why=why), midi, 0.0)
