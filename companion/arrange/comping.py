"""Where the chords fall: in the melody's gaps, answering, with its accents, freely behind a soloist, or held.

Conventions: beats and lengths in quarters from the first downbeat of the form, written (swing is put on later). A
chord that comes early lies on the quaver before its place and is the chord to come.

Method: bar by bar the rhythms of ``comping.toml`` are laid over what the melody does; the one that loses the least is
drawn, with some chance, and none too often. Common practice: where the melody moves, the chord waits; where it holds
or rests, the chord answers.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from typing import Any

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody import Line
from companion.arrange.tables import table
from companion.arrange.treatments import Plan, Treatment
from companion.chart.model import Form

HALF = Fraction(1, 2)
TINY = 1e-6
_FAR = 64.0


@dataclass(frozen=True)
class Strike:
    """A moment at which a chord is struck."""

    beat: Fraction
    length: Fraction
    harmony: Harmony
    treatment: Treatment
    reason: str
    weight: float = 1.0
    steps: int = 0
    """So many semitones before the arrival that follows, where fourths slide."""


@dataclass(frozen=True)
class Rhythm:
    """A rhythm of one bar: places and lengths in quarters from its bar line."""

    name: str
    hits: tuple[tuple[Fraction, Fraction], ...]
    floats: tuple[tuple[float, float], ...]
    """The hits again, for comparing."""


@dataclass(frozen=True)
class _Room:
    """What the chords listen to while they are placed."""

    form: Form
    melody: Line
    chords: tuple[Harmony, ...]
    starts: list[float]
    length: float
    chance: random.Random

    def harmony(self, beat: float) -> Harmony:
        return self.chords[max(0, bisect_right(self.starts, beat % self.length + TINY) - 1)]


@dataclass(frozen=True)
class _Bar:
    """One bar: where it lies, how it is to be played."""

    start: Fraction
    end: Fraction
    treatment: Treatment
    placement: str
    rests: bool
    """No melody note begins in it."""
    at: float
    size: float
    """Start and length again, for comparing."""
    left: int
    """Bars of its section from here on, this one included."""


def strikes(form: Form, plan: Plan, melody: Line, *, chorus: int, seed: int) -> list[Strike]:
    """Moments at which chords are struck over one chorus, in order.

    ``plan`` tells from where to where which treatment rules; ``melody`` is what sounds above (empty behind a soloist).
    """
    chords = harmonies(form)
    chance = random.Random(f"comping/{seed}/{chorus}")
    room = _Room(form, melody, chords, [float(h.start) for h in chords], float(form.length), chance)
    found: list[Strike] = []
    recent: list[str] = []
    for start, end in zip(form.bars, [*form.bars[1:], form.length], strict=True):
        until, treatment = next(((b, t) for a, b, t in plan if a <= start < b), plan[-1][1:])
        placement = treatment.placement
        if not melody.notes and placement in ("gaps", "answering", "accents"):
            placement = "free"
        at, size = float(start), float(end - start)
        bar = _Bar(
            start,
            end,
            treatment,
            placement,
            not melody.begins(at, at + size),
            at,
            size,
            int((until - start) / (end - start)),
        )
        name, struck = _struck(room, bar, recent, float(found[-1].beat) if found else -_FAR)
        recent.append(name)
        found += struck
    return [
        replace(one, length=min(one.length, after - one.beat))
        for one, after in zip(found, [*(f.beat for f in found[1:]), form.length][: len(found)], strict=True)
    ]


def _struck(room: _Room, bar: _Bar, recent: Sequence[str], last: float) -> tuple[str, list[Strike]]:
    """The rhythm chosen for a bar, and its strikes."""
    if bar.placement == "held":
        return "held", _held(room, bar)
    if bar.placement == "sliding":
        return "sliding", _sliding(room, bar)
    if bar.placement == "accents" and (accents := _accents(room, bar)):
        return "accents", accents
    choices = [
        (_liking(room, rhythm, kept, recent), rhythm.name, kept)
        for rhythm in rhythms(bar.treatment.rhythms, str(room.form.metre), bar.end - bar.start)
        if not _worn(rhythm.name, recent) and (kept := _kept(room, bar, rhythm, last))
    ]
    name, struck = max(choices, key=lambda choice: choice[0])[1:] if choices else ("waiting", [])
    if not any(strike.beat >= bar.start for strike in struck):
        answer = _answer(room, bar, float(struck[-1].beat) if struck else last)
        if answer is not None:
            return f"answer {answer.beat - bar.start}", [*struck, answer]
    return name, struck


@cache
def rhythms(name: str, metre: str, length: Fraction) -> tuple[Rhythm, ...]:
    """The rhythms of a set for a bar: by its metre, else by its length in quarters, else as the swing set has them."""
    data = table("comping")
    for key in (metre, f"{float(length):g}"):
        for source in (data[name], data["swing"]):
            if key in source and (key != metre or length == _bar_of(metre)):
                return tuple(_rhythm(one["name"], _exact(one["hits"])) for one in source[key])
    return (_rhythm("on 1", ((Fraction(0), length * Fraction(9, 10)),)),)


def _rhythm(name: str, hits: tuple[tuple[Fraction, Fraction], ...]) -> Rhythm:
    return Rhythm(name, hits, tuple((float(at), float(length)) for at, length in hits))


def _bar_of(metre: str) -> Fraction:
    beats, kind = metre.split("/")
    return Fraction(4 * int(beats), int(kind))


def _exact(hits: Sequence[Sequence[Any]]) -> tuple[tuple[Fraction, Fraction], ...]:
    return tuple((Fraction(at).limit_denominator(24), Fraction(long).limit_denominator(24)) for at, long in hits)


def _worn(name: str, recent: Sequence[str]) -> bool:
    running = int(table("comping")["placement"]["same-rhythm"])
    return len(recent) >= running and set(recent[-running:]) == {name}


def _liking(room: _Room, rhythm: Rhythm, kept: Sequence[Strike], recent: Sequence[str]) -> float:
    """How well a rhythm suits a bar: what it keeps, what it loses, how fresh it is, and a little chance."""
    rules = table("comping")["placement"]
    lost = len(rhythm.hits) - len(kept)
    worn = sum(name == rhythm.name for name in recent[-4:])
    return float(
        rules["kept"] * min(len(kept), 2)
        - rules["lost"] * lost
        - rules["worn"] * worn
        + room.chance.gauss(0, rules["chance"])
    )


def _kept(room: _Room, bar: _Bar, rhythm: Rhythm, last: float) -> list[Strike]:
    """What of a rhythm there is room for."""
    kept: list[Strike] = []
    for n, (at, length) in enumerate(rhythm.floats):
        if bar.at + at < last + 0.5 - TINY:
            continue
        found = _room_for(room, bar, bar.at + at, length)
        if found is not None:
            kept.append(_strike(bar, rhythm.hits[n], found, rhythm.name))
            last = bar.at + at
    return kept


@dataclass(frozen=True)
class _Found:
    """What a strike would be: its chord, how long it may sound, whether it comes a quaver early."""

    harmony: Harmony
    length: float
    early: bool


def _room_for(room: _Room, bar: _Bar, at: float, length: float, must: bool = False) -> _Found | None:
    """A chord at a beat, where melody and harmony leave room for it."""
    if at < -TINY or at >= bar.at + bar.size - TINY:
        return None
    free = _free(room, at, bar.placement, must) if bar.placement in ("gaps", "answering") else _FAR
    if free < 0.33:
        return None
    harmony, until, early = _meant(room, at, min(length, free))
    if not harmony.written:
        return None
    length = min(length, free, until - at)
    if not must:
        length = min(length, _before_fourth(room, harmony, at, length))
    return _Found(harmony, length, early) if length >= 0.33 else None


def _strike(bar: _Bar, hit: tuple[Fraction, Fraction], found: _Found, name: str) -> Strike:
    at, length = hit
    if float(length) > found.length + TINY:
        length = Fraction(found.length).limit_denominator(24)
    reason = f"{name}, a quaver early" if found.early else name
    return Strike(bar.start + at, length, found.harmony, bar.treatment, reason, 1.0 if at.denominator == 1 else 1.04)


def _meant(room: _Room, at: float, length: float) -> tuple[Harmony, float, bool]:
    """The chord of a strike, until when it rules, and whether it comes early.

    On the quaver before a chord it is the chord to come, if it sounds into it and the melody doesn't contradict.
    """
    here = room.harmony(at)
    until = at - at % room.length + float(here.end)
    off_beat = abs(at - round(at)) > TINY
    if not off_beat or until - at > 0.5 + TINY or length < 0.5 - TINY:
        return here, until, False
    coming = room.harmony(until)
    if coming.label == here.label or not coming.written:
        return here, until + (float(coming.end - coming.start) if coming.label == here.label else 0.0), False
    sounding = room.melody.classes(at, until)
    if any(pc not in coming.tones and (pc in coming.avoid or pc not in coming.scale) for pc in sounding):
        return here, until, False
    return coming, until + float(coming.end - coming.start), True


def _before_fourth(room: _Room, harmony: Harmony, at: float, length: float) -> float:
    """How long a chord with a major third may sound before the melody has its fourth."""
    third = (harmony.root + 4) % 12
    if third not in harmony.tones:
        return length
    for start, pc in room.melody.heard(at, at + length):
        if pc == (harmony.root + 5) % 12:
            return start - at
    return length


def _free(room: _Room, at: float, placement: str, must: bool) -> float:
    """How long a chord struck at a beat may sound before the melody moves on; negative where it has to wait."""
    rules = table("comping")["placement"]
    start, long, after = room.melody.around(at)
    until = after - at
    if until <= rules["clear"]:
        return -1.0
    gap, since = after - start, at - start
    holds = long >= rules["long"]
    if since <= rules["clear"] and not holds:
        return -1.0
    if not must and gap < rules["gap"]:
        return -1.0
    wait = rules["after-long"] if holds and placement == "answering" else rules["after-short"]
    return until if since >= wait - TINY else -1.0


def _answer(room: _Room, bar: _Bar, last: float) -> Strike | None:
    """A chord in the best gap of a bar that no rhythm fits; a small gap will do after some silence."""
    rules = table("comping")["placement"]
    quiet = bar.at - last >= rules["quiet-bars"] * bar.size
    best: tuple[float, Fraction, _Found] | None = None
    for n in range(int(2 * bar.size)):
        at = bar.at + n / 2
        found = _room_for(room, bar, at, 2.0, must=quiet or bar.rests) if at >= last + 0.5 - TINY else None
        if found is None or found.length < 0.5 - TINY:
            continue
        worth = min(found.length, 1.5) + room.chance.random() - (1.0 if n == 0 else 0.0)
        if best is None or worth > best[0]:
            best = worth, n * HALF, found
    return _strike(bar, (best[1], Fraction(2)), best[2], "answers") if best else None


def _accents(room: _Room, bar: _Bar) -> list[Strike]:
    """Chords with the melody's accents: its longer notes, and those that come early."""
    found: list[Strike] = []
    for note in room.melody.within(float(bar.start), float(bar.end)):
        early = note.beat.denominator == 2 and note.length >= 1
        if (note.length >= 1 or early) and (not found or note.beat - found[-1].beat >= 1):
            harmony, until, _ = _meant(room, float(note.beat), float(note.length))
            length = min(note.length, Fraction(until - float(note.beat)).limit_denominator(24))
            if harmony.written and length >= HALF:
                found.append(Strike(note.beat, length, harmony, bar.treatment, "with the melody's accent", 1.08))
    return found


def _held(room: _Room, bar: _Bar) -> list[Strike]:
    """Chords struck soon after their root, which the pedal holds, and held themselves."""
    found = []
    for harmony in room.chords:
        start, end = max(harmony.start, bar.start), min(harmony.end, bar.end)
        if start < end and harmony.written:
            at = start + _after_root(room, float(start), float(end - start))
            found.append(Strike(at, end - at, harmony, bar.treatment, "held, after the root"))
    return found


def _after_root(room: _Room, start: float, length: float) -> Fraction:
    """How long after its root a held chord is struck: where the melody doesn't move, if it can be."""
    choices = [wait for wait in (Fraction(1), HALF, Fraction(3, 2)) if length - float(wait) >= 0.5]
    quiet = (wait for wait in choices if not room.melody.begins(start + float(wait), start + float(wait) + TINY * 2))
    return next(quiet, choices[0] if choices else Fraction(0))


def _sliding(room: _Room, bar: _Bar) -> list[Strike]:
    """By turns a bar of steps towards an arrival, and the arrival, held; the last bar of the section is one."""
    if bar.left % 2:
        harmony = room.harmony(bar.at)
        return [Strike(bar.start, bar.end - bar.start, harmony, bar.treatment, "where the fourths arrive", 1.05)]
    pulse = room.form.metre.pulse
    count = int((bar.end - bar.start) / pulse)
    return [
        Strike(bar.start + n * pulse, pulse, room.harmony(bar.at), bar.treatment, "by semitones", steps=count - n)
        for n in range(count)
    ]
