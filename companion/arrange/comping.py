"""Where the chords fall: in the melody's gaps, answering, with its accents, or freely behind a soloist.

Conventions: beats and lengths in quarters from the first downbeat of the form, written (swing is put on later). A strike that
anticipates lies on the quaver before its chord and takes that chord.

Method: bar by bar a rhythm is drawn from the set in ``comping.toml``; what of it the melody leaves room for is kept. Common
practice: where the melody moves, the chord waits; where it holds or rests, the chord answers.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody import Line
from companion.arrange.tables import Table, table
from companion.arrange.treatments import Treatment
from companion.chart.model import Form

HALF = Fraction(1, 2)


@dataclass(frozen=True)
class Strike:
    """A moment at which a chord is struck."""

    beat: Fraction
    length: Fraction
    harmony: Harmony
    treatment: Treatment
    reason: str
    weight: float = 1.0


@dataclass
class _Room:
    """What a bar leaves free, and how it was played before."""

    form: Form
    melody: Line
    chords: tuple[Harmony, ...]
    starts: list[Fraction]
    rules: Table
    chance: random.Random

    def harmony(self, beat: Fraction) -> Harmony:
        return self.chords[max(0, bisect_right(self.starts, beat % self.form.length) - 1)]


def strikes(
    form: Form, plan: Sequence[tuple[Fraction, Fraction, Treatment]], melody: Line, *, chorus: int, seed: int
) -> list[Strike]:
    """Moments at which chords are struck over one chorus, in order.

    ``plan`` tells from where to where which treatment rules; ``melody`` is what sounds above (empty behind a soloist).
    """
    chords = harmonies(form)
    room = _Room(
        form,
        melody,
        chords,
        [h.start for h in chords],
        table("comping")["placement"],
        random.Random(f"comping/{seed}/{chorus}"),
    )
    found: list[Strike] = []
    recent: list[str] = []
    ends = [*form.bars[1:], form.length]
    for bar, end in zip(form.bars, ends, strict=True):
        treatment = next((t for a, b, t in plan if a <= bar < b), plan[-1][2])
        name, hits = _bar(room, bar, end, treatment, recent, found)
        recent.append(name)
        found += hits
    return _trimmed(found, room)


def _bar(
    room: _Room, bar: Fraction, end: Fraction, treatment: Treatment, recent: list[str], before: list[Strike]
) -> tuple[str, list[Strike]]:
    """The rhythm of one bar: its name and its strikes."""
    rhythms = _rhythms(treatment.rhythms, end - bar, room.form)
    placement = (
        "free"
        if not room.melody.notes and treatment.placement in ("gaps", "answering", "accents")
        else treatment.placement
    )
    if placement == "accents":
        hits = _accents(room, bar, end, treatment)
        if hits:
            return "accents", hits
        placement = "gaps"
    scored = []
    running = int(room.rules["same-rhythm"])
    for rhythm in rhythms:
        if len(recent) >= running and set(recent[-running:]) == {rhythm["name"]}:
            continue
        kept: list[Strike] = []
        for at, length in rhythm["hits"]:
            strike = _strike(
                room,
                bar,
                end,
                Fraction(at).limit_denominator(24),
                Fraction(length).limit_denominator(24),
                placement,
                treatment,
                rhythm["name"],
            )
            if (
                strike is not None
                and (not before or strike.beat >= before[-1].beat + HALF)
                and (not kept or strike.beat > kept[-1].beat)
            ):
                kept.append(strike)
        lost = len(rhythm["hits"]) - len(kept)
        again = sum(1 for name in recent[-4:] if name == rhythm["name"])
        scored.append((len(kept) > 0, -2.0 * lost - 0.8 * again + room.chance.gauss(0, 0.8), rhythm["name"], kept))
    scored.sort(key=lambda s: (s[0], s[1]), reverse=True)
    if scored and scored[0][0]:
        name, kept = scored[0][2], scored[0][3]
    else:
        name, kept = "waiting", []
    if not any(s.beat >= bar for s in kept) and placement != "held":
        answer = _answer(room, bar, end, treatment, placement, before + kept)
        if answer is not None:
            return f"answer at {answer.beat - bar}", [*kept, answer]
    return name, kept


def _rhythms(name: str, length: Fraction, form: Form) -> list[dict[str, Any]]:
    known = table("comping")[name]
    every = table("comping")["swing"]
    for key in (str(form.metre), str(float(length)).removesuffix(".0")):
        for source in (known, every):
            if key in source and (key != str(form.metre) or length == form.metre.bar):
                rhythms: list[dict[str, Any]] = source[key]
                return rhythms
    return [{"name": "on 1", "hits": [[0, float(length) * 0.9]]}]


def _strike(
    room: _Room,
    bar: Fraction,
    end: Fraction,
    at: Fraction,
    length: Fraction,
    placement: str,
    treatment: Treatment,
    rhythm: str,
) -> Strike | None:
    """One hit of a rhythm, where there is room for it."""
    beat = bar + at
    if beat >= end or beat < -HALF:
        return None
    harmony = room.harmony(beat)
    boundary = harmony.end if harmony.end > beat else beat + length
    reason = rhythm
    if beat % 1 != 0 and boundary - beat <= HALF and length >= HALF:
        harmony = room.harmony(boundary)
        boundary = boundary + (harmony.end - harmony.start)
        reason = f"{rhythm}: comes a quaver early, with {harmony.chord.symbol}"
    if at < 0 and room.harmony(beat) is harmony:
        reason = rhythm
    if not harmony.written:
        return None
    length = min(length, boundary - beat)
    if placement in ("gaps", "answering"):
        free = _free(room, beat, placement)
        if free is None:
            return None
        length = min(length, free)
        if length < Fraction(1, 3):
            return None
    return Strike(beat, length, harmony, treatment, reason, 1.0 if beat % 1 == 0 else 1.04)


def _free(room: _Room, beat: Fraction, placement: str, smaller: bool = False) -> Fraction | None:
    """How long a chord struck at a beat may sound before the melody moves; None where the melody leaves no room."""
    rules = room.rules
    last, following = room.melody.before(beat), room.melody.after(beat)
    until = following.beat - beat if following is not None else Fraction(8)
    if until <= Fraction(rules["clear"]).limit_denominator(100):
        return None
    if last is None:
        return until
    since = beat - last.beat
    gap = (following.beat - last.beat) if following is not None else last.length
    if not smaller and gap < Fraction(rules["gap"]):
        return None
    if last.length >= rules["long"] or gap >= rules["long"]:
        wait = Fraction(rules["after-long"]) if placement == "answering" and last.length >= rules["long"] else HALF
    else:
        wait = Fraction(rules["after-short"])
    return until if since >= wait else None


def _answer(
    room: _Room, bar: Fraction, end: Fraction, treatment: Treatment, placement: str, before: list[Strike]
) -> Strike | None:
    """A chord in the largest gap of a bar that no rhythm fits."""
    quiet = not before or bar - before[-1].beat >= room.rules["quiet-bars"] * (end - bar)
    none_moves = not room.melody.within(bar, end)
    best: tuple[Fraction, Strike] | None = None
    step = HALF
    places = [bar + step * k for k in range(int((end - bar) / step))]
    for beat in places:
        if before and beat < before[-1].beat + HALF:
            continue
        free = _free(room, beat, placement, smaller=quiet or none_moves) if placement != "free" else end - beat
        harmony = room.harmony(beat)
        if free is None or free < HALF or not harmony.written:
            continue
        length = min(free, harmony.end - beat, Fraction(2))
        if length < HALF:
            continue
        worth = min(length, Fraction(3, 2)) + Fraction(int(room.chance.random() * 100), 200)
        if best is None or worth > best[0]:
            best = worth, Strike(beat, length, harmony, treatment, "answers where the melody leaves room")
    return best[1] if best else None


def _accents(room: _Room, bar: Fraction, end: Fraction, treatment: Treatment) -> list[Strike]:
    """Chords with the melody's accents: its long notes, and those that come early."""
    found: list[Strike] = []
    for note in room.melody.within(bar, end):
        if note.length >= 1 and (not found or note.beat - found[-1].beat >= 1):
            harmony = room.harmony(note.beat)
            if harmony.written:
                length = min(note.length, harmony.end - note.beat)
                if length >= HALF:
                    found.append(Strike(note.beat, length, harmony, treatment, "with the melody's accent"))
    return found


def _trimmed(found: list[Strike], room: _Room) -> list[Strike]:
    """No chord sounds into the next."""
    ordered = sorted(found, key=lambda s: s.beat)
    result = []
    for n, strike in enumerate(ordered):
        until = ordered[n + 1].beat if n + 1 < len(ordered) else room.form.length
        length = min(strike.length, until - strike.beat)
        result.append(
            strike
            if length == strike.length
            else Strike(strike.beat, length, strike.harmony, strike.treatment, strike.reason, strike.weight)
        )
    return result
