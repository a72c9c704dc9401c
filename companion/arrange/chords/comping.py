"""Where the chords fall: in the melody's gaps, answering, with its accents, freely behind a soloist, or held.

Conventions: beats and lengths in quarters from the first downbeat of the form, written (swing is put on later). A
chord that comes early lies on the quaver before its place and is the chord to come.

Method: bar by bar the rhythms of ``comping.toml`` are laid over what the melody does; the one that loses the least is
drawn, with some chance, and none too often. Common practice: where the melody moves, the chord waits; where it holds
or rests, the chord answers.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache

from companion.arrange.chords.context import (
    FAR,
    HALF,
    TINY,
    BarPlan,
    CompingContext,
    Strike,
    bar_plan,
    free_from,
    least_gap,
)
from companion.arrange.chords.held import held_strikes
from companion.arrange.chords.sliding import sliding_strikes
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody.part import MelodyIndex
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from companion.preferences.comping import CompingPreferences
from companion.preferences.comping import Rhythm as WrittenRhythm


@dataclass(frozen=True)
class CompingRhythm:
    """A rhythm of one bar: places and lengths in quarters from its bar line."""

    name: str
    hits: tuple[tuple[Fraction, Fraction], ...]
    floats: tuple[tuple[float, float], ...]
    """The hits again, for comparing."""


def strikes(form: Form, plan: TreatmentPlan, melody: MelodyIndex, *, chorus: int, seed: int) -> list[Strike]:
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
    """
    chords = harmonies(form)
    chance = random.Random(f"comping/{seed}/{chorus}")
    comping = preferences(CompingPreferences)
    starts = [float(h.start) for h in chords]
    context = CompingContext(form, melody, chords, starts, float(form.length), chance, comping, _pedalled())
    share = comping.placement.lead_in
    end = form.length - (HALF if _leads_in(share, seed, chorus + 1) else 0)
    found: list[Strike] = []
    recent: list[_PastBar] = []
    if _leads_in(share, seed, chorus):
        found += _across(context, bar_plan(context, plan, 0))
    for n in range(len(form.bars)):
        bar = bar_plan(context, plan, n)
        if bar.end == form.length:
            bar = replace(bar, size=float(end - bar.start))
        name, struck = _struck(context, bar, recent, found)
        recent.append(_PastBar(name, _places(bar, struck)))
        found += struck
    silent = [h.start for h in chords if not h.written]
    found = [one for one in found if context.harmony(float(one.beat)).written]
    return [
        replace(one, length=min([one.length, after - one.beat, *(s - one.beat for s in silent if s > one.beat)]))
        for one, after in zip(found, [*(f.beat for f in found[1:]), end][: len(found)], strict=True)
    ]


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
    found = _room_for(context, whole, context.length - 0.5, context.comping.placement.answer)
    if found is None or not found.early:
        return []
    length = Fraction(context.comping.placement.answer).limit_denominator(24)
    return [_strike(context, first, (-HALF, length), found, "leads in")]


@dataclass(frozen=True)
class _PastBar:
    """What a bar had: the name of its rhythm, and where it was struck, in quarters from its bar line."""

    name: str
    places: tuple[float, ...]


def _places(bar: BarPlan, struck: Sequence[Strike]) -> tuple[float, ...]:
    return tuple(float(strike.beat - bar.start) for strike in struck if strike.beat >= bar.start)


def _struck(
    context: CompingContext, bar: BarPlan, recent: Sequence[_PastBar], before: Sequence[Strike]
) -> tuple[str, list[Strike]]:
    """The rhythm chosen for a bar, and its strikes; ``before`` are those of the bars before it."""
    if bar.placement == "held":
        return "held", held_strikes(context, bar)
    if bar.placement == "sliding":
        return "sliding", sliding_strikes(context, bar, before)
    if bar.placement == "accents" and (accents := _accents(context, bar)):
        return "accents", accents
    rules = context.comping.placement
    last = free_from(rules, before)
    choices = [
        (_liking(context, rhythm, kept, recent), rhythm, kept)
        for rhythm in rhythms(context.comping, bar.treatment.rhythms, str(context.form.metre), bar.end - bar.start)
        if (kept := _kept(context, bar, rhythm, last)) and not _worn(_inside(rhythm, kept), recent, rules.same_rhythm)
    ]
    name, struck = "waiting", list[Strike]()
    if choices:
        _, rhythm, kept = max(choices, key=lambda choice: choice[0])
        name, struck = rhythm.name, _taken(context, bar, rhythm, kept)
    if not any(strike.beat >= bar.start for strike in struck):
        answer = _answer(context, bar, free_from(rules, struck) if struck else last)
        if answer is not None and (bar.rests or not _worn(_places(bar, [answer]), recent, rules.same_rhythm)):
            return f"answer {answer.beat - bar.start}", [*struck, answer]
    return name, [*struck, *_unheard(context, bar, struck, last)] if bar.placement == "answering" else struck


def _unheard(context: CompingContext, bar: BarPlan, struck: Sequence[Strike], last: float) -> list[Strike]:
    """Where chords answer, the next one is struck as the harmony moves, if the melody holds and no other says it."""
    found: list[Strike] = []
    for harmony in context.within(bar.start, bar.end):
        heard = any(strike.harmony is harmony or strike.beat >= harmony.start for strike in struck)
        if heard or harmony.start <= bar.start or harmony.end - harmony.start < 2:
            continue
        at = float(harmony.start)
        room_for = _room_for(context, bar, at, float(harmony.end) - at) if at >= last - TINY else None
        if room_for is not None and not any(at - float(strike.beat) < 1 - TINY for strike in struck):
            hit = harmony.start - bar.start, harmony.end - harmony.start
            found.append(_strike(context, bar, hit, room_for, "as the harmony moves"))
    return found


@cache
def rhythms(comping: CompingPreferences, name: str, metre: str, length: Fraction) -> tuple[CompingRhythm, ...]:
    """The rhythms of a set for a bar: by its metre, else by its length in quarters, else as the swing set has them."""
    sets = comping.sets[name].bars, comping.swing.bars
    for key in (metre, f"{float(length):g}"):
        for source in sets:
            if key in source and (key != metre or length == _bar_of(metre)):
                return tuple(_exact(one) for one in source[key])
    return (_rhythm("on 1", ((Fraction(0), length * Fraction(9, 10)),)),)


def _rhythm(name: str, hits: tuple[tuple[Fraction, Fraction], ...]) -> CompingRhythm:
    return CompingRhythm(name, hits, tuple((float(at), float(length)) for at, length in hits))


def _bar_of(metre: str) -> Fraction:
    beats, kind = metre.split("/")
    return Fraction(4 * int(beats), int(kind))


def _exact(one: WrittenRhythm) -> CompingRhythm:
    hits = ((Fraction(at).limit_denominator(24), Fraction(long).limit_denominator(24)) for at, long in one.hits)
    return _rhythm(one.name, tuple(hits))


def _inside(rhythm: CompingRhythm, kept: Sequence[tuple[int, _Found]]) -> tuple[float, ...]:
    """The places of what is kept of a rhythm, but for those in the bar before."""
    return tuple(rhythm.floats[n][0] for n, _ in kept if rhythm.floats[n][0] >= 0)


def _worn(places: tuple[float, ...], recent: Sequence[_PastBar], running: int) -> bool:
    """Whether the last bars, ``running`` of them, were struck at these very places."""
    return bool(places) and len(recent) >= running and {one.places for one in recent[-running:]} == {places}


def _liking(
    context: CompingContext, rhythm: CompingRhythm, kept: Sequence[tuple[int, _Found]], recent: Sequence[_PastBar]
) -> float:
    """How well a rhythm suits a bar: what it keeps, what it loses, how fresh it is, and a little chance."""
    rules = context.comping.placement
    lost = len(rhythm.hits) - len(kept)
    worn = sum(one.name == rhythm.name for one in recent[-4:])
    return (
        rules.kept * min(len(kept), 2) - rules.lost * lost - rules.worn * worn + context.chance.gauss(0, rules.chance)
    )


def _kept(context: CompingContext, bar: BarPlan, rhythm: CompingRhythm, last: float) -> list[tuple[int, _Found]]:
    """What of a rhythm there is room for from a beat on: which of its hits, and what they would be."""
    kept: list[tuple[int, _Found]] = []
    for n, (at, length) in enumerate(rhythm.floats):
        beat = bar.at + at
        if beat >= last - TINY and (found := _room_for(context, bar, beat, length)) is not None:
            kept.append((n, found))
            last = beat + least_gap(context.comping.placement, found.early or at < 0)
    return kept


def _taken(
    context: CompingContext, bar: BarPlan, rhythm: CompingRhythm, kept: Sequence[tuple[int, _Found]]
) -> list[Strike]:
    """The strikes of what is kept of a rhythm; with less than all of it, it is no longer that rhythm."""
    name = rhythm.name if len(kept) == len(rhythm.hits) else ""
    return [_strike(context, bar, rhythm.hits[n], found, name) for n, found in kept]


@dataclass(frozen=True)
class _Found:
    """What a strike would be: its chord, how long it may sound, whether it comes a quaver early."""

    harmony: Harmony
    length: float
    early: bool


def _room_for(context: CompingContext, bar: BarPlan, at: float, length: float, must: bool = False) -> _Found | None:
    """A chord at a beat, where melody and harmony leave room for it."""
    if at < -TINY or at >= bar.at + bar.size - TINY:
        return None
    free = _free(context, at, bar.placement, must) if bar.placement in ("gaps", "answering") else FAR
    shortest = context.comping.placement.shortest
    if free < shortest:
        return None
    harmony, until, early = _meant(context, at, min(length, free))
    if not harmony.written:
        return None
    length = min(length, free, until - at)
    if not must:
        length = min(length, _before_fourth(context, harmony, at, length))
    return _Found(harmony, length, early) if length >= shortest else None


def _strike(context: CompingContext, bar: BarPlan, hit: tuple[Fraction, Fraction], found: _Found, name: str) -> Strike:
    at, length = hit
    meant = length if bar.placement == "answering" and bar.treatment.bass in context.pedalled else Fraction(0)
    if float(length) > found.length + TINY:
        length = Fraction(found.length).limit_denominator(24)
    reason = name
    if found.early:
        said = "" if name.startswith("the quaver before") or not name else f"{name}, "
        reason = f"{said}a quaver before {found.harmony.chord.symbol} begins"
    return Strike(bar.start + at, length, found.harmony, bar.treatment, reason, meant=meant, ahead=at < 0)


def _meant(context: CompingContext, at: float, length: float) -> tuple[Harmony, float, bool]:
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


def _answer(context: CompingContext, bar: BarPlan, last: float) -> Strike | None:
    """A chord in the best gap of a bar that no rhythm fits; a small gap will do after some silence."""
    rules = context.comping.placement
    quiet = bar.at - last >= rules.quiet_bars * bar.size
    best: tuple[float, Fraction, _Found] | None = None
    for n in range(int(2 * bar.size)):
        at = bar.at + n / 2
        found = _room_for(context, bar, at, rules.answer, must=quiet or bar.rests) if at >= last - TINY else None
        if found is None or found.length < 0.5 - TINY:
            continue
        worth = min(found.length, 1.5) + context.chance.random() - (rules.on_one if n == 0 else 0.0)
        if best is None or worth > best[0]:
            best = worth, n * HALF, found
    if best is None:
        return None
    return _strike(context, bar, (best[1], Fraction(rules.answer).limit_denominator(24)), best[2], "answers")


def _accents(context: CompingContext, bar: BarPlan) -> list[Strike]:
    """Chords with the melody's accents: its longer notes, and those that come early."""
    found: list[Strike] = []
    accent = context.comping.placement.accent
    for note in context.melody.within(float(bar.start), float(bar.end)):
        early = note.beat.denominator == 2 and note.length >= 1
        if (note.length >= 1 or early) and (not found or note.beat - found[-1].beat >= 1):
            harmony, until, _ = _meant(context, float(note.beat), float(note.length))
            length = min(note.length, Fraction(until - float(note.beat)).limit_denominator(24))
            if harmony.written and length >= HALF:
                found.append(Strike(note.beat, length, harmony, bar.treatment, "with the melody's accent", accent))
    return found
