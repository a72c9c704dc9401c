"""Phrases of the bass: four bars of a section or eight, by how long a bar lasts, from the section's first bar on.

Conventions: bars are named by the beat of their bar line, in quarters from the first downbeat of the form.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from companion.chart.model import Form
from companion.preferences.bass import Arcs


@lru_cache(maxsize=32)
def phrase_starts(shape: Arcs, form: Form) -> tuple[Fraction, ...]:
    """The bar lines on which a phrase begins; a last bar that is left over belongs to the phrase before."""
    seconds = float(form.metre.bar) * 60 / form.tempo
    size = min(shape.bars, key=lambda bars: abs(bars * seconds - shape.seconds))
    found: set[Fraction] = {form.bars[0]}
    for section in form.sections:
        bars = [bar for bar in form.bars if section.start <= bar < section.end]
        heads = bars[::size]
        if len(heads) > 1 and len(bars) % size == 1:
            heads.pop()
        found.update(heads)
    return tuple(sorted(found))


@lru_cache(maxsize=32)
def last_bars(shape: Arcs, form: Form) -> frozenset[Fraction]:
    """The bar lines of the bars that end a phrase."""
    starts = frozenset(phrase_starts(shape, form))
    following = (*form.bars[1:], form.bars[0])
    return frozenset(bar for bar, after in zip(form.bars, following, strict=True) if after in starts)
