"""Fourths that slide in parallel by semitones, whatever the chords say, to an arrival that fits.

By turns a bar has a route and a bar the arrival, so that the last bar of a section is one. A route (``comping.toml``)
says at which places the fourths are so many semitones away; from above or from below is chosen by what melody and bass
leave room for, and by where the hand is. Over eight bars the routes answer one another: the second comes from the other
side, the third has the first one's rhythm and the fourth the second's, each from the other side. Where the melody is
dropped, the arrival's top note is the one that the melody would have had there.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. Source: common practice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from companion.arrange.chords.context import HALF, BarPlan, CompingContext, Strike
from companion.arrange.chords.shapes import Shape
from companion.arrange.chords.soundness import clear, muddy
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import Harmony
from companion.arrange.melody.part import MelodyIndex
from companion.music.kinds import Degree
from companion.preferences.comping import Route
from companion.preferences.voicings import VoicingPreferences

ROUTES = 4
"""In eight bars, that answer one another."""

# --- where they are struck --------------------------------------------------------------------------------------------


def sliding_strikes(context: CompingContext, bar: BarPlan, before: Sequence[Strike]) -> list[Strike]:
    """The strikes of a bar: a route to the next, or an arrival; ``before`` are the strikes of the bars before."""
    return _arrival(context, bar, before) if bar.left % 2 else _route(context, bar)


def _route(context: CompingContext, bar: BarPlan) -> list[Strike]:
    way, answers = _way(context, bar)
    context.used.append(way.name)
    lands = bar.end + Fraction(way.lands).limit_denominator(24)
    places = [bar.start + Fraction(at).limit_denominator(24) for at, _ in way.steps]
    context.routes.append(places[0])
    found = [
        Strike(at, until - at, context.harmony(float(at)), bar.treatment, way.name, away=away, answers=answers)
        for at, until, (_, away) in zip(places, [*places[1:], lands], way.steps, strict=True)
    ]
    if lands < bar.end:
        found.append(_landing(context, bar, lands, bar.end, bar.end + bar.end - bar.start))
    return found


def _way(context: CompingContext, bar: BarPlan) -> tuple[Route, Fraction | None]:
    """The route for a bar, and where the one began that it answers."""
    ways = _ways(context, bar)
    number = (ROUTES - 1) - (bar.left - 1) % (2 * ROUTES) // 2
    if 2 <= number <= len(context.routes):
        call = next((way for way in ways if way.name == context.used[-2]), None)
        if call is not None and not _struck_with(context, bar, call):
            return call, context.routes[-2]
    way = max(ways, key=lambda way: _liking(context, bar, way))
    return way, context.routes[-1] if number and context.routes else None


def _arrival(context: CompingContext, bar: BarPlan, before: Sequence[Strike]) -> list[Strike]:
    there = bool(before) and not before[-1].slides and before[-1].beat + before[-1].length > bar.start
    found = [] if there else [_landing(context, bar, bar.start, bar.start, bar.end)]
    further = (h for h in context.within(bar.start, bar.end) if h.start > bar.start)
    return found + [Strike(h.start, min(h.end, bar.end) - h.start, h, bar.treatment, "and on") for h in further]


def _landing(context: CompingContext, bar: BarPlan, at: Fraction, start: Fraction, end: Fraction) -> Strike:
    """The chord that a route leads to: the one of the bar from ``start`` to ``end``."""
    harmony = context.harmony(float(start))
    until = min(end, start + harmony.end - harmony.start if harmony.start >= start else harmony.end)
    aim = None if _sings(context, start, end) else _aim(context, start, end)
    why = f"where the fourths land{', a quaver early' if at < start else ''}"
    following = context.melody.after(float(max(at, start)))
    moves = min(until, following.beat) if following is not None else until
    length = max(moves - at, HALF)
    return Strike(at, length, harmony, bar.treatment, why, context.comping.placement.arrival, aim=aim, meant=until - at)


def _sings(context: CompingContext, start: Fraction, end: Fraction) -> bool:
    """Whether the melody sounds in a bar, a pickup to the next chorus apart."""
    return any(n.beat < context.melody.home for n in context.melody.sounding(float(start), float(end)))


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
    again = sum(name == way.name for name in context.used[-3:])
    lost = rules.lost * _struck_with(context, bar, way)
    return context.chance.gauss(0, rules.chance) - lost - 2 * rules.worn * again


def _struck_with(context: CompingContext, bar: BarPlan, way: Route) -> int:
    """How many chords of a route are struck with a moving melody note."""
    return sum(context.moves(bar.at + at, context.comping.placement.clear) for at, _ in way.steps)


# --- where they land --------------------------------------------------------------------------------------------------


def landings(
    voicings: VoicingPreferences, strike: Strike, found: Sequence[Voicing], above: MelodyIndex, bass: Sequence[int]
) -> list[Voicing]:
    """Of the voicings of an arrival those with the note on top to which it is to slide; fourths under it, if none has.

    Parameters
    ----------
    voicings : VoicingPreferences
    strike : Strike
    found : sequence of Voicing
        What may be struck there.
    above : MelodyIndex
        The melody that sounds meanwhile.
    bass : sequence of int
        MIDI numbers of the bass that sound under it.
    """
    if strike.aim is None:
        return list(found)
    families = strike.treatment.chords
    aimed = [v for v in found if v.midi[-1] % 12 == strike.aim % 12 and v.shape.family in families]
    return aimed or _rows_under(voicings, strike, strike.aim, above, bass) or list(found)


def _rows_under(
    voicings: VoicingPreferences, strike: Strike, aim: int, above: MelodyIndex, bass: Sequence[int]
) -> list[Voicing]:
    """Three notes a fourth apart, or nearly, under a top note in any octave: tones of the scale before others."""
    register, harmony = voicings.register_of_the_melody, strike.harmony
    sounding = [n.pitch.midi for n in above.sounding(float(strike.beat), float(strike.beat + strike.length))]
    found = []
    for top in range(aim % 12, register.highest + 1, 12):
        for upper, lower in _FOURTHS:
            midi = (top - upper - lower, top - upper, top)
            inside = register.lowest <= midi[0] <= register.lowest_at_most
            if inside and not muddy(voicings, midi) and clear(voicings, midi, sounding, bass):
                strange = sum(note % 12 not in harmony.scale or note % 12 in harmony.avoid for note in midi[:2])
                price = voicings.costs.astray * strange + abs(upper - 5) + abs(lower - 5)
                price += voicings.costs.astray_semitone * abs(top - aim)
                degrees = tuple(_degree(harmony, note % 12) for note in midi)
                shape = Shape(strike.treatment.chords[0], "fourths under the melody's note", degrees, 0, 0.0)
                found.append(Voicing(shape, midi, price))
    return found


_FOURTHS = ((5, 5), (5, 6), (6, 5), (5, 4), (4, 5))
"""Semitones from the top note down to the middle one, and on to the lowest."""


def _degree(harmony: Harmony, pc: int) -> Degree:
    return harmony.tones.get(pc) or harmony.scale.get(pc) or Degree(1, (pc - harmony.root) % 12)


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

    A route comes from above or from below: the side on which more of it leaves the melody and the bass alone; then the
    other side than the route that it answers; and then the one that begins nearer the hand, give or take some chance.

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
    sides: dict[Fraction, int] = {}
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
            rows = {
                sign: _unbroken([_at(voicings, struck[k], arrival, sign, goal, above, under[k]) for k in range(n, end)])
                for sign in (1, -1)
            }
            call = struck[n].answers
            other = -sides[call] if call in sides else 0
            side = max(rows, key=lambda sign: _reach(rows[sign], sign == other, hand, spread, chance))
            sides[struck[n].beat] = side
            result[n:end] = rows[side]
        n = max(end, n + 1)
    return result


def _reach(
    row: Sequence[Voicing | None], answers: bool, hand: int, spread: float, chance: random.Random
) -> tuple[int, bool, float]:
    """How much of a route is there, whether it answers, how near it begins to where the hand's top note was."""
    there = [voicing for voicing in row if voicing is not None]
    leap = abs(there[0].midi[-1] - hand) if there else 0
    return len(there), answers, chance.gauss(0, spread) - leap


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
