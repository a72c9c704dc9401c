"""Where the bass strikes: the places of its pattern, and what is wanted at each.

Conventions: beats and lengths in quarters from the first downbeat of the form. A chord that begins between two places
of a pattern gets one of its own; a walking pattern strikes every beat of the metre, whatever the chart says.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.tables import Table, table
from companion.chart.model import Form

Patterns = tuple[tuple[Fraction, Fraction, str], ...]
"""From where to where, in quarters, which pattern of ``bass.toml`` rules; together they cover the form."""


@dataclass(frozen=True)
class Slot:
    """A place where the bass strikes."""

    beat: Fraction
    length: Fraction
    harmony: Harmony
    role: str
    new: bool
    """A chord with another root, quality or slash bass begins here."""
    leads: bool
    """The next slot begins a new chord."""
    bar: int
    downbeat: bool
    pattern: str
    hold: float
    pedal: bool = False


def slots(form: Form, patterns: Patterns) -> tuple[Slot, ...]:
    """The places struck: ``patterns`` tells from where to where which pattern of ``bass.toml`` rules."""
    places = [(*place, name) for start, end, name in patterns for place in _places(form, start, end, name)]
    chords = harmonies(form)
    known = table("bass")["patterns"]
    which, k = [], 0
    for beat, _, _ in places:
        while k + 1 < len(chords) and chords[k].end <= beat:
            k += 1
        which.append(k)
    fresh = [_fresh(chords, which, n, beat) for n, (beat, _, _) in enumerate(places)]
    found: list[Slot] = []
    for n, (beat, role, name) in enumerate(places):
        until = places[n + 1][0] if n + 1 < len(places) else form.length
        bar = form.bar_at(beat)
        pattern = known[name]
        found.append(
            Slot(
                beat=beat,
                length=until - beat,
                harmony=chords[which[n]],
                role=role,
                new=fresh[n],
                leads=fresh[(n + 1) % len(places)],
                bar=bar,
                downbeat=beat == form.bars[bar - 1],
                pattern=name,
                hold=float(pattern.get("hold", 0.9)),
                pedal=bool(pattern.get("pedal", False)),
            )
        )
    return tuple(found)


def _fresh(chords: Sequence[Harmony], which: Sequence[int], n: int, beat: Fraction) -> bool:
    """Whether a slot begins a chord unlike the one before, on this beat or since the last slot."""
    here = chords[which[n]]
    if n == 0 or chords[which[n - 1]].label != here.label:
        return True
    return here.start == beat and chords[which[n] - 1].label != here.label


def _places(form: Form, start: Fraction, end: Fraction, name: str) -> list[tuple[Fraction, str]]:
    """Beats and roles of one pattern over a stretch of the form."""
    pattern = table("bass")["patterns"][name]
    if pattern.get("every") == "beat":
        pulse = form.metre.pulse
        count = math.ceil(end / pulse)
        return [(pulse * n, "walk") for n in range(math.ceil(start / pulse), count)]
    found: dict[Fraction, str] = {}
    bars = [*form.bars, form.length]
    for bar, following in pairwise(bars):
        if start <= bar < end:
            for at, role in _bar_places(pattern, following - bar):
                found[bar + at] = role
    if not pattern.get("one-note"):
        chords = harmonies(form)
        for before, chord in pairwise(chords):
            if start <= chord.start < end and before.label != chord.label:
                found[chord.start] = "root"
    return sorted(found.items())


def _bar_places(pattern: Table, length: Fraction) -> list[tuple[Fraction, str]]:
    key = f"{length.numerator}" if length.denominator == 1 else f"{float(length)}"
    if key in pattern:
        return [(Fraction(at).limit_denominator(24), role) for at, role in pattern[key]]
    places = [(Fraction(at).limit_denominator(24), role) for at, role in pattern.get("4", [[0, "root"]])]
    return [(at, role) for at, role in places if at < length]
