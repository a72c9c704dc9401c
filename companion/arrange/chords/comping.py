"""Where the chords fall: in the melody's gaps, answering, with its accents, freely behind a soloist, or held.

Conventions: beats and lengths in quarters from the first downbeat of the form, written (swing is put on later). A
chord that comes early lies on the quaver before its place and is the chord to come.

Method: for every four bars of a section a riff may be chosen (:mod:`companion.arrange.chords.riffs`). In the other
bars, and where it finds no room, the rhythms of ``comping.toml`` and those that the melody has just had are laid over
what the melody does; the one that loses the least is drawn, with some chance, and none too often. Common practice:
where the melody moves, the chord waits; where it holds or rests, the chord answers.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.chords.context import (
    HALF,
    TINY,
    BarPlan,
    CompingContext,
    Found,
    RoomPlace,
    Strike,
    bar_plan,
    free_from,
)
from companion.arrange.chords.held import held_strikes
from companion.arrange.chords.liking import Liking, rhythm_liking
from companion.arrange.chords.rhythms import CompingRhythm, fours, pushed, rhythms_for, taken_up, turns
from companion.arrange.chords.riffs import PastBar, Riff, StruckPlaces, kept, places_of, riff, worn
from companion.arrange.chords.room import meant, room_for, strike_of
from companion.arrange.chords.sliding import sliding_strikes
from companion.arrange.harmony import harmonies
from companion.arrange.melody.part import MelodyIndex
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from companion.preferences.comping import CompingPreferences


def strikes(
    form: Form, plan: TreatmentPlan, melody: MelodyIndex, *, chorus: int, seed: int, liking: Liking | None = None
) -> list[Strike]:
    """Moments at which chords are struck over one chorus, in order.

    Parameters
    ----------
    form : Form
    plan : sequence of (start, end, Treatment)
        Which treatment rules from where to where, in quarters.
    melody : MelodyIndex
        The melody that sounds meanwhile; empty behind a soloist.
    chorus, seed : int
        The same numbers give the same strikes.
    liking : Liking, optional
        The player's own rhythms, where they are wished for.
    """
    chords = harmonies(form)
    chance = random.Random(f"comping/{seed}/{chorus}")
    comping = preferences(CompingPreferences)
    starts = [float(h.start) for h in chords]
    context = CompingContext(
        form,
        melody,
        chords,
        starts,
        float(form.length),
        chance,
        comping,
        _pedalled(),
        _rooms(form, melody, comping),
        liking,
    )
    share = comping.placement.lead_in
    end = form.length - (HALF if _leads_in(share, seed, chorus + 1) else 0)
    found: list[Strike] = []
    recent: list[PastBar] = []
    if _leads_in(share, seed, chorus):
        found += _across(context, bar_plan(context, plan, 0))
    bars = [_shortened(bar_plan(context, plan, n), form.length, float(end)) for n in range(len(form.bars))]
    begins = fours(form, comping.phrases.bars)
    going: Riff = {}
    for n, bar in enumerate(bars):
        fresh = bar.start in begins
        if fresh:
            until = next((k for k in range(n + 1, len(bars)) if bars[k].start in begins), len(bars))
            going = riff(context, [(k, bars[k]) for k in range(n, until)], recent)
        name, struck = _struck(context, bar, going.get(n), fresh, recent, found)
        recent.append(PastBar(name, struck_at(bar, struck)))
        found += struck
    silent = [h.start for h in chords if not h.written]
    found = [one for one in found if context.harmony(float(one.beat)).written]
    return [
        replace(one, length=min([one.length, after - one.beat, *(s - one.beat for s in silent if s > one.beat)]))
        for one, after in zip(found, [*(f.beat for f in found[1:]), end][: len(found)], strict=True)
    ]


@lru_cache(maxsize=32)
def _rooms(form: Form, melody: MelodyIndex, comping: CompingPreferences) -> dict[RoomPlace, Found | None]:
    """What room there is for chords, as far as it was looked for: every chorus and seed asks for much the same."""
    return {}


def _shortened(bar: BarPlan, length: Fraction, end: float) -> BarPlan:
    """The last bar of the form ends where the next chorus begins, if that comes early."""
    return replace(bar, size=end - bar.at) if bar.end == length else bar


def _leads_in(share: float, seed: int, chorus: int) -> bool:
    """Whether a chorus begins with a chord on the quaver before its first downbeat; the one before it makes room.

    Before the first chorus there is an introduction, which leads in itself, or nothing.
    """
    return chorus > 1 and random.Random(f"leading in/{seed}/{chorus}").random() < share


def _pedalled() -> frozenset[str]:
    """Patterns of the bass over which the pedal is down."""
    patterns = preferences(BassPreferences).patterns
    return frozenset(name for name, pattern in patterns.items() if pattern.pedal)


def _across(context: CompingContext, first: BarPlan) -> list[Strike]:
    """The first chord of a chorus on the quaver before it, where the melody leaves room."""
    if first.placement not in ("gaps", "answering", "free"):
        return []
    whole = replace(first, at=0.0, size=context.length)
    found = room_for(context, whole, context.length - 0.5, context.comping.placement.answer)
    if found is None or not found.early:
        return []
    length = Fraction(context.comping.placement.answer).limit_denominator(24)
    return [strike_of(context, first, (-HALF, length), found, "leads in")]


def struck_at(bar: BarPlan, struck: Sequence[Strike]) -> StruckPlaces:
    """Where a bar is struck."""
    return places_of((float(strike.beat - bar.start), 0.0) for strike in struck)


def _struck(
    context: CompingContext,
    bar: BarPlan,
    going: CompingRhythm | None,
    fresh: bool,
    recent: Sequence[PastBar],
    before: Sequence[Strike],
) -> tuple[str, list[Strike]]:
    """The rhythm chosen for a bar, and its strikes.

    ``going`` is the rhythm that a riff has for it, ``fresh`` whether it begins four bars, in which what the last bars
    had isn't gone on with; ``before`` are the strikes of the bars before it.
    """
    if bar.placement == "held":
        return "held", held_strikes(context, bar)
    if bar.placement == "sliding":
        return "sliding", sliding_strikes(context, bar, before)
    if bar.placement == "accents" and (accents := _accents(context, bar)):
        return "accents", accents
    last = free_from(context.comping.placement, before)
    name, struck = _of_a_riff(context, bar, going, last, fresh, recent)
    if not struck:
        name, struck = _of_a_rhythm(context, bar, last, fresh, recent)
    if not any(strike.beat >= bar.start for strike in struck):
        open_from = free_from(context.comping.placement, struck) if struck else last
        answer = _answer(context, bar, open_from, fresh, recent)
        if answer is not None and (bar.rests or not _runs_on(context, struck_at(bar, [answer]), fresh, recent)):
            return f"answer {answer.beat - bar.start}", [*struck, answer]
    return name, [*struck, *_unheard(context, bar, struck, last)] if bar.placement == "answering" else struck


def _of_a_riff(
    context: CompingContext,
    bar: BarPlan,
    going: CompingRhythm | None,
    last: float,
    fresh: bool,
    recent: Sequence[PastBar],
) -> tuple[str, list[Strike]]:
    """The riff's rhythm, where all of it finds room; reached a quaver early now and then where the harmony turns."""
    if going is None:
        return "waiting", []
    ways = [going]
    if turns(context, bar.start) and context.chance.random() < context.comping.phrases.pushed_riff:
        ways.insert(0, pushed(going))
    for way in ways:
        goes_on = way is not going and _runs_on(context, places_of(way.floats), fresh, recent)
        if not goes_on and len(there := kept(context, bar, way, last)) == len(way.hits):
            return going.name, _taken(context, bar, replace(way, name=f"{way.name}, a riff"), there)
    return "waiting", []


def _of_a_rhythm(
    context: CompingContext, bar: BarPlan, last: float, fresh: bool, recent: Sequence[PastBar]
) -> tuple[str, list[Strike]]:
    """The rhythm that suits a bar best, and what of it finds room."""
    own = rhythms_for(context, bar)
    pool = [*own, *(taken_up(context, bar) if bar.placement in ("gaps", "answering") else ())]
    if turns(context, bar.start):
        pool += [pushed(one) for one in own if not one.comes_early]
    choices = [
        (_liking(context, one, there, recent), one, there)
        for one in pool
        if (there := kept(context, bar, one, last))
        and not _runs_on(context, places_of(one.floats[n] for n, _ in there), fresh, recent)
    ]
    if not choices:
        return "waiting", []
    _, one, there = max(choices, key=lambda choice: choice[0])
    return one.name, _taken(context, bar, one, there)


def _unheard(context: CompingContext, bar: BarPlan, struck: Sequence[Strike], last: float) -> list[Strike]:
    """Where chords answer, the next one is struck as the harmony moves, if the melody holds and no other says it."""
    found: list[Strike] = []
    for harmony in context.within(bar.start, bar.end):
        heard = any(strike.harmony.start == harmony.start or strike.beat >= harmony.start for strike in struck)
        if heard or harmony.start <= bar.start or harmony.end - harmony.start < 2:
            continue
        at = float(harmony.start)
        room = room_for(context, bar, at, float(harmony.end) - at) if at >= last - TINY else None
        if room is not None and not any(at - float(strike.beat) < 1 - TINY for strike in struck):
            hit = harmony.start - bar.start, harmony.end - harmony.start
            found.append(strike_of(context, bar, hit, room, "as the harmony moves"))
    return found


def _runs_on(context: CompingContext, places: StruckPlaces, fresh: bool, recent: Sequence[PastBar]) -> bool:
    """Whether a rhythm would go on like a machine: that of the last bars, or in turn with another.

    Where something new begins it may be neither that of the last bar nor of the one before.
    """
    running = context.comping.placement.same_rhythm
    had = [one.places for one in recent]
    if not places or not had:
        return False
    if fresh:
        return places in had[-2:]
    in_turn = had[-4::2] == [places, places] and had[-3:-2] == had[-1:]
    return in_turn or had[-running:] == [places] * running


def _liking(
    context: CompingContext, rhythm: CompingRhythm, there: Sequence[tuple[int, Found]], recent: Sequence[PastBar]
) -> float:
    """How well a rhythm suits a bar: what it keeps, what it loses, how fresh it is, where it is early, some chance."""
    rules, taste = context.comping.placement, context.comping.phrases
    lost = len(rhythm.hits) - len(there)
    liking = rules.kept * min(len(there), 2) - rules.lost * lost
    liking -= worn(context, places_of(rhythm.floats[n] for n, _ in there), recent)
    liking += rhythm_liking(context.liking, context.form, [rhythm.floats[n][0] for n, _ in there])
    if rhythm.taken_up and len(there) > 1:
        liking += taste.taken_up
    for _, found in there:
        if found.early:
            liking += taste.push if turns(context, found.harmony.start) else -taste.idle_push
    return liking + context.chance.gauss(0, rules.chance)


def _taken(
    context: CompingContext, bar: BarPlan, rhythm: CompingRhythm, there: Sequence[tuple[int, Found]]
) -> list[Strike]:
    """The strikes of what is kept of a rhythm; with less than all of it, it is no longer that rhythm."""
    name = rhythm.name if len(there) == len(rhythm.hits) else ""
    return [strike_of(context, bar, rhythm.hits[n], found, name) for n, found in there]


def _answer(
    context: CompingContext, bar: BarPlan, last: float, fresh: bool, recent: Sequence[PastBar]
) -> Strike | None:
    """A chord in the best gap of a bar that no rhythm fits; a small gap will do after some silence.

    Rather at a place that one of the last two bars had, so that it is heard as its echo.
    """
    rules = context.comping.placement
    quiet = bar.at - last >= rules.quiet_bars * bar.size
    best: tuple[float, Fraction, Found] | None = None
    for n in range(int(2 * bar.size)):
        at = bar.at + n / 2
        found = room_for(context, bar, at, rules.answer, must=quiet or bar.rests) if at >= last - TINY else None
        if found is None or found.length < 0.5 - TINY:
            continue
        worth = min(found.length, 1.5) + context.chance.random() - (rules.on_one if n == 0 else 0.0)
        worth += context.comping.phrases.echo * any(n / 2 in one.places for one in recent[-2:])
        worth -= rules.lost * _runs_on(context, (n / 2,), fresh, recent)
        worth -= context.comping.phrases.idle_push * (found.early and not turns(context, found.harmony.start))
        if best is None or worth > best[0]:
            best = worth, n * HALF, found
    if best is None:
        return None
    return strike_of(context, bar, (best[1], Fraction(rules.answer).limit_denominator(24)), best[2], "answers")


def _accents(context: CompingContext, bar: BarPlan) -> list[Strike]:
    """Chords with the melody's accents: its longer notes, and those that come early."""
    found: list[Strike] = []
    accent = context.comping.placement.accent
    for note in context.melody.within(float(bar.start), float(bar.end)):
        early = note.beat.denominator == 2 and note.length >= 1
        if (note.length >= 1 or early) and (not found or note.beat - found[-1].beat >= 1):
            harmony, until, _ = meant(context, float(note.beat), float(note.length))
            length = min(note.length, Fraction(until - float(note.beat)).limit_denominator(24))
            if harmony.written and length >= HALF:
                found.append(Strike(note.beat, length, harmony, bar.treatment, "with the melody's accent", accent))
    return found
