"""The bass under a passage of a take, as it sounded; where none did, the roots of the chords.

Of bars that were begun again the last time counts. A note stands at the nearest half of a beat and lasts until the
next.

Conventions: chart beats in quarters; seconds on the take's clock; MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from companion.arrange.part import Note
from companion.chart.model import Form
from companion.messages import Order
from companion.music.chords import Chord
from companion.music.pitch import Pitch, pitch_in_key
from companion.practice.alignment import Alignment

LOWEST = 36
"""MIDI number from which the roots lie, within an octave."""
ON_A_BEAT = 0.3
"""Beats from one up to which a note belongs to it, and not to the off-beat: a triplet's place is an off-beat."""


@dataclass(frozen=True)
class PlayedSpan:
    """A stretch of the chart, in one time through."""

    start: Fraction
    end: Fraction
    chorus: int


def bass_under(form: Form, alignment: Alignment, span: PlayedSpan, ours: Sequence[Order]) -> tuple[Note, ...]:
    """The bass of a passage, the player's own or the companion's, else the roots.

    Parameters
    ----------
    form : Form
    alignment : Alignment
    span : PlayedSpan
    ours : sequence of Order
        What the companion played.
    """
    theirs = [(order.seconds, order.data1) for order in ours if _begins_a_bass_note(order)]
    mine = [
        (note.seconds, note.pitch)
        for notes in alignment.judged
        for note in notes
        if note.part == "bass" and note.seconds is not None and note.pitch is not None
    ]
    struck = _placed(form, alignment, span, sorted([*mine, *theirs]))
    return tuple(_as_notes(form, struck, span.end) if struck else _roots(form, span))


def _begins_a_bass_note(order: Order) -> bool:
    return order.part == "bass" and order.status == 0x90 and order.data2 > 0


def _placed(
    form: Form, alignment: Alignment, span: PlayedSpan, struck: Iterable[tuple[float, int]]
) -> dict[Fraction, int]:
    """Notes by the beat at which they are written."""
    notes, found = list(struck), dict[Fraction, int]()
    through = (span.chorus - 1) * float(form.length)
    for sweep in alignment.sweeps:
        moments = sweep.map()
        begin, end = moments.seconds(sweep.low - ON_A_BEAT), moments.seconds(sweep.high - ON_A_BEAT)
        low = Fraction(sweep.low - through).limit_denominator(24)
        found = {beat: midi for beat, midi in found.items() if beat < low or sweep.high - through <= float(span.start)}
        for seconds, midi in notes:
            if begin <= seconds < end:
                beat = _written(moments.beat(seconds) - through)
                if span.start <= beat < span.end:
                    found[beat] = midi
    return found


def _written(beat: float) -> Fraction:
    """The nearest beat, or the off-beat between two."""
    whole = round(beat)
    return Fraction(whole) if abs(beat - whole) <= ON_A_BEAT else Fraction(int(beat // 1)) + Fraction(1, 2)


def _as_notes(form: Form, struck: dict[Fraction, int], end: Fraction) -> Iterator[Note]:
    for beat, after in pairwise([*sorted(struck), end]):
        yield _note(beat, after - beat, _pitch(form, beat, struck[beat]))


def _pitch(form: Form, beat: Fraction, midi: int) -> Pitch:
    """A note's name by its chord where that has it, else by the key."""
    chord = _chord(form, beat)
    names = (chord.root, chord.bass) if chord else ()
    near = [name.at(midi) for name in names if name is not None and name.pc == midi % 12]
    return near[0] if near else pitch_in_key(midi, form.fifths, form.minor)


def _roots(form: Form, span: PlayedSpan) -> Iterator[Note]:
    """The lowest note of each chord, struck anew in each bar."""
    lines = sorted({*form.bars, *(chord.start for chord in form.chords), span.start, span.end})
    for beat, after in pairwise(line for line in lines if span.start <= line <= span.end):
        chord = _chord(form, beat)
        name = chord and (chord.bass or chord.root)
        if name:
            yield _note(beat, after - beat, name.at(LOWEST + (name.pc - LOWEST) % 12))


def _chord(form: Form, beat: Fraction) -> Chord | None:
    return next((one.chord for one in form.chords if one.start <= beat < one.end), None)


def _note(beat: Fraction, length: Fraction, pitch: Pitch) -> Note:
    return Note(beat, length, pitch, "bass", "left")
