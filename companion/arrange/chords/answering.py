"""Voicings for chords that the arrangement doesn't have: answers to a gap that the player leaves.

Method: the arrangement's own voicing of the same chord is taken, the nearest in the form; where it has none, a new one
by the rules of :mod:`companion.arrange.chords.voicings`. Of either only the notes under those above it are kept, and of
these none that clashes with them.

Conventions: beats and lengths in quarters from the first downbeat of the form, written; MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from fractions import Fraction
from itertools import groupby

from companion.arrange.chords.context import Strike
from companion.arrange.chords.voicings import candidates
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody.part import NOTHING
from companion.arrange.part import Note
from companion.arrange.plan import plan
from companion.arrange.treatments import Treatment
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences

QUAVER = Fraction(1, 2)


def answer(
    form: Form,
    harmony: Harmony,
    beat: Fraction,
    length: Fraction,
    *,
    arranged: Sequence[Note],
    above: Collection[int] = (),
    treatment: str | None = None,
    reason: str = "answers",
    weight: float = 1.0,
) -> tuple[Note, ...]:
    """A chord of two notes or more, or nothing where there is no room for one.

    Parameters
    ----------
    form : Form
    harmony : Harmony
        The chord.
    beat, length : Fraction
        Where it is struck, and how long it sounds.
    arranged : sequence of Note
        The chords of this chorus, in order.
    above : collection of int
        What sounds or will sound above it.
    treatment : str, optional
        The treatment of the whole form, if one was chosen.
    reason, weight
        As in :class:`companion.arrange.part.Note`.
    """
    spans = [h for h in harmonies(form) if h.label == harmony.label]
    there = [notes for notes in _struck(arranged) if any(h.start <= notes[0].beat < h.end - QUAVER for h in spans)]
    nearest = min(there, key=lambda notes: abs(notes[0].beat - beat), default=[])
    found = [(note.midi, note.degree) for note in nearest if _under(note.midi, above)]
    if len(found) < 2:
        ruling = next((t for a, b, t in plan(form, treatment) if a <= beat < b), plan(form, treatment)[-1][2])
        before = [note.midi for notes in _struck(arranged) if notes[0].beat <= beat for note in notes][-4:]
        found = _made(Strike(beat, length, harmony, ruling, reason), ruling, above, before)
    return tuple(
        Note(beat, length, pitch_in_key(midi, form.fifths), "chords", "right", n, degree, reason, weight)
        for n, (midi, degree) in enumerate(found, 1)
        if len(found) > 1
    )


def _struck(arranged: Sequence[Note]) -> list[list[Note]]:
    """The chords of two notes or more that are struck together."""
    groups = (list(group) for _, group in groupby(arranged, key=lambda note: note.beat))
    return [notes for notes in groups if len(notes) > 1]


def _made(strike: Strike, treatment: Treatment, above: Collection[int], before: Sequence[int]) -> list[tuple[int, str]]:
    """A new voicing of one hand, near the last chord."""
    voicings = preferences(VoicingPreferences)
    found = candidates(voicings, strike, NOTHING, ())
    fitting = [v for v in found if all(_under(m, above) for m in v.midi) and not v.shape.left]
    middle = sum(before) / len(before) if before else None
    best = min(
        fitting,
        key=lambda v: v.price + (abs(sum(v.midi) / len(v.midi) - middle) if middle is not None else 0.0),
        default=None,
    )
    return [(m, str(d)) for m, d in zip(best.midi, best.shape.degrees, strict=True)] if best else []


def _under(midi: int, above: Collection[int]) -> bool:
    return all(midi < high and high - midi not in (1, 13) for high in above)
