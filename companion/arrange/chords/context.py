"""The context in which chords are placed: form, melody, harmony and the plan of each bar; and the strikes that result.

Conventions: beats and lengths in quarters from the first downbeat of the form, written.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from companion.arrange.chords.liking import Liking
from companion.arrange.harmony import Harmony
from companion.arrange.melody.part import MelodyIndex
from companion.arrange.treatments import Treatment, TreatmentPlan
from companion.chart.model import Form
from companion.preferences.comping import CompingPreferences, Placement

HALF = Fraction(1, 2)
TINY = 1e-6
"""Quarters that make no difference between two floats."""
FAR = 64.0
"""Quarters that stand for no limit: longer than any gap."""


@dataclass(frozen=True)
class Strike:
    """A moment at which a chord is struck."""

    beat: Fraction
    length: Fraction
    harmony: Harmony
    treatment: Treatment
    reason: str
    weight: float = 1.0
    away: int | None = None
    """Where fourths slide: semitones from the arrival that follows, on the side from which it is approached."""
    answers: Fraction | None = None
    """Where fourths slide: where the route began that this one answers, from the other side."""
    aim: int | None = None
    """MIDI number that the top note is to land on, or near."""
    meant: Fraction = Fraction(0)
    """How long it may ring over a pedal, where the melody's next note would otherwise end it."""
    ahead: bool = False
    """It belongs to the bar that follows."""
    again: Fraction | None = None
    """Where it would have been struck once more, had that not been left to a late voice."""

    @property
    def slides(self) -> bool:
        """Whether it is on its way to an arrival, whatever the harmony says."""
        return self.away is not None

    @property
    def early(self) -> bool:
        """Whether its chord, or the bar that it belongs to, begins after it."""
        return self.ahead or self.harmony.start > self.beat


@dataclass(frozen=True)
class Found:
    """What a strike would be: its chord, how long it may sound, whether it comes a quaver early."""

    harmony: Harmony
    length: float
    early: bool


RoomPlace = tuple[str, float, float, bool]
"""How chords are placed, a beat, how long one is to sound, and whether a smaller gap will do."""


@dataclass(frozen=True)
class CompingContext:
    """The form, the melody above, the chords, and chance."""

    form: Form
    melody: MelodyIndex
    chords: tuple[Harmony, ...]
    starts: list[float]
    """Where the chords start."""
    length: float
    chance: random.Random
    comping: CompingPreferences
    pedalled: frozenset[str]
    """Patterns of the bass over which the pedal is down."""
    rooms: dict[RoomPlace, Found | None]
    """What room was found where, in this chorus and in others under the same melody."""
    liking: Liking | None = None
    """The player's own rhythms, where they are wished for."""
    routes: list[Fraction] = field(default_factory=list)
    """Where the routes of sliding fourths so far began."""
    used: list[str] = field(default_factory=list)
    """Ways taken so far where there are several, the last at the end."""

    def harmony(self, beat: float) -> Harmony:
        """The chord that rules a beat; the form goes round."""
        return self.chords[max(0, bisect_right(self.starts, beat % self.length + TINY) - 1)]

    def within(self, start: Fraction, end: Fraction) -> list[Harmony]:
        """Chords written from ``start`` up to ``end``, those under way at the start included."""
        return [h for h in self.chords if h.start < end and h.end > start and h.written]

    def moves(self, beat: float, clear: float) -> bool:
        """Whether the melody begins a note at a beat, or within ``clear`` of it."""
        return self.melody.begins(beat - clear, beat + clear + TINY * 2)


@dataclass(frozen=True)
class BarPlan:
    """One bar: where it lies, how it is to be played."""

    start: Fraction
    end: Fraction
    treatment: Treatment
    placement: str
    rests: bool
    """No melody note begins in it."""
    at: float
    size: float
    """Start and length again, for comparing; the length is shorter where the next chorus begins early."""
    left: int
    """Bars of its section from here on, this one included."""


def bar_plan(context: CompingContext, plan: TreatmentPlan, n: int) -> BarPlan:
    """One bar of the form (0 = the first) and how the plan has it played."""
    form, melody = context.form, context.melody
    start, end = form.bars[n], form.bars[n + 1] if n + 1 < len(form.bars) else form.length
    until, treatment = next(((b, t) for a, b, t in plan if a <= start < b), plan[-1][1:])
    placement = treatment.placement
    if not melody.notes and placement in ("gaps", "answering", "accents"):
        placement = "free"
    at, size = float(start), float(end - start)
    left = int((until - start) / (end - start))
    return BarPlan(start, end, treatment, placement, melody.rests(at, at + size), at, size, left)


def free_from(rules: Placement, before: Sequence[Strike]) -> float:
    """From when on the next chord may be struck: half a beat after the last, later after one that came early."""
    if not before:
        return -FAR
    last = before[-1]
    return float(last.beat) + least_gap(rules, last.early)


def least_gap(rules: Placement, early: bool) -> float:
    """Quarters after a chord before the next one."""
    return rules.next_after_early if early else rules.next
