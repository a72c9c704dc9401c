"""What a bass says of each chord and how it is phrased, worked out from its notes alone.

A walk spells its chord: chord tones on the strong beats, approaches of every kind, diminished and minor chords from
their own tones. It breathes in phrases: a direction, one high or low point, a fill at the end. A bass in two has
pickups where a phrase ends, a bossa or a tumbao keeps a pattern through a section and varies it at the end.

Conventions: as in :mod:`companion.arrange.lookup`. Ghosted notes (weight below 0.6) don't count as notes of the line.
A phrase is four bars of a section, eight where a bar is shorter than 4/3 seconds, from the section's first bar on. What
is counted and the targets are common practice put into numbers, as bass methods teach it: arpeggio and scale from the
root, chord tones (root, third, fifth, seventh or sixth) on one and three, approaches by semitone, step and fifth.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache, partial
from itertools import pairwise

import numpy as np

from companion.arrange.audit.bass import GHOST, changes
from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.lookup import bar_and_beat, numbered_bars
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form

SHORT_BAR = 4 / 3
"""Seconds: phrases of shorter bars are eight bars long instead of four."""
KEPT = ("bossa", "tumbao")
"""Patterns that are kept through a section."""


def walk_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of how a walk spells its chords and is phrased, where the plan lets it walk."""
    stretches = [(a, b) for a, b, treatment in plan if treatment.bass == "walking"]
    lines = [[n for n in notes if n.weight >= GHOST] for notes in choruses]
    bars = [bar for bar in _bars_of_one_chord(form) if any(a <= bar.start < b for a, b in stretches)]
    rows = [_between(notes, a, b) for notes in lines for a, b in stretches]
    phrases = [(a, b) for a, b in phrase_bounds(form) if any(s <= a and b <= e for s, e in stretches)]
    return [
        *_spelling(form, bars, lines),
        *_own_tones(form, bars, lines),
        *_approaches(form, rows),
        *_phrases(form, phrases, lines),
        *_subdivision(form, stretches, lines),
    ]


def pattern_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of a bass in two, a bossa and a tumbao, where the plan has them."""
    in_two = [(a, b) for a, b, treatment in plan if treatment.bass == "in-two"]
    kept = [(a, b) for a, b, treatment in plan if treatment.bass in KEPT]
    return [_pickups(form, in_two, choruses), *_kept(form, kept, choruses)]


def phrase_bounds(form: Form) -> list[tuple[Fraction, Fraction]]:
    """Start and end of each phrase; of a section whose bars don't divide by four, the last is shorter or longer."""
    size = 8 if float(form.metre.bar) * 60 / form.tempo < SHORT_BAR else 4
    found = []
    for section in form.sections:
        starts = [bar for bar in form.bars if section.start <= bar < section.end]
        heads = starts[::size]
        if len(heads) > 1 and len(starts) % size == 1:
            heads.pop()
        found += list(pairwise([*heads, section.end]))
    return found


@dataclass(frozen=True)
class _Bar:
    """A bar of one written chord."""

    start: Fraction
    end: Fraction
    harmony: Harmony


@lru_cache(maxsize=16)
def _bars_of_one_chord(form: Form) -> tuple[_Bar, ...]:
    found = []
    for _, start, end in numbered_bars(form):
        inside = [h for h in harmonies(form) if h.start < end and h.end > start]
        if inside and len({h.label for h in inside}) == 1 and all(h.written for h in inside):
            found.append(_Bar(start, end, inside[0]))
    return tuple(found)


def _between(notes: Sequence[Note], start: Fraction, end: Fraction) -> Sequence[Note]:
    starts = [note.beat for note in notes]
    return notes[bisect_left(starts, start) : bisect_left(starts, end)]


def _on_beats(notes: Sequence[Note], bar: _Bar, count: int) -> list[Note]:
    """Notes on the first so many beats of a bar, in order."""
    return [n for n in notes if bar.start <= n.beat < bar.start + count and (n.beat - bar.start).denominator == 1]


# spelling


def _spelling(form: Form, bars: Sequence[_Bar], lines: Choruses) -> list[AuditFigure]:
    third, two, inverted = HitCount(), HitCount(), HitCount()
    for notes in lines:
        at = {note.beat: note for note in notes}
        for bar in bars:
            if bar.end - bar.start != 4 or form.metre.pulse != 1:
                continue
            struck = [at.get(bar.start + k) for k in range(3)]
            own = [note is not None and note.midi % 12 in bar.harmony.plain for note in struck]
            third.add(own[2], partial(bar_and_beat, form, bar.start + 2), not own[2])
            two.add(sum(own) >= 2, partial(bar_and_beat, form, bar.start), sum(own) < 2)
        for bar in bars:
            first = at.get(bar.start)
            on_third = first is not None and (first.midi - bar.harmony.root) % 12 in (3, 4)
            inverted.add(on_third, "", False)
    return [
        third.figure("a chord tone on the third beat of a bar of one chord", at_least=0.75),
        two.figure("two chord tones on the first three beats of such a bar", at_least=0.95),
        inverted.figure("bars of one chord that begin with its third"),
    ]


def _own_tones(form: Form, bars: Sequence[_Bar], lines: Choruses) -> list[AuditFigure]:
    own, subdominant = HitCount(), HitCount()
    for bar in bars:
        strict, minor = bar.harmony.spelled_out, bar.harmony.minor_tonic
        for notes in lines if strict or minor else ():
            beats = int((bar.end - bar.start) / form.metre.pulse) if form.metre.pulse == 1 else 0
            inside = _on_beats(_between(notes, bar.start, bar.end), bar, beats)
            if strict:
                for note in inside[: max(2, beats - 1)]:
                    hit = note.midi % 12 in bar.harmony.plain
                    own.add(hit, partial(bar_and_beat, form, note.beat), not hit)
            if minor:
                wrong = says_subdominant([(n.midi - bar.harmony.root) % 12 for n in inside])
                subdominant.add(wrong, partial(bar_and_beat, form, bar.start), wrong)
    return [
        own.figure("chord tones of diminished and minor-major chords, the last beat apart", at_least=0.75),
        subdominant.figure("bars of a minor tonic that spell its subdominant", at_most=0.02),
    ]


def says_subdominant(degrees: Sequence[int]) -> bool:
    """Whether semitones above a minor root, beat by beat, say the chord a fourth above it.

    Cm6 has the C, E flat and A of F7: once F is there, on a strong beat or beside A, the ear hears F7.
    """
    return 5 in degrees and (9 in degrees or degrees[2:3] == [5])


# approaches


def _approaches(form: Form, rows: Choruses) -> list[AuditFigure]:
    """How the last notes before new chords reach them; a root that is followed by another approaches nothing."""
    moves: Counter[str] = Counter()
    for notes in rows:
        at = {note.beat: k for k, note in enumerate(notes)}
        news = {beat for beat, _ in changes(form)}
        for beat in news:
            if (k := at.get(beat)) and notes[k - 1].beat not in news:
                moves[_KINDS.get(abs(notes[k].midi - notes[k - 1].midi), "other")] += 1
    count = sum(moves.values())
    share = {kind: moves[kind] / max(1, count) for kind in ("semitone", "step", "fifth")}
    return [
        AuditFigure("approaches by a semitone", share["semitone"], of=count),
        AuditFigure("approaches by a step", share["step"], of=count),
        AuditFigure("approaches from a fourth or fifth away", share["fifth"], 0.10, 0.20, count),
    ]


_KINDS = {1: "semitone", 2: "step", 5: "fifth", 7: "fifth"}


# phrases

_MOVES = 0.5
"""Share of the spread of a phrase's notes that one rise and fall explains where it has a direction."""
_NEAR = 4
"""Quarters within which notes at the top, or at the bottom, are one high or low point."""
_TOP = 2
"""Semitones from the highest note, or the lowest, that are still at the top, or the bottom."""


def _phrases(form: Form, phrases: Sequence[tuple[Fraction, Fraction]], lines: Choruses) -> list[AuditFigure]:
    directed, pointed, filled = HitCount(), HitCount(), HitCount()
    beats = form.tempo / float(form.metre.pulse)
    for notes in lines:
        for start, end in phrases:
            inside = _between(notes, start, end)
            if len(inside) < 8:
                continue
            hit = directedness(inside) >= _MOVES
            directed.add(hit, partial(bar_and_beat, form, start), not hit)
            one = _once(inside, 1) or _once(inside, -1)
            pointed.add(one, partial(bar_and_beat, form, start), not one)
            if _SLOW < beats <= _FASTEST_FILL:
                last = _between(notes, end - 2 * form.metre.pulse, end)
                fill = any((end - n.beat) % form.metre.pulse for n in last)
                filled.add(fill, partial(bar_and_beat, form, end - form.metre.pulse), not fill)
    return [
        directed.figure("phrases with a direction", at_least=0.75),
        pointed.figure("phrases with one high or one low point", at_least=0.85),
        filled.figure("phrases that end with a fill", at_least=0.30, at_most=0.80),
    ]


_FASTEST_FILL = 208
"""Beats a minute above which no fill is asked for; a slow walk is divided all along."""


def directedness(notes: Sequence[Note]) -> float:
    """Share of the spread of the notes' pitches that the best broken line of two pieces explains, 0 to 1."""
    times = np.array([float(n.beat) for n in notes])
    pitches = np.array([n.midi for n in notes], float)
    total = float(((pitches - pitches.mean()) ** 2).sum())
    best = total
    for knot in np.linspace(times[0], times[-1], 17)[:-1]:
        terms = np.stack([np.ones_like(times), times, np.maximum(0, times - knot)], axis=1)
        rest = pitches - terms @ np.linalg.lstsq(terms, pitches, rcond=None)[0]
        best = min(best, float((rest**2).sum()))
    return 1 - best / total if total else 0.0


def _once(notes: Sequence[Note], up: int) -> bool:
    """Whether a phrase goes to its top (``up`` 1) or its bottom (-1) at one place only."""
    furthest = max(up * n.midi for n in notes)
    there = [n.beat for n in notes if up * n.midi >= furthest - _TOP]
    return there[-1] - there[0] <= _NEAR


def _subdivision(form: Form, stretches: Sequence[tuple[Fraction, Fraction]], lines: Choruses) -> list[AuditFigure]:
    """How many of the beats of a slow walk have notes between them."""
    count = HitCount()
    pulse = form.metre.pulse
    if form.tempo / float(pulse) <= _SLOW:
        for notes in lines:
            for start, end in stretches:
                inside = _between(notes, start, end)
                split = {(n.beat - start) // pulse for n in inside if (n.beat - start) % pulse}
                for beat in range(int((end - start) / pulse)):
                    count.add(beat in split, "", False)
    return [count.figure("beats of a slow walk that are subdivided", at_least=0.15, at_most=0.60)]


_SLOW = 66
"""Beats a minute up to which a walk is slow."""


# in two, and patterns that are kept


def _pickups(form: Form, stretches: Sequence[tuple[Fraction, Fraction]], choruses: Choruses) -> AuditFigure:
    count = HitCount()
    for start, end in phrase_bounds(form):
        if not any(a <= start and end <= b for a, b in stretches):
            continue
        for notes in choruses:
            led = any(n.beat != end - 2 for n in _between(notes, end - 2, end))
            count.add(led, partial(bar_and_beat, form, end - 1), not led)
    return count.figure("phrases in two with a pickup to the next", at_least=0.70)


def _kept(form: Form, stretches: Sequence[tuple[Fraction, Fraction]], choruses: Choruses) -> list[AuditFigure]:
    kept, varied = HitCount(), HitCount()
    whole = {bar.start for bar in _bars_of_one_chord(form)}
    for section in form.sections:
        bars = [bar for bar in form.bars if section.start <= bar < section.end]
        ends = (*bars[1:], section.end)
        if len(bars) < 4 or not any(a <= section.start and section.end <= b for a, b in stretches):
            continue
        for notes in choruses:
            ways = [tuple(n.beat - a for n in _between(notes, a, b)) for a, b in zip(bars, ends, strict=True)]
            plain = [way for way, bar in zip(ways[:-1], bars, strict=False) if bar in whole]
            if not plain:
                continue
            usual = Counter(plain).most_common(1)[0][0]
            for way, bar in zip(ways[:-1], bars, strict=False):
                if bar in whole:
                    kept.add(way == usual, partial(bar_and_beat, form, bar), way != usual)
            varied.add(ways[-1] != usual, partial(bar_and_beat, form, bars[-1]), ways[-1] == usual)
    return [
        kept.figure("bars of a section that keep its pattern", at_least=0.70),
        varied.figure("sections whose last bar varies the pattern", at_least=0.80),
    ]
