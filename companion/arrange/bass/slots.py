"""Slots: the strikes of a bass line, each with its chord, its length and what comes after it.

Conventions: beats and lengths in quarters from the first downbeat of the form.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import groupby, pairwise

from companion.arrange.bass.strikes import BassStrike, chord_starts
from companion.arrange.harmony import Harmony, harmonies
from companion.chart.model import Form
from companion.preferences.bass import BassPreferences, Pattern, Role


@dataclass(frozen=True)
class Slot:
    """A place where the bass strikes."""

    beat: Fraction
    length: Fraction
    harmony: Harmony
    role: Role
    new: bool
    """A chord with another root, quality or slash bass begins here."""
    leads: bool
    """The next slot begins a new chord."""
    bar: int
    downbeat: bool
    pattern: str
    hold: Fraction
    """Share of its length that a note is held."""
    pedal: bool = False
    quick: bool = False
    """Between two beats of a walk."""
    since: int = 0
    """Bars since the chord began: 0 in the bar where it does."""
    lasts: int = 1
    """Bars that the chord rules in all, or rules a part of."""
    middle: bool = False
    """It lies in the middle of a bar of one chord."""


def slots(bass: BassPreferences, form: Form, places: Sequence[BassStrike]) -> tuple[Slot, ...]:
    """What there is to know about each place of a chorus."""
    chords, starts = harmonies(form), [float(start) for start in chord_starts(form)]
    which = []
    for place in places:
        ruled = _bar_line_after(form, place.beat) % form.length if place.role == "ahead" else place.beat
        which.append(bisect_right(starts, float(ruled)) - 1)
    fresh = [_fresh(chords, places, which, n) for n in range(len(places))]
    middles = _middles(form)
    runs, held = _runs(form), {name: _Held.of(bass.patterns[name]) for name in {place.pattern for place in places}}
    found: list[Slot] = []
    for n, place in enumerate(places):
        until = places[n + 1].beat if n + 1 < len(places) else form.length
        bar = form.bar_at(place.beat)
        first, last = runs[which[n]]
        found.append(
            Slot(
                beat=place.beat,
                length=until - place.beat,
                harmony=chords[which[n]],
                role=_role(places, n, fresh[(n + 1) % len(places)], held[place.pattern].keeps),
                new=fresh[n],
                leads=fresh[(n + 1) % len(places)] and chords[which[(n + 1) % len(places)]].written,
                bar=bar,
                downbeat=place.beat == form.bars[bar - 1],
                pattern=place.pattern,
                hold=held[place.pattern].hold,
                pedal=held[place.pattern].pedal,
                quick=place.quick,
                since=bar - first,
                lasts=last - first + 1,
                middle=place.beat in middles,
            )
        )
    return tuple(found)


@lru_cache(maxsize=16)
def _middles(form: Form) -> frozenset[Fraction]:
    """The middle of each bar of four quarters or more that has one chord."""
    starts = chord_starts(form)
    bars = [(a, b) for a, b in pairwise([*form.bars, form.length]) if b - a >= 4]
    return frozenset((a + b) / 2 for a, b in bars if not any(a < start < b for start in starts))


@dataclass(frozen=True)
class _Held:
    """What a pattern says of all its notes."""

    hold: Fraction
    """Share of its length that a note is held."""
    pedal: bool
    keeps: bool

    @classmethod
    def of(cls, pattern: Pattern) -> _Held:
        return cls(Fraction(pattern.hold).limit_denominator(100), pattern.pedal, pattern.keeps)


def _role(places: Sequence[BassStrike], n: int, leads: bool, keeps: bool) -> Role:
    """What is wanted at a place: in a pattern that is kept, what leads to no other chord is its own fifth or root."""
    role = places[n].role
    if role != "lead" or leads or not keeps:
        return role
    return "root" if places[n - 1].role == "fifth" else "fifth"


def _fresh(chords: Sequence[Harmony], places: Sequence[BassStrike], which: Sequence[int], n: int) -> bool:
    """Whether a slot begins a chord unlike the one before, on this beat or since the last slot; or a new pattern."""
    here = chords[which[n]]
    if n == 0:
        return places[-1].role != "ahead"
    if chords[which[n - 1]].label != here.label or places[n - 1].pattern != places[n].pattern:
        return True
    return here.start == places[n].beat and chords[which[n] - 1].label != here.label


@lru_cache(maxsize=16)
def _runs(form: Form) -> tuple[tuple[int, int], ...]:
    """For each chord the first and the last bar of its run: neighbours that are the same chord are one."""
    found: list[tuple[int, int]] = []
    for _, group in groupby(harmonies(form), key=lambda chord: chord.label):
        run = list(group)
        first, last = form.bar_at(run[0].start), form.bar_at(run[-1].end - Fraction(1, 48))
        found += [(first, last)] * len(run)
    return tuple(found)


def _bar_line_after(form: Form, beat: Fraction) -> Fraction:
    bar = form.bar_at(beat)
    return form.bars[bar] if bar < len(form.bars) else form.length
