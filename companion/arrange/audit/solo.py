"""What a teacher would count in a solo: what its phrases take up, where it peaks, how long it speaks and is silent.

Conventions: a solo is its choruses in order, each a row of notes in quarters from the first downbeat of the form. A
phrase ends where nothing sounds for three quarters of a quarter. A phrase takes up another when its first five notes
come in the same rhythm, one that isn't even, or when six intervals running are the same in semitones; an even run of
quavers counts for nothing. That a solo takes up what it said, leaves space, and rises to a peak in its third quarter is
common practice; the targets are the project's.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from statistics import fmean

from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.lookup import bar_and_beat, harmony_at
from companion.arrange.part import Note
from companion.chart.model import Form

BREATH = Fraction(3, 4)
RHYTHM, INTERVALS = 4, 6
"""Distances between notes, and intervals, that must be the same."""
BACK = 2
"""Phrases back that are looked at."""


def solo_figures(form: Form, solos: Sequence[Choruses]) -> list[AuditFigure]:
    """Figures of some solos over one form, each given as its choruses in order.

    Parameters
    ----------
    form : Form
    solos : sequence of sequence of sequence of Note
    """
    taken, peaks, short, strong, leaps = (HitCount() for _ in range(5))
    silent: list[float] = []
    climbs: list[float] = []
    for solo in solos:
        told = [phrase for chorus in solo for phrase in phrases(chorus)]
        for n, phrase in enumerate(told[1:], 1):
            hit = any(takes_up(phrase, before) for before in told[max(0, n - BACK) : n])
            taken.add(hit, lambda p=phrase: bar_and_beat(form, p[0].beat), False)  # type: ignore[misc]
        for phrase in told:
            bars = (phrase[-1].beat + phrase[-1].length - phrase[0].beat) / form.metre.bar
            short.add(bars <= 5, lambda p=phrase: bar_and_beat(form, p[0].beat), bars > 5)  # type: ignore[misc]
            leaps.add(
                all(abs(b.midi - a.midi) <= 12 for a, b in pairwise(phrase)), bar_and_beat(form, phrase[0].beat), False
            )
        for note in (note for chorus in solo for note in chorus if note.beat % form.metre.pulse == 0):
            hit = note.midi % 12 in harmony_at(form, note.beat).tones
            strong.add(hit, "", False)
        share = peak_share(form, solo)
        peaks.add(0.5 <= share <= 0.75, f"at {share:.2f}", not 0.5 <= share <= 0.75)
        silent += [1 - float(sum(note.length for note in chorus) / form.length) for chorus in solo]
        climbs.append(_climb(solo))
    runs = len(solos)
    return [
        taken.figure("phrases that take up one of the last two", at_least=1 / 3),
        peaks.figure("highest note in the third quarter", at_least=0.9),
        short.figure("phrases of five bars at most", at_least=1.0),
        leaps.figure("phrases without a leap wider than an octave", at_least=1.0),
        strong.figure("chord tones on the beat", at_least=0.75),
        AuditFigure("share of silence", fmean(silent) if silent else 0.0, 0.2, 0.5, runs),
        AuditFigure("semitones from the first quarter up to the third", _mean(climbs), 1.0, None, runs),
        AuditFigure("choruses that are another again", _repeats(solos), None, 0.0, runs),
    ]


def phrases(chorus: Sequence[Note]) -> list[list[Note]]:
    """A line cut at its breaths."""
    found: list[list[Note]] = [[chorus[0]]] if chorus else []
    for note, after in pairwise(chorus):
        if after.beat - note.beat - note.length >= BREATH:
            found.append([])
        found[-1].append(after)
    return found


def takes_up(phrase: Sequence[Note], before: Sequence[Note]) -> bool:
    """Whether a phrase takes up rhythm or intervals of one before it."""
    rhythm = _distances(phrase)[:RHYTHM]
    if len(rhythm) == RHYTHM and len(set(rhythm)) > 1 and _distances(before)[:RHYTHM] == rhythm:
        return True
    intervals, others = _intervals(phrase), _rows(_intervals(before))
    return bool(_rows(intervals) & others)


def peak_share(form: Form, solo: Choruses) -> float:
    """Where the highest note of a solo lies, as a share of the whole; its first time."""
    found = [(-note.midi, n + float(note.beat / form.length)) for n, chorus in enumerate(solo) for note in chorus]
    return min(found)[1] / len(solo) if found else 0.0


def _distances(phrase: Sequence[Note]) -> list[Fraction]:
    return [b.beat - a.beat for a, b in pairwise(phrase)]


def _intervals(phrase: Sequence[Note]) -> list[int]:
    return [b.midi - a.midi for a, b in pairwise(phrase)]


def _rows(intervals: Sequence[int]) -> set[tuple[int, ...]]:
    return {tuple(intervals[n : n + INTERVALS]) for n in range(len(intervals) - INTERVALS + 1)}


def _climb(solo: Choruses) -> float:
    """How much higher the third quarter of a solo lies than its first, on average, in semitones."""
    notes = [note.midi for chorus in solo for note in chorus]
    quarter = len(notes) // 4
    return fmean(notes[2 * quarter : 3 * quarter]) - fmean(notes[:quarter]) if quarter else 0.0


def _mean(found: Sequence[float]) -> float:
    return fmean(found) if found else 0.0


def _repeats(solos: Sequence[Choruses]) -> float:
    rows = [tuple((note.beat, note.midi) for note in chorus) for solo in solos for chorus in solo]
    return 1 - len(set(rows)) / len(rows) if rows else 0.0
