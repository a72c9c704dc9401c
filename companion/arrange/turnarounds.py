"""Turnarounds: the chords that lead back to a tune's beginning or put its close off, and the tune's motif over them.

Method: a turnaround is I-VI-II-V, then III-VI-II-V, two chords a bar; where a tune doesn't begin on its tonic the last
bar is II-V of its first chord. A close is put off by another chord that the melody's note belongs to, for one: the
sixth degree, the lowered sixth, the raised fourth half-diminished. The motif is the tune's first notes up to its first
rest; over other chords it keeps its rhythm and, as nearly as they let it, its intervals. All common practice.

Conventions: beats in quarters from the first downbeat of the form that is made.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from companion.arrange.excerpts import form_of
from companion.arrange.harmony import Harmony, harmonies, tonic
from companion.arrange.lookup import harmony_at
from companion.arrange.solo.line import Aim, Onset, line_pitches
from companion.chart.model import ChordSpan, Form, MelodyNote
from companion.music.chords import Chord, parse_chord
from companion.music.pitch import Name
from companion.preferences import preferences
from companion.preferences.order import OrderPreferences
from companion.preferences.solo import SoloPreferences

STATIC_BARS = 4
"""A tune that has two chords at most in so many bars stands on them."""
REACH = 6
"""Semitones beyond the motif's own that it goes over other chords."""


def tonic_name(form: Form) -> Name:
    """The name of the key's tonic."""
    root = tonic(form).root
    assert root is not None
    return root


def stands_on(form: Form) -> tuple[Chord, ...]:
    """The first two chords of a tune that stands on them, or on the first, at its beginning; empty where it moves."""
    first = [h for h in harmonies(form) if h.start < STATIC_BARS * form.metre.bar]
    found = dict.fromkeys(h.chord for h in first)
    if not 0 < len(found) <= 2 or len(form.bars) <= STATIC_BARS:
        return ()
    return tuple(dict.fromkeys((*found, *(h.chord for h in harmonies(form)))))[:2]


def turnaround(form: Form, bars: int, *, from_third: bool = False) -> Form:
    """So many bars of the turnaround, without a melody, leading to the form's first chord."""
    bars = max(1, bars)
    spans: list[ChordSpan] = []
    for n in range(bars):
        start, half = n * form.metre.bar, _half(form)
        begins = 2 * n if half else n
        row = _row(form, from_third or begins % 8 >= 4)
        if n == bars - 1:
            two, five = leading(form)
            spans += in_bar(form, start, (two, five) if half else (five,))
        else:
            spans += in_bar(form, start, row[begins % 4 : begins % 4 + (2 if half else 1)])
    return form_of(form, tuple(n * form.metre.bar for n in range(bars)), tuple(spans), bars * form.metre.bar)


def in_bar(form: Form, start: Fraction, symbols: Sequence[str]) -> list[ChordSpan]:
    """One chord or two in a bar."""
    bar, half = form.metre.bar, _half(form) or form.metre.bar
    if len(symbols) == 1:
        return [ChordSpan(start, start + bar, parse_chord(symbols[0]))]
    return [
        ChordSpan(start, start + half, parse_chord(symbols[0])),
        ChordSpan(start + half, start + bar, parse_chord(symbols[1])),
    ]


def _half(form: Form) -> Fraction | None:
    """Where the second chord of a bar comes, on a beat; None where a bar has one chord."""
    beats = form.metre.bar / form.metre.pulse
    return None if beats <= 3 and beats % 2 else Fraction(-(-int(beats) // 2)) * form.metre.pulse


def _row(form: Form, from_third: bool) -> tuple[str, str, str, str]:
    one = tonic_name(form)
    two, five = one.above(2, 2), one.above(5, 7)
    if form.minor:
        three, six = one.above(3, 3), one.above(6, 8)
        first = (f"{three}maj7", f"{six}maj7") if from_third else (f"{one}m6", f"{one.above(6, 9)}m7b5")
        return (*first, f"{two}m7b5", f"{five}7alt")
    three, six = one.above(3, 4), one.above(6, 9)
    return (f"{three}m7" if from_third else f"{one}6", f"{six}7b9", f"{two}m7", f"{five}7")


def leading(form: Form) -> tuple[str, str]:
    """II-V to the form's first chord; to the tonic where it begins on that."""
    first = harmonies(form)[0]
    root = first.chord.root or tonic_name(form)
    two, five = root.above(2, 2), root.above(5, 7)
    if any(d.number == 3 and d.alter < 0 for d in first.chord.tones):
        return f"{two}m7b5", f"{five}7b9"
    return f"{two}m7", f"{five}7"


# --- a close put off --------------------------------------------------------------------------------------------------


def is_home(form: Form, chord: Chord) -> bool:
    """Whether a chord is the tonic, in root position."""
    return chord.root is not None and chord.root.pc == tonic_name(form).pc and chord.bass in (None, chord.root)


def homecoming(form: Form) -> tuple[Fraction, Fraction] | None:
    """From where to where the tonic stands that closes a form; None where it has none."""
    spans = list(form.chords)
    at = next((n for n in reversed(range(len(spans))) if is_home(form, spans[n].chord)), None)
    if at is None:
        return None
    first = at
    while first and is_home(form, spans[first - 1].chord):
        first -= 1
    return spans[first].start, spans[at].end


def put_off(form: Form) -> Form:
    """The form with its last tonic put off: other chords under the same melody, and II-V at its end if it was last."""
    found = homecoming(form)
    if found is None or found[0] == 0:
        return form
    start, end = found
    kept = [span for span in form.chords if span.end <= start or span.start >= end]
    bars = [bar for bar in (*form.bars, form.length) if start < bar < end]
    two, five = _cadence(form)
    made: list[ChordSpan] = []
    if end < form.length:  # the tune goes round by itself
        made.append(ChordSpan(start, end, _instead(form, start, end)))
    elif bars:
        made.append(ChordSpan(start, bars[-1], _instead(form, start, bars[-1])))
        made += in_bar(form, bars[-1], (two, five))
    else:
        half = start + (end - start) / 2
        made += [ChordSpan(start, half, _instead(form, start, half)), ChordSpan(half, end, parse_chord(five))]
    return replace(form, chords=tuple(sorted((*kept, *made), key=lambda span: span.start)))


def _cadence(form: Form) -> tuple[str, str]:
    one = tonic_name(form)
    two, five = one.above(2, 2), one.above(5, 7)
    return (f"{two}m7b5", f"{five}7b9") if form.minor else (f"{two}m7", f"{five}9sus4")


def _instead(form: Form, start: Fraction, end: Fraction) -> Chord:
    """The chord in the tonic's place: of those that have the melody's notes one, by how many notes the tune has."""
    one = tonic_name(form)
    if form.minor:
        names = (f"{one.above(6, 8)}maj7", f"{one.above(6, 9)}m7b5", f"{one.above(4, 5)}m7", f"{one.above(3, 3)}maj7")
    else:
        names = (
            f"{one.above(3, 4)}m7",
            f"{one.above(6, 8)}maj7",
            f"{one.above(4, 6)}m7b5",
            f"{one.above(6, 9)}m7",
        )
    sung = {n.pitch.midi % 12 for n in form.melody if n.beat < end and n.beat + n.length > start}
    chords = [parse_chord(name) for name in names]
    fitting = [chord for chord in chords if sung <= _classes(chord)]
    return fitting[len(form.melody) % len(fitting)] if fitting else max(chords, key=lambda c: len(sung & _classes(c)))


def _classes(chord: Chord) -> set[int]:
    assert chord.root is not None
    return {(chord.root.pc + d.semitones) % 12 for d in (*chord.tones, *chord.available)}


# --- the motif --------------------------------------------------------------------------------------------------------


def motif(form: Form) -> tuple[MelodyNote, ...]:
    """The first notes of the tune, its pickup with them, up to the first rest; empty without a melody."""
    if not form.melody:
        return ()
    bar, taste = form.metre.bar, preferences(OrderPreferences).motif
    first = form.melody[0].beat // bar * bar if form.melody[0].beat >= 0 else Fraction(0)
    notes = [replace(n, beat=n.beat - first) for n in form.melody if n.beat - first < taste.bars * bar][: taste.notes]
    for n, (note, after) in enumerate(pairwise(notes), 1):
        if n >= 3 and note.beat >= 0 and after.beat - note.beat >= taste.rest:
            return tuple(notes[:n])
    return tuple(notes)


def stated(
    form: Form, said: Sequence[MelodyNote], at: Fraction, until: Fraction, lift: int = 0
) -> tuple[MelodyNote, ...]:
    """A motif that begins at a bar line of a form, over the form's chords, as far as there is room.

    Parameters
    ----------
    form : Form
        Whose chords it is fitted to.
    said : sequence of MelodyNote
        Beats from its own bar line.
    at, until : Fraction
        Its bar line here, and where the last note must have ended.
    lift : int
        About how many semitones higher than its own it is to begin.
    """
    inside = [n for n in said if 0 <= at + n.beat < until]
    if not inside:
        return ()
    midi = _fitted(form, inside, at, lift)
    ends = [at + n.beat for n in inside[1:]] + [until]
    found = []
    for n, pitch, end in zip(inside, midi, ends, strict=True):
        beat = at + n.beat
        name = harmony_at(form, beat).name(pitch % 12)
        found.append(MelodyNote(beat, min(n.length, end - beat, form.metre.bar), name.at(pitch)))
    return tuple(found)


def _fitted(form: Form, inside: Sequence[MelodyNote], at: Fraction, lift: int) -> list[int]:
    """The motif's own pitches where the chords have them; otherwise those nearest to its intervals."""
    own = [n.pitch.midi for n in inside]
    chords = [harmony_at(form, at + n.beat) for n in inside]
    if not lift and all(_serves(h, m, at + n.beat, form) for h, m, n in zip(chords, own, inside, strict=True)):
        return own
    taste = preferences(SoloPreferences)
    costs = replace(taste.costs, chance=0.0, last_root=0.0)
    low, high = min(own) - REACH, max(own) + REACH
    reach = replace(taste.range, lowest=low - REACH, highest=high + REACH, comfortable=(low, high))
    steps = [None, *(b - a for a, b in pairwise(own))]
    onsets = [
        Onset(at + n.beat, h, (at + n.beat) % form.metre.pulse == 0, False, step)
        for n, h, step in zip(inside, chords, steps, strict=True)
    ]
    aim = Aim(low, high, high + REACH, begins=own[0] + lift)
    return line_pitches(replace(taste, costs=costs, range=reach), onsets, None, aim, random.Random(0))[0]


def _serves(harmony: Harmony, midi: int, beat: Fraction, form: Form) -> bool:
    """Whether a pitch may sound on its beat: a tone of the chord, or of its scale and nothing to be avoided."""
    pc = midi % 12
    if pc in harmony.tones:
        return True
    return pc in harmony.scale and (beat % form.metre.pulse != 0 or pc not in harmony.avoid)
