"""Figures of the harmony: whether what is played says the chord that is written, worked out from the notes alone.

Conventions: as in :mod:`companion.arrange.lookup`. A chord struck on the quaver before the next counts for that one.
Fourths that slide from chord to chord belong to none, and are left out. Targets are common practice: over a slash bass
somebody has the root; where the chart says N.C. the melody is alone; a chord holds no note outside the scale that is
named for it, and a symbol without third or seventh is played without.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from companion.arrange.analysis import heard_as
from companion.arrange.audit.chords import chords_of
from companion.arrange.audit.figures import AuditFigure, Choruses, HitCount
from companion.arrange.harmony import Harmony
from companion.arrange.lookup import NoteIndex, bar_and_beat, harmony_at, treatment_at
from companion.arrange.melody.part import treated
from companion.arrange.part import Note
from companion.arrange.scales import chord_said, named_scales
from companion.arrange.treatments import TreatmentPlan
from companion.chart.model import Form


def harmony_figures(form: Form, plan: TreatmentPlan, choruses: Choruses, basses: Choruses) -> list[AuditFigure]:
    """Figures of bass and chords together; one of each for each chorus."""
    rootless, silent = HitCount(), HitCount()
    outside, unasked = HitCount(), HitCount()
    melody = NoteIndex(note for note, _ in treated(form, plan))
    says = any(span.chord.is_chord for span in form.chords)
    for n, notes in enumerate(choruses):
        bass = basses[n] if n < len(basses) else ()
        below, scales = NoteIndex(bass), named_scales(form, notes)
        for note in (*bass, *notes) if says else ():
            late = not (harmony_at(form, note.beat).written or heard_as(form, note.beat, note.length)[0].written)
            silent.add(late, partial(_named, form, [note]), late)
        for beat, chord in chords_of(notes):
            if treatment_at(plan, beat).placement == "sliding":
                continue
            harmony = chord_said(form, beat, max(x.length for x in chord), {x.midi % 12 for x in chord})
            if not harmony.written:
                continue
            pcs = {x.midi % 12 for x in chord}
            start, end = min(x.beat for x in chord), max(x.beat + x.length for x in chord)
            if harmony.bass != harmony.root:
                heard = pcs | {x.midi % 12 for x in below.between(start, end)}
                heard |= {x.pitch.midi % 12 for x in melody.between(start, end)}
                lacks = harmony.root not in heard
                rootless.add(lacks, partial(_named, form, chord), lacks)
            scale = scales.get(harmony.start)
            if scale is not None:
                strange = not pcs <= {*scale.pitch_classes, harmony.bass}
                outside.add(strange, partial(_named, form, chord), strange)
            added = _added(harmony, pcs)
            if added is not None:
                unasked.add(added, partial(_named, form, chord), added)
    return [
        rootless.figure("chords over a slash bass without their root", at_most=0.0),
        silent.figure("notes of bass and chords where no chord is written", at_most=0.0),
        outside.figure("chords with a note outside the scale that is named", at_most=0.0),
        unasked.figure("sus2, power and added-note chords with what isn't theirs", at_most=0.0),
    ]


def _added(harmony: Harmony, pcs: set[int]) -> bool | None:
    """Whether a chord of open or added notes has more than its symbol says; None for other chords."""
    own = {str(tone) for tone in harmony.chord.tones}
    told = {(harmony.root + tone.semitones) % 12 for tone in harmony.chord.tones} | {harmony.bass}
    triad = own & {"3", "b3"} and not own & {"6", "7", "b7", "bb7"}
    opened = not own & {"3", "b3", "4", "11"}
    if opened or (triad and own & {"2", "4", "9", "11", "#11"}):
        return not pcs <= told
    return None


def _named(form: Form, chord: Sequence[Note]) -> str:
    return f"{bar_and_beat(form, chord[0].beat)}: {' '.join(str(x.pitch) for x in chord)}"
