"""The plan of a solo: how its bars are told, phrase by phrase, and how hot each phrase is.

Method: eight bars or fewer, as the sections have them, are one paragraph, told in one of a few ways: an idea, the idea
again and its continuation (a sentence), two phrases that answer each other (a period), calls. A phrase is new, says one
of the last two again, or varies it. Heat rises over all choruses to a peak in the third quarter and falls again; it
rules height, density and silence. In a blues of twelve bars one chorus is a riff. Common practice; sentence and period
as in A. Schoenberg, Fundamentals of Musical Composition, 1967 (from memory). Numbers in ``configs/solo.toml``.

Conventions: beats in quarters from the first downbeat of the form, written.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.arrange.lookup import harmony_at
from companion.chart.model import Form
from companion.preferences.solo import Paragraph, PhraseRole, SoloPreferences, StoryArc

_ROLES: tuple[PhraseRole, ...] = ("new", "again", "varied")
"""A sentence's."""
PARAGRAPH = 8
"""Bars in a paragraph, at most."""
BLUES = 12
"""Bars of a blues, whose lines have four."""
THIRD_QUARTER = (0.53, 0.74)
"""Where the highest note may lie, as shares of the solo: a little inside the third quarter."""


@dataclass(frozen=True)
class PhrasePlan:
    """One phrase to be."""

    start: Fraction
    """The bar line to which it belongs; a pickup lies before it."""
    stop: Fraction
    role: PhraseRole
    heat: float
    """0 the calmest, 1 the peak's."""
    pickup: Fraction = Fraction(0)
    peak: tuple[Fraction, Fraction] | None = None
    """From where to where in it the highest note of the solo may lie."""
    riff: bool = False


@dataclass(frozen=True)
class SoloChorus:
    """Which of how many choruses of one solo, counted from 1."""

    time: int = 1
    times: int = 1

    def share(self, form: Form, beat: Fraction) -> float:
        """How much of the solo is over at a beat."""
        return (self.time - 1 + min(max(float(beat / form.length), 0.0), 1.0)) / self.times

    def beat(self, form: Form, share: float) -> Fraction:
        """The beat of this chorus at which so much of the solo is over; it may lie outside the chorus."""
        return Fraction(share * self.times - (self.time - 1)).limit_denominator(64) * form.length


ALONE = SoloChorus()
"""A solo of one chorus."""


def heat(arc: StoryArc, share: float) -> float:
    """How hot a solo is where a share of it is over.

    >>> from companion.preferences import preferences
    >>> arc = preferences(SoloPreferences).arc
    >>> heat(arc, 0.0) == arc.begins, heat(arc, arc.peak), round(heat(arc, 1.0) - arc.ends, 6)
    (True, 1.0, 0.0)
    """
    if share <= arc.peak:
        return float(arc.begins + (1 - arc.begins) * (share / max(arc.peak, 1e-9)) ** arc.curve)
    return 1 - (1 - arc.ends) * (share - arc.peak) / max(1 - arc.peak, 1e-9)


def story(
    taste: SoloPreferences,
    form: Form,
    start: Fraction,
    until: Fraction,
    place: SoloChorus | None,
    chance: random.Random,
) -> list[PhrasePlan]:
    """The phrases between two beats, in order.

    Parameters
    ----------
    taste : SoloPreferences
    form : Form
    start, until : Fraction
    place : SoloChorus
        Which of how many choruses; None in turn with the player, where nothing climbs.
    chance : random.Random
    """
    lines = [start, *(bar for bar in form.bars if start < bar < until), until]
    riff = place is not None and is_riff_chorus(taste, form, place, chance)
    found: list[PhrasePlan] = []
    for lines_told, (first, last) in enumerate(_paragraphs(form, lines)):
        pickup = _pickup(taste, chance) if found and not riff else Fraction(0)
        told = _riff_line(last - first, lines_told) if riff else _told(taste, last - first, chance)
        at = first
        for n, (bars, role) in enumerate(zip(told.bars, told.roles, strict=True)):
            if n == 0 and role == "new" and found and not riff and chance.random() < taste.arc.carried:
                role = "varied"
            stop = min(at + bars, last)
            middle = (lines[at] + lines[stop]) / 2
            warm = heat(taste.arc, place.share(form, middle)) if place else taste.arc.trading
            found.append(PhrasePlan(lines[at], lines[stop], role, warm, pickup if at else Fraction(0), riff=riff))
            at = stop
    return _with_peak(taste, form, place, found) if place else found


def _paragraphs(form: Form, lines: Sequence[Fraction]) -> list[tuple[int, int]]:
    """From which to which of the bar lines each paragraph goes: a section, cut into lines of eight or fewer."""
    edges = {section.start for section in form.sections}
    most = 4 if is_blues(form) else PARAGRAPH
    found, first = [], 0
    for n in range(1, len(lines)):
        if n == len(lines) - 1 or lines[n] in edges or n - first == most:
            found.append((first, n))
            first = n
    return found


def _told(taste: SoloPreferences, bars: int, chance: random.Random) -> Paragraph:
    """How so many bars are told: in a way as long, or in phrases of two to four bars, new and varied in turn."""
    fitting = [one for one in taste.paragraphs.values() if sum(one.bars) == bars and one.weight]
    if fitting:
        return chance.choices(fitting, [one.weight for one in fitting])[0]
    lengths: list[int] = []
    while (left := bars - sum(lengths)) > 0:
        one = min(chance.choice(taste.phrase.bars), left)
        lengths.append(left if left - one < 2 else one)
    return Paragraph(tuple(lengths), tuple(_ROLES[n % len(_ROLES)] for n in range(len(lengths))), 1.0)


def _riff_line(bars: int, line: int) -> Paragraph:
    """A line of a riff chorus: the riff twice; in the last line once, and on from there to the end."""
    if line % 3 == 2 or bars % 2:
        return Paragraph((bars,), ("varied",), 1.0)
    return Paragraph((bars // 2, bars - bars // 2), ("again" if line else "new", "again"), 1.0)


def _pickup(taste: SoloPreferences, chance: random.Random) -> Fraction:
    if chance.random() >= taste.phrase.pickups:
        return Fraction(0)
    return Fraction(chance.choice(taste.phrase.pickup)).limit_denominator(4)


def _with_peak(taste: SoloPreferences, form: Form, place: SoloChorus, found: Sequence[PhrasePlan]) -> list[PhrasePlan]:
    """The phrases, one of them told where its highest note may lie: the one with most room about the peak."""
    low, high = (place.beat(form, share) for share in THIRD_QUARTER)
    aim = place.beat(form, taste.arc.peak)
    if not 0 <= aim < form.length:
        return list(found)
    spans = [(max(low, one.start), min(high, one.stop)) for one in found]
    best = max(range(len(found)), key=lambda n: (spans[n][1] - spans[n][0], -abs(found[n].start - aim)))
    if found[best].riff or spans[best][1] <= spans[best][0]:
        return list(found)
    return [replace(one, peak=spans[best]) if n == best else one for n, one in enumerate(found)]


# the blues


def is_blues(form: Form) -> bool:
    """Whether a form is a blues: twelve bars, or as many again, that go to the fourth degree in the fifth bar."""
    if not form.bars or len(form.bars) % BLUES:
        return False
    first, fifth = (harmony_at(form, form.bars[n]) for n in (0, 4))
    return (fifth.root - first.root) % 12 == 5


def is_riff_chorus(taste: SoloPreferences, form: Form, place: SoloChorus, chance: random.Random) -> bool:
    """Whether a chorus is told in one riff: the one before the peak's."""
    if not is_blues(form):
        return False
    if place.times == 1:
        return chance.random() < taste.riff.chance
    return place.time == max(1, int(taste.arc.peak * place.times))
