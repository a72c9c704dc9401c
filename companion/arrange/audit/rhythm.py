"""Figures of the rhythm of the chords, from their notes alone: whether it recurs, answers, and comes early at turns.

Conventions: beats in quarters from the first downbeat of the form; places in quarters from the bar line. A chord on the
last quaver of a bar that says the chord to come belongs to the bar to come, at its place 0.

What is what (common practice put into numbers): a bar *answers* if two of its chords or more have the places, up to
whole beats, of notes that the melody has had within two bars, of all of its notes or of its accents. Bars are of a
*riff* if one or two bars apart they have the same rhythm, within four bars from where a section or its next four bars
begin. What runs on longer than four bars, at either distance, is no riff but a machine.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise

from companion.arrange.audit.chords import LISTENING, chords_of, intended_chord
from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.harmony import Harmony
from companion.arrange.lookup import bar_and_beat, harmony_at, numbered_bars, treatment_at
from companion.arrange.melody.part import treated
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form, MelodyNote

RHYTHMIC = ("free", *LISTENING)
"""Placements in which chords have a rhythm of their own."""
FOUR = 4
"""Bars of a phrase, and the longest that a riff is kept."""
QUAVER = Fraction(1, 2)
_DOMINANTS = ("7", "7alt", "7sus")

ChordPlaces = tuple[Fraction, ...]


@dataclass(frozen=True)
class RhythmBar:
    """A bar and where its chords are struck."""

    number: int
    start: Fraction
    end: Fraction
    places: ChordPlaces
    first: bool
    """It begins a section, or four more bars of one."""
    rhythmic: bool
    only_reached: bool = False
    """Its one chord comes early: the end of the rhythm of the bar before, which reaches into it."""


def rhythm_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of the rhythm of the chords, over some choruses."""
    melody = [note for note, _ in treated(form, plan)]
    recurs, four_and, at_turns = HitCount(), HitCount(), HitCount()
    pushed = HitCount()
    formulas: Counter[ChordPlaces] = Counter()
    longest = 0
    lengths: list[int] = []
    for notes in choruses:
        struck = [(beat, intended_chord(form, beat, chord)) for beat, chord in chords_of(notes)]
        bars = rhythm_bars(form, plan, struck)
        in_riff = riffs(bars)
        lengths += [len(one) for one in in_riff]
        longest = max(longest, machine(bars))
        of_riffs = {bar.number for one in in_riff for bar in one}
        for bar in bars:
            if bar.places and bar.rhythmic:
                good = bar.number in of_riffs or answers(bar, melody)
                recurs.add(good, lambda bar=bar: f"bar {bar.number}", not good)  # type: ignore[misc]
                formulas[bar.places if len(bar.places) > 1 else ()] += 1
                both = _four_and(form, struck, bar)
                four_and.add(both, lambda bar=bar: f"bar {bar.number}", both)  # type: ignore[misc]
        for beat, harmony in struck:
            if treatment_at(plan, beat).placement in RHYTHMIC and _early(form, beat, harmony):
                good = turn(form, beat + QUAVER)
                at_turns.add(good, lambda beat=beat: bar_and_beat(form, beat), not good)  # type: ignore[misc]
        _count_pushed(form, plan, melody, struck, pushed)
    total = sum(formulas.values())
    most = max((count for places, count in formulas.items() if places), default=0) / max(1, total)
    return [
        recurs.figure("bars that answer the melody or are of a riff", at_least=0.6),
        AuditFigure("bars of a riff", sum(lengths) / max(1, len(lengths)), of=len(lengths), at_least=2.5, at_most=4.0),
        AuditFigure("bars running with one rhythm, or two in turn", float(longest), at_most=4.0),
        AuditFigure(
            "bars with the commonest rhythm of two chords",
            most,
            of=total,
            at_most=0.12 if total >= 100 else None,
        ),
        four_and.figure("a new chord a quaver after one on the last beat", at_most=0.02),
        at_turns.figure("early chords where the harmony turns", at_least=0.7),
        pushed.figure("turns reached early, of those with room for it", at_least=0.3),
    ]


def rhythm_bars(form: Form, plan: TreatmentPlan, struck: Sequence[tuple[Fraction, Harmony]]) -> list[RhythmBar]:
    """The bars of one chorus with the places of their chords."""
    firsts = _firsts(form)
    found = []
    for number, start, end in numbered_bars(form):
        places = {
            max(Fraction(0), beat - start)
            for beat, harmony in struck
            if start <= beat + QUAVER < end + QUAVER and not (beat < start and not _early(form, beat, harmony))
            if not (beat >= end - QUAVER and _early(form, beat, harmony))
        }
        rhythmic = treatment_at(plan, start).placement in RHYTHMIC
        reached = places == {0} and not any(beat == start for beat, _ in struck)
        found.append(RhythmBar(number, start, end, tuple(sorted(places)), start in firsts, rhythmic, reached))
    return found


def _firsts(form: Form) -> set[Fraction]:
    """Where a section or four more bars of it begin."""
    places = [(place.start, place.end) for place in form.sections] or [(Fraction(0), form.length)]
    return {bar for start, end in places for bar in [b for b in form.bars if start <= b < end][::FOUR]}


def _early(form: Form, beat: Fraction, harmony: Harmony) -> bool:
    """Whether a chord is that to come."""
    return harmony.label != harmony_at(form, beat).label


def riffs(bars: Sequence[RhythmBar]) -> list[list[RhythmBar]]:
    """The riffs: within each four bars, those that have a rhythm which comes again one or two bars on."""
    groups: list[list[RhythmBar]] = []
    for bar in bars:
        if bar.first or not groups:
            groups.append([])
        groups[-1].append(bar)
    found = []
    for group in groups:
        again = {
            one.number
            for a, b in combinations(group, 2)
            if b.number - a.number <= 2 and a.places and a.places == b.places and a.rhythmic
            for one in (a, b)
        }
        if again:
            inside = [bar for bar in group if min(again) <= bar.number <= max(again)]
            found.append([bar for bar in inside if bar.places])
    return found


def machine(bars: Sequence[RhythmBar]) -> int:
    """Bars of the longest run in which each has the rhythm of the one before, or of the one two before it."""
    longest = 0
    for apart in (1, 2):
        run = 0
        for n, bar in enumerate(bars):
            counts = bar.rhythmic and bar.places and not bar.only_reached
            same = n >= apart and counts and bar.places == bars[n - apart].places
            run = run + 1 if same else 0
            longest = max(longest, run + apart if run else 0)
    return longest


def answers(bar: RhythmBar, melody: Sequence[MelodyNote]) -> bool:
    """Whether two of its chords running, or more, have the rhythm of notes that the melody has had before them."""
    if len(bar.places) < 2:
        return False
    beats = [bar.start + place for place in bar.places]
    size = bar.end - bar.start
    heard = [note for note in melody if beats[0] - 2 * size <= note.beat < beats[0]]
    for call in (heard, _accents(heard)):
        runs = [(a.beat % 1, b.beat - a.beat) for a, b in pairwise(call)]
        for count in range(len(beats), 1, -1):
            for first in range(len(beats) - count + 1):
                part = beats[first : first + count]
                shape = [(a % 1, b - a) for a, b in pairwise(part)]
                wide = all(apart <= 2 for _, apart in shape)
                if wide and any(runs[k : k + count - 1] == shape for k in range(len(runs) - count + 2)):
                    return True
    return False


def _accents(notes: Sequence[MelodyNote]) -> list[MelodyNote]:
    """The notes after which a beat or more passes, and the last."""
    return [a for a, b in pairwise(notes) if b.beat - a.beat >= 1] + list(notes[-1:])


def _four_and(form: Form, struck: Iterable[tuple[Fraction, Harmony]], bar: RhythmBar) -> bool:
    """A chord on the last beat, and another a quaver later."""
    inside = {beat: harmony for beat, harmony in struck if bar.start <= beat < bar.end}
    last = inside.get(bar.end - 2 * QUAVER), inside.get(bar.end - QUAVER)
    return last[0] is not None and last[1] is not None and last[0].label != last[1].label


def turn(form: Form, beat: Fraction) -> bool:
    """Whether the harmony turns at a beat: a new chord, to which a dominant leads or with which four bars begin."""
    after, before = harmony_at(form, beat), harmony_at(form, beat - QUAVER)
    if before.label == after.label or not after.written or after.start != beat % form.length:
        return False
    leads = before.chord.quality in _DOMINANTS and (after.root - before.root) % 12 in (5, 11)
    return leads or beat % form.length in _firsts(form)


def _count_pushed(
    form: Form,
    plan: TreatmentPlan,
    melody: Sequence[MelodyNote],
    struck: Sequence[tuple[Fraction, Harmony]],
    pushed: HitCount,
) -> None:
    """Of the turns at which the melody begins no note from a beat before to half a beat after, those reached early."""
    beats = {beat for beat, _ in struck}
    for start in form.bars[1:]:
        if not turn(form, start) or treatment_at(plan, start).placement not in RHYTHMIC:
            continue
        if any(start - 1 <= note.beat <= start + QUAVER for note in melody):
            continue
        early = start - QUAVER in beats
        pushed.add(early, lambda start=start: bar_and_beat(form, start), not early)  # type: ignore[misc]
