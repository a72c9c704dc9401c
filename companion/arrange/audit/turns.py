"""What a teacher would count in introductions and endings: whether they are the tune's own, and close once.

Conventions: beats in quarters from the first downbeat of the form that is looked at. A melody is the tune's where three
notes running, or all of fewer, have the distances of some in the tune and go the same ways; a close is the tonic in
root position after its dominant, at the end of a phrase or of it all. That an introduction is open and an ending
closes once is common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from companion.arrange.audit.figures import AuditFigure, HitCount
from companion.arrange.endings import ENDINGS
from companion.arrange.events import ending_form, introduction_form
from companion.arrange.introductions import INTRODUCTIONS
from companion.arrange.turnarounds import is_home, tonic_name
from companion.chart.model import Event, Form, MelodyNote

RUN = 3
PHRASE = 4
"""Bars of a phrase; a tonic in its first half begins it, and closes nothing."""
DOMINANTS = (7, 1)
"""Semitones above the tonic of the roots that lead home: the dominant, and its substitute."""


def all_turn_figures(form: Form) -> list[AuditFigure]:
    """Figures of every introduction and ending that a form may have; a vamp comes home as often as it goes round."""
    introductions = [introduction_form(form, Event("introduction", how=how)) for how in INTRODUCTIONS]
    endings = [ending_form(form, Event("ending", how=how)) for how in ENDINGS if how != "vamp"]
    return turn_figures(form, introductions, endings)


def turn_figures(form: Form, introductions: Sequence[Form], endings: Sequence[Form]) -> list[AuditFigure]:
    """Figures of introductions and endings of one form."""
    own, open_, once = HitCount(), HitCount(), HitCount()
    for n, made in enumerate(introductions):
        if form.melody:
            share = tunes_own(form, made.melody)
            own.add(share >= 0.5, f"introduction {n}: {share:.2f}", share < 0.5)
        home = is_home(form, made.chords[-1].chord)
        open_.add(not home or len({span.chord for span in made.chords}) <= 2, f"introduction {n}", home)
    for n, made in enumerate(endings):
        count = closes(form, made)
        once.add(count == 1, f"ending {n}: {count}", count != 1)
    return [
        own.figure("introductions made of the tune's own melody", at_least=1.0),
        open_.figure("introductions that stay open", at_least=1.0),
        once.figure("endings that close once", at_least=1.0),
    ]


def closes(form: Form, ending: Form) -> int:
    """How often an ending comes home from its dominant at the end of four bars; once where it is at home all along."""
    home = tonic_name(form).pc
    spans = [span for span in ending.chords if span.chord.root is not None]
    if all(is_home(form, span.chord) for span in spans):
        return 1
    found = 0
    for before, after in pairwise(spans):
        assert before.chord.root is not None
        from_dominant = (before.chord.root.pc - home) % 12 in DOMINANTS
        late = (ending.bar_at(after.start) - 1) % PHRASE >= PHRASE // 2 or after.start == ending.bars[-1]
        found += is_home(form, after.chord) and from_dominant and late
    return max(found, int(is_home(form, spans[-1].chord)))


def tunes_own(form: Form, melody: Sequence[MelodyNote]) -> float:
    """Which share of a melody's notes stands in runs that the tune has too, in rhythm and direction."""
    if not melody:
        return 0.0
    run = min(RUN, len(melody), len(form.melody))
    known = {_shape(form.melody[n : n + run]) for n in range(len(form.melody) - run + 1)}
    hit: set[int] = set()
    for n in range(len(melody) - run + 1):
        if _shape(melody[n : n + run]) in known:
            hit.update(range(n, n + run))
    return len(hit) / len(melody)


def _shape(notes: Sequence[MelodyNote]) -> tuple[tuple[Fraction, int], ...]:
    return tuple(
        (b.beat - a.beat, (b.pitch.midi > a.pitch.midi) - (b.pitch.midi < a.pitch.midi)) for a, b in pairwise(notes)
    )
