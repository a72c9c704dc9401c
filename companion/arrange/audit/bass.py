"""Figures of a walking bass, worked out from its notes alone.

Conventions: as in :mod:`companion.arrange.lookup`. Ghosted notes (weight below 0.6) don't count as notes of the
line. "New chord": one with another root, quality or slash bass that begins on a beat of the metre. Targets are common
practice put into numbers: the line says the root and leads to the next, moves by steps and thirds, and never loops.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache, partial
from itertools import combinations, pairwise

from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.lookup import bar_and_beat, harmony_at, numbered_bars, treatment_at
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form

GHOST = 0.6
"""Weight below which a note is a ghost."""


def walking_figures(
    form: Form, plan: TreatmentPlan, choruses: Choruses, running: int | None = None
) -> list[AuditFigure]:
    """Figures of a walking bass where the plan lets it walk; each ``running`` choruses are one performance."""
    walks = [(a, b) for a, b, treatment in plan if treatment.bass == "walking"]
    lines = [[n for n in notes if n.weight >= GHOST] for notes in choruses]
    rows = [[n for n in notes if a <= n.beat < b] for notes in lines for a, b in walks]
    numbers = [bar for bar in numbered_bars(form) if any(a <= bar[1] < b for a, b in walks)]
    written = form.written_part("bass")
    free = [bar for bar in numbers if written is None or bar[0] not in written.bars]
    return [
        *_roots_and_leads(form, rows),
        *_motion(form, rows),
        _guides(form, numbers, lines),
        _patterns(form, numbers, lines),
        *_novelty(free, lines, running or len(lines)),
    ]


@lru_cache(maxsize=32)
def changes(form: Form) -> tuple[tuple[Fraction, Harmony], ...]:
    """Beats on which a new chord begins."""
    chords = [h for h in harmonies(form) if h.written]
    return tuple(
        (here.start, here)
        for before, here in zip([None, *chords], chords, strict=False)
        if (before is None or before.label != here.label) and _on_beat(form, here.start)
    )


def _on_beat(form: Form, beat: Fraction) -> bool:
    """Whether something lies on a beat of the metre, counted from its bar line."""
    return (beat - form.bars[form.bar_at(beat) - 1]) % form.metre.pulse == 0


def _roots_and_leads(form: Form, rows: Choruses) -> list[AuditFigure]:
    roots, leads = HitCount(), HitCount()
    for notes in rows:
        starts = [n.beat for n in notes]
        for beat, harmony in changes(form):
            if not notes or not starts[0] <= beat <= starts[-1]:
                continue
            k = bisect_left(starts, beat)
            right = starts[k] == beat and notes[k].midi % 12 == harmony.bass
            roots.add(right, partial(bar_and_beat, form, beat), not right)
            if k:
                ok = leads_to(notes[k].midi - notes[k - 1].midi)
                leads.add(ok, partial(bar_and_beat, form, starts[k - 1]), not ok)
    return [
        roots.figure("root on the first beat of a new chord", at_least=0.95),
        leads.figure("the last note before a new chord leads to it", at_least=0.90),
    ]


def leads_to(move: int) -> bool:
    """Whether a move leads: by a semitone or a step, or from the fifth of what comes, above or below it."""
    return abs(move) in (1, 2, 7) or move == 5


def _motion(form: Form, rows: Choruses) -> list[AuditFigure]:
    leaps, repeats, thrice = HitCount(), HitCount(), HitCount()
    turns, moves = 0, 0
    for notes in rows:
        steps = [b.midi - a.midi for a, b in pairwise(notes)]
        for n, move in enumerate(steps):
            where = partial(bar_and_beat, form, notes[n + 1].beat)
            leap = abs(move) > 7 and abs(move) != 12
            again = n > 0 and move == 0 and steps[n - 1] == 0
            leaps.add(leap, where, leap)
            repeats.add(move == 0, where, move == 0)
            thrice.add(again, where, again)
        directions = [move for move in steps if move]
        turns += sum((a > 0) != (b > 0) for a, b in pairwise(directions))
        moves += len(directions)
    return [
        leaps.figure("leaps over a fifth, octaves apart", at_most=0.03),
        repeats.figure("the same pitch twice running", at_most=0.03),
        thrice.figure("the same pitch three times", at_most=0.0),
        AuditFigure("notes between changes of direction", moves / max(1, turns), 2.0, 6.0, moves),
    ]


def membership_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of any bass: whether its notes are in its range, and belong to the chord, its scale or the next note.

    Under a pedal the chords change and the bass doesn't.
    """
    outside, wrong = HitCount(), HitCount()
    for notes in choruses:
        for n, note in enumerate(notes):
            out = not 28 <= note.midi <= 55
            outside.add(out, partial(bar_and_beat, form, note.beat), out)
            if treatment_at(plan, note.beat).bass == "pedal":
                continue
            if _said_ahead(form, note, treatment_at(plan, note.beat).bass):
                continue
            bad = not _belongs(form, note, notes[n - 1] if n else None, notes[n + 1] if n + 1 < len(notes) else None)
            wrong.add(bad, partial(_named, form, note), bad)
    return [
        outside.figure("outside E1 to G3", at_most=0.0),
        wrong.figure("neither chord, scale, passing nor leading note", at_most=0.0),
    ]


def _said_ahead(form: Form, note: Note, pattern: str) -> bool:
    """Whether a tumbao says the next bar's root on the last beat, held over the bar line."""
    bar = form.bar_at(note.beat)
    line = form.bars[bar] if bar < len(form.bars) else form.length
    return pattern == "tumbao" and line - note.beat <= 1 and note.midi % 12 == harmony_at(form, line).bass


def _named(form: Form, note: Note) -> str:
    return f"{bar_and_beat(form, note.beat)} {note.pitch}"


def _belongs(form: Form, note: Note, before: Note | None, after: Note | None) -> bool:
    """Whether a note is the chord's or its scale's, or passes by semitones, or leads by one to another chord."""
    harmony, pc = harmony_at(form, note.beat), note.midi % 12
    if pc == harmony.bass or pc in harmony.scale or after is None:
        return True
    move = after.midi - note.midi
    passing = before is not None and abs(move) == 1 and move == note.midi - before.midi
    return passing or (abs(move) == 1 and _changed(form, note.beat, after.beat))


def _changed(form: Form, beat: Fraction, later: Fraction) -> bool:
    """Whether another chord begins after one beat and no later than the other."""
    if harmony_at(form, beat).label != harmony_at(form, later).label:
        return True
    span = range(1 + int(later // form.length))
    return any(beat < start + k * form.length <= later for start, _ in changes(form) for k in span)


BarBounds = Sequence[tuple[int, Fraction, Fraction]]


def _by_bar(numbers: BarBounds, notes: Sequence[Note]) -> list[Sequence[Note]]:
    """The notes that begin in each bar."""
    starts = [note.beat for note in notes]
    return [notes[bisect_left(starts, start) : bisect_left(starts, end)] for _, start, end in numbers]


def _guides(form: Form, numbers: BarBounds, lines: Choruses) -> AuditFigure:
    count = HitCount()
    asked = []
    for _, start, end in numbers:
        inside = [h for h in harmonies(form) if h.start < end and h.end > start]
        one = len({h.label for h in inside}) == 1 and all(h.written and h.guides for h in inside)
        asked.append(inside[0].guides if one else None)
    for notes in lines:
        for (bar, _, _), guides, struck in zip(numbers, asked, _by_bar(numbers, notes), strict=True):
            if guides is not None:
                has = any(n.midi % 12 in guides for n in struck)
                count.add(has, f"bar {bar}", not has)
    return count.figure("third or seventh in bars of one chord", at_least=0.70)


def _patterns(form: Form, numbers: BarBounds, lines: Choruses) -> AuditFigure:
    worst, which = 0.0, ""
    for notes in lines:
        seen = Counter(
            tuple((n.midi - harmony_at(form, n.beat).root) % 12 for n in inside) for inside in _by_bar(numbers, notes)
        )
        pattern, times = seen.most_common(1)[0] if seen else ((), 0)
        if times > 1 and times / len(numbers) > worst:
            worst, which = times / len(numbers), f"semitones above the root: {' '.join(map(str, pattern))}"
    return AuditFigure(
        "share of the commonest pattern of degrees", worst, at_most=0.15, places=(which,) if which else ()
    )


def _novelty(numbers: BarBounds, lines: Choruses, running: int) -> list[AuditFigure]:
    cut = [
        [
            tuple((n.beat - start, n.midi) for n in inside)
            for (_, start, _), inside in zip(numbers, _by_bar(numbers, notes), strict=True)
        ]
        for notes in lines
    ]
    pairs = [pair for k in range(0, len(cut), max(1, running)) for pair in combinations(cut[k : k + running], 2)]
    shares = [sum(x == y for x, y in zip(a, b, strict=True)) / max(1, len(a)) for a, b in pairs]
    equal = sum(share == 1.0 for share in shares)
    if not numbers:
        shares = []
    return [
        AuditFigure("choruses with the same line", float(equal), at_most=0.0, of=len(shares)),
        AuditFigure(
            "bars shared between two choruses, at most", max(shares, default=0.0), at_most=0.25, of=len(shares)
        ),
    ]
