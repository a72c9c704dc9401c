"""A written arrangement as parts: the very notes that stand in the chart, and free ones in the bars it leaves open.

Conventions: beats in quarters from the first downbeat of the form, a pickup negative. A note belongs to the bar in
which it begins, a pickup to the first bar. Degree and reason aren't written: they are worked out from the chords.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from companion.arrange.analysis import explain_bass, explain_chords
from companion.arrange.melody.part import index_melody
from companion.arrange.melody.part import melody_notes as melody_notes
from companion.arrange.part import Note
from companion.chart.model import Form, WrittenNote, WrittenPart
from companion.messages import Part


def bar_number_of(form: Form, beat: Fraction) -> int:
    """Number of the bar to which a note that begins at a beat belongs; a pickup belongs to the first."""
    return form.bar_at(max(Fraction(0), min(beat, form.length - Fraction(1, 1024))))


def is_whole(form: Form, written: WrittenPart | None) -> bool:
    """Whether every bar of the form is written."""
    return written is not None and len(written.bars) == len(form.bars)


def written_notes(form: Form, part: str) -> tuple[Note, ...]:
    """The notes of a part that are written, each with its degree and its reason."""
    written = form.written_part(part)
    return _explained_notes(form, written) if written is not None else ()


def with_written_notes(form: Form, part: str, free: Iterable[Note]) -> tuple[Note, ...]:
    """Free notes where nothing is written, and the written ones; a free note ends where a written one begins.

    What is written goes on sounding over its bar line: free notes before its end are left out.
    """
    kept = written_notes(form, part)
    written = form.written_part(part)
    if written is None:
        return tuple(free)
    found = list(kept)
    for note in free:
        if bar_number_of(form, note.beat) in written.bars or any(k.beat <= note.beat < k.beat + k.length for k in kept):
            continue
        stop = min((k.beat for k in kept if k.beat > note.beat), default=note.beat + note.length)
        found.append(replace(note, length=min(note.length, stop - note.beat)))
    return tuple(sorted(found, key=lambda n: (n.beat, n.midi)))


def written_part(form: Form, part: Part, notes: Iterable[Note], bars: Iterable[int] | None = None) -> WrittenPart:
    """Notes of a part as they are written down; ``bars`` are those to write, all of the form's unless given."""
    chosen = frozenset(bars) if bars is not None else frozenset(range(1, len(form.bars) + 1))
    kept = (
        WrittenNote(n.beat, n.length, n.pitch, n.hand, n.voice, n.weight, n.pedal)
        for n in notes
        if bar_number_of(form, n.beat) in chosen
    )
    return WrittenPart(part, chosen, tuple(sorted(kept, key=lambda n: (n.beat, n.pitch.midi, n.voice))))


def as_struck(form: Form, melody: Iterable[Note]) -> tuple[Note, ...]:
    """A melody with the hands, voices, weights and pedal that are written."""
    part = form.written_part("melody")
    said = {(note.beat, note.pitch): note for note in part.notes} if part else {}
    found = []
    for note in melody:
        one = said.get((note.beat, note.pitch))
        if one is not None:
            note = replace(note, hand=one.hand, voice=one.voice, weight=one.weight, pedal=one.pedal)
        found.append(note)
    return tuple(found)


@lru_cache(maxsize=16)
def _explained_notes(form: Form, written: WrittenPart) -> tuple[Note, ...]:
    if written.part == "chords":
        reasons = explain_chords(form, written.notes, index_melody(form))
    elif written.part == "bass":
        reasons = explain_bass(form, written.notes)
    else:
        sung = as_struck(form, melody_notes(form))
        return tuple(note for note in sung if bar_number_of(form, note.beat) in written.bars)
    return tuple(
        Note(
            beat=note.beat,
            length=note.length,
            pitch=note.pitch,
            part=written.part,
            hand=note.hand,
            voice=note.voice,
            degree=degree,
            reason=reason,
            weight=note.weight,
            pedal=note.pedal,
        )
        for note, (degree, reason) in zip(written.notes, reasons, strict=True)
    )
