"""Figures of sliding fourths, from the notes alone: whether they land on the melody's note and answer one another.

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers. A chord slides when none of its notes
has a degree; a route is a row of such chords, and the chord after it is the arrival. Where the melody is dropped, the
note asked for is the one that it would hold longest in the arrival's bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import groupby, pairwise

from companion.arrange.audit.chords import chords_of
from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.lookup import bar_and_beat, numbered_bars, treatment_at
from companion.arrange.melody.part import treated
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form

QUAVER = Fraction(1, 2)


@dataclass(frozen=True)
class SlidingRoute:
    """Chords that slide, and where they arrive."""

    steps: tuple[tuple[Fraction, tuple[int, ...]], ...]
    """Beat and MIDI numbers of each, the arrival's last."""

    @property
    def falls(self) -> bool:
        """Whether it comes from above."""
        return self.steps[0][1][-1] > self.steps[-1][1][-1]

    @property
    def rhythm(self) -> tuple[Fraction, ...]:
        """How far its chords are apart."""
        return tuple(b - a for (a, _), (b, _) in pairwise(self.steps))


def slide_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of sliding fourths over some choruses."""
    landed, answered, echoed = HitCount(), HitCount(), HitCount()
    for notes in choruses:
        chords = [(beat, c) for beat, c in chords_of(notes) if treatment_at(plan, beat).placement == "sliding"]
        for beat, midi in (route.steps[-1] for route in routes(chords)):
            asked = _asked(form, plan, beat)
            if asked is not None:
                good = midi[-1] % 12 == asked
                landed.add(good, partial(bar_and_beat, form, beat), not good)
        for section in _by_eights(form, plan, routes(chords)):
            for n, route in enumerate(section[1:], 1):
                calls = section[n - 1 :: -1][:2]
                good = any(route.falls != call.falls for call in calls)
                answered.add(good, partial(bar_and_beat, form, route.steps[0][0]), not good)
            for call, route in zip(section, section[2:], strict=False):
                same = call.rhythm[-2:] == route.rhythm[-2:]
                echoed.add(same, partial(bar_and_beat, form, route.steps[0][0]), not same)
    return [
        landed.figure("sliding fourths that land on the note asked for", at_least=1.0),
        answered.figure("routes from the other side than one before", at_least=0.8),
        echoed.figure("routes with the rhythm of four bars before", at_least=0.7),
    ]


def routes(chords: Sequence[tuple[Fraction, Sequence[Note]]]) -> list[SlidingRoute]:
    """The rows of chords that slide, each with its arrival."""
    found: list[SlidingRoute] = []
    going: list[tuple[Fraction, tuple[int, ...]]] = []
    for beat, chord in chords:
        going.append((beat, tuple(note.midi for note in chord)))
        if not _slides(chord):
            if len(going) > 1:
                found.append(SlidingRoute(tuple(going)))
            going = []
    return found


def _slides(chord: Sequence[Note]) -> bool:
    return all(note.degree == "x" for note in chord)


def _asked(form: Form, plan: TreatmentPlan, beat: Fraction) -> int | None:
    """The pitch class that the melody would hold longest in the bar of an arrival, where it is dropped."""
    if treatment_at(plan, beat).melody != "dropped":
        return None
    start, end = next((a, b) for _, a, b in numbered_bars(form) if a <= (beat + QUAVER) % form.length < b)
    if any(note.beat < end and note.beat + note.length > start for note, _ in treated(form, plan)):
        return None
    inside = [n for n in form.melody if n.beat < end and n.beat + n.length > start]
    longest = max(inside, key=lambda n: min(end, n.beat + n.length) - max(start, n.beat), default=None)
    return longest.pitch.midi % 12 if longest else None


def _by_eights(form: Form, plan: TreatmentPlan, found: Sequence[SlidingRoute]) -> list[list[SlidingRoute]]:
    """The routes of each eight bars, which are counted from where their treatment ends."""

    def eight(route: SlidingRoute) -> tuple[int, int]:
        beat = route.steps[0][0]
        span, end = next(((n, b) for n, (a, b, _) in enumerate(plan) if a <= beat < b), (0, form.length))
        return span, sum(beat < bar < end for bar in form.bars) // 8

    return [list(group) for _, group in groupby(found, key=eight)]
