"""Figures of the chords, worked out from their notes alone: what is in them, how they move, where they fall.

Conventions: as in :mod:`companion.arrange.lookup`. Targets are common practice put into numbers: chords hold
their third and seventh, move little, and leave the melody alone.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import partial
from itertools import pairwise

from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.chords.own_notes import has_own_notes_alone
from companion.arrange.harmony import Harmony
from companion.arrange.lookup import NoteIndex, bar_and_beat, harmony_at, numbered_bars, treatment_at
from companion.arrange.melody.part import treated
from companion.arrange.part import Note
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form, MelodyNote

CLEAR = 0.125
"""Quarters within which a chord counts as struck together with a melody note."""
LISTENING = ("gaps", "answering")
"""Placements in which chords leave room for the melody."""


ChordStrikes = Sequence[tuple[Fraction, Sequence[Note]]]


def voicing_figures(form: Form, plan: TreatmentPlan, choruses: Choruses, basses: Choruses) -> list[AuditFigure]:
    """Figures of the chords' notes; ``basses`` are the lines that sound below them, chorus by chorus."""
    melody = NoteIndex(note for note, _ in treated(form, plan))
    counts = {name: HitCount() for name in (*_FAULTS, *_OF_ROOTLESS)}
    moves: list[float] = []
    for n, notes in enumerate(choruses):
        struck = [(beat, chord) for beat, chord in chords_of(notes) if treatment_at(plan, beat).placement != "sliding"]
        below = NoteIndex(basses[n] if n < len(basses) else ())
        for beat, chord in struck:
            start, end = min(x.beat for x in chord), max(x.beat + x.length for x in chord)
            over = melody.between(start, end)
            faults = _faults(chord, over, below.between(start, end))
            if treatment_at(plan, beat).chords[0] == "rootless":
                faults |= _rootless_faults(intended_chord(form, beat, chord), chord, over)
            for name, fault in faults.items():
                counts[name].add(fault, partial(_named, form, beat, chord), fault)
        moves += _moves(form, struck)
    mean = sum(moves) / max(1, len(moves))
    return [
        *(count.figure(name, at_most=0.0) for name, count in counts.items()),
        AuditFigure("movement of a voice between chords, semitones", mean, at_most=2.0, of=len(moves)),
    ]


def _named(form: Form, beat: Fraction, chord: Sequence[Note]) -> str:
    return f"{bar_and_beat(form, beat)}: {' '.join(str(x.pitch) for x in chord)}"


def chords_of(notes: Iterable[Note]) -> list[tuple[Fraction, list[Note]]]:
    """Notes gathered into chords, from the lowest up; a late voice belongs to the chord before it."""
    found: list[tuple[Fraction, list[Note]]] = []
    for note in sorted(notes, key=lambda n: n.beat):
        if found and (note.beat == found[-1][0] or note.reason.startswith("late")):
            found[-1][1].append(note)
        else:
            found.append((note.beat, [note]))
    return [(beat, sorted(chord, key=lambda n: n.midi)) for beat, chord in found]


def intended_chord(form: Form, beat: Fraction, chord: Sequence[Note]) -> Harmony:
    """The chord that a voicing stands for: the one to come, struck on the quaver before it, if it says that better."""
    beat %= form.length
    here = harmony_at(form, beat)
    if 0 < here.end - beat <= Fraction(1, 2):
        coming = harmony_at(form, beat + Fraction(1, 2))
        if coming.label != here.label and _fit(coming, chord) > _fit(here, chord):
            return coming
    return here


def _fit(harmony: Harmony, chord: Sequence[Note]) -> int:
    """How well a voicing says a chord: by third and seventh, by the root left out, by its notes in the scale."""
    pcs = {n.midi % 12 for n in chord}
    faults = sum(_rootless_faults(harmony, chord, ()).values())
    return len(pcs & set(harmony.scale)) + len(harmony.guides & pcs) - 4 * faults


_FAULTS = ("clashes with the melody", "below the low limits", "wider than a hand", "above a sounding melody note")
_OF_ROOTLESS = ("rootless voicings with the root in them", "rootless voicings without third and seventh")
_ROOT_ALLOWED = ("m7b5", "dim7", "power", "other")
LOW_LIMITS = {1: 52, 2: 51, 3: 48, 4: 46, 5: 46, 6: 46, 7: 34, 8: 43, 9: 41, 10: 41, 11: 41, 13: 40, 14: 39}
"""MIDI number below which the lower of two neighbours may not lie, by interval (common practice; from memory)."""
SPAN = 14
"""Semitones that a hand takes: a ninth (common practice)."""


def _faults(chord: Sequence[Note], over: Sequence[MelodyNote], below: Sequence[Note]) -> dict[str, bool]:
    """What is wrong with a chord; ``over`` and ``below`` sound while it does."""
    start, under = min(n.beat for n in chord), [n.midi for n in below]
    midi = [n.midi for n in chord]
    clash = any(
        m.pitch.midi - n.midi in (1, 13) and m.beat < n.beat + n.length and n.beat < m.beat + m.length
        for m in over
        for n in chord
    )
    mud = _muddy(midi) or any(low >= midi[0] or _muddy([low, midi[0]]) for low in under)
    wide = any(_too_wide([n.midi for n in chord if n.hand == side]) for side in ("left", "right"))
    above = any(m.beat <= start < m.beat + m.length and midi[-1] > m.pitch.midi for m in over)
    return dict(zip(_FAULTS, (clash, mud, wide, above), strict=True))


def _muddy(midi: Sequence[int]) -> bool:
    return any(low < LOW_LIMITS.get(high - low, 0) for low, high in pairwise(midi))


def _too_wide(midi: Sequence[int]) -> bool:
    return len(midi) > 5 or (len(midi) > 1 and max(midi) - min(midi) > SPAN)


def _rootless_faults(harmony: Harmony, chord: Sequence[Note], melody: Sequence[MelodyNote]) -> dict[str, bool]:
    """The root in it; third or seventh missing.

    A sixth stands for the seventh, a fourth for the third in sus chords and where the melody has the fourth. A chord
    of its own notes alone isn't rootless.
    """
    if harmony.chord.quality == "other" or has_own_notes_alone(harmony):
        return {}
    relative = {(n.midi - harmony.root) % 12 for n in chord}
    start, end = chord[0].beat, chord[0].beat + chord[0].length
    fourth = any((m.pitch.midi - harmony.root) % 12 == 5 and m.beat < end and m.beat + m.length > start for m in melody)
    thirds = {2, 5} if harmony.chord.quality in ("7sus", "sus") else {3, 4} | ({5} if fourth else set())
    rooted = 0 in relative and harmony.chord.quality not in _ROOT_ALLOWED
    return dict(zip(_OF_ROOTLESS, (rooted, not (relative & thirds and relative & {9, 10, 11})), strict=True))


def _moves(form: Form, struck: ChordStrikes) -> list[float]:
    """Semitones that each voice moves between neighbouring voicings of different chords."""
    moves: list[float] = []
    for (beat_a, a), (beat_b, b) in pairwise(struck):
        if intended_chord(form, beat_a, a).label == intended_chord(form, beat_b, b).label:
            continue
        x, y = [n.midi for n in a], [n.midi for n in b]
        if len(x) == len(y):
            moves += [abs(p - q) for p, q in zip(x, y, strict=True)]
        else:
            short, long = sorted((x, y), key=len)
            moves += [min(abs(p - q) for q in long) for p in short]
    return moves


def placement_figures(form: Form, plan: TreatmentPlan, choruses: Choruses) -> list[AuditFigure]:
    """Figures of where the chords fall."""
    melody = [note for note, _ in treated(form, plan)]
    together, unanswered, running = HitCount(), HitCount(), 0
    moving = [m.beat for m in melody if m.length < 2]
    for notes in choruses:
        beats = [beat for beat, _ in chords_of(notes)]
        for beat in beats:
            if treatment_at(plan, beat).placement in LISTENING and melody:
                near = _near(moving, beat)
                together.add(near, partial(bar_and_beat, form, beat), near)
        for bar, start, end in numbered_bars(form):
            rests = melody and not any(start <= m.beat < end for m in melody)
            if rests and treatment_at(plan, start).placement in LISTENING and harmony_at(form, start).written:
                silent = not any(start <= beat < end for beat in beats)
                unanswered.add(silent, f"bar {bar}", silent)
        free = [b for b in beats if treatment_at(plan, b).placement in ("free", *LISTENING)]
        running = max(running, _same_rhythm(form, free))
    return [
        AuditFigure("bars running with one rhythm of the chords", float(running), at_most=4.0),
        together.figure("chords struck with a moving melody note", at_most=0.03),
        unanswered.figure("bars without a melody note left unanswered", at_most=0.05),
    ]


def _near(onsets: Sequence[Fraction], beat: Fraction) -> bool:
    k = bisect_left(onsets, beat)
    return any(0 <= j < len(onsets) and abs(onsets[j] - beat) <= CLEAR for j in (k - 1, k))


def _same_rhythm(form: Form, beats: Sequence[Fraction]) -> int:
    longest, run = 0, 0
    last: tuple[Fraction, ...] = ()
    for _, start, end in numbered_bars(form):
        rhythm = tuple(beat - start for beat in beats if start <= beat < end)
        run = run + 1 if rhythm and rhythm == last else 1
        longest, last = max(longest, run if rhythm else 0), rhythm
    return longest
