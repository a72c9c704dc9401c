"""The bass as a part: its line as notes, each with its degree, its weight and its reason; skips now and then.

Conventions: beats and lengths in quarters from the first downbeat of the form; MIDI numbers.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from companion.arrange.bass.costs import FREE
from companion.arrange.bass.line import bass_line
from companion.arrange.bass.slots import Slot
from companion.arrange.bass.strikes import PatternPlan
from companion.arrange.harmony import harmonies
from companion.arrange.part import Note
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences, Skips


def bass_notes(
    form: Form,
    patterns: PatternPlan,
    *,
    chorus: int = 1,
    seed: int = 0,
    first: int | None = None,
    kept: Mapping[Fraction, int] | None = None,
) -> tuple[Note, ...]:
    """The bass of one chorus.

    Parameters
    ----------
    form : Form
    patterns : tuple of (start, end, name)
        From where to where, in quarters, which pattern of ``bass.toml`` rules; together they cover the form.
    chorus, seed : int
        The same numbers give the same line, other choruses and seeds other lines.
    first : int, optional
        The MIDI number to which the bass led before.
    kept : mapping, optional
        Notes that stand already, MIDI numbers by their beats: the line leads from them and to them.
    """
    bass = preferences(BassPreferences)
    walked = bass_line(form, patterns, chorus=chorus, seed=seed, first=first, kept=kept)
    midi = (*walked.midi, walked.goal)
    following = (*walked.slots[1:], walked.slots[0])
    skipped = _skips(bass, form, walked.slots, midi, random.Random(f"skips/{seed}/{chorus}"))
    silent = _silent(form)
    found: list[Note] = []
    ground = midi[0]
    for n, slot in enumerate(walked.slots):
        ground = midi[n] if slot.role == "root" or slot.new else ground
        weight = bass.quavers.weight if slot.quick else 1.0
        note = _note(slot, _Around(midi[n], midi[n - 1] if n else None, midi[n + 1], ground), following[n], weight)
        struck = _with_skip(bass.skips, note, following[n], midi[n + 1], skipped[n]) if n in skipped else [note]
        found += [_until(one, silent) for one in struck if not any(a <= one.beat < b for a, b in silent)]
    return tuple(found)


def _silent(form: Form) -> list[tuple[Fraction, Fraction]]:
    """Where the chart says N.C. among its chords, so that the bass rests; a chart without any chord has none."""
    chords = harmonies(form)
    return [(h.start, h.end) for h in chords if not h.written] if any(h.written for h in chords) else []


def _until(note: Note, silent: Sequence[tuple[Fraction, Fraction]]) -> Note:
    """A note that ends where the bass begins to rest."""
    stop = min((start for start, _ in silent if start > note.beat), default=None)
    return note if stop is None else replace(note, length=min(note.length, stop - note.beat))


def _skips(
    bass: BassPreferences, form: Form, places: Sequence[Slot], midi: Sequence[int], chance: random.Random
) -> dict[int, bool]:
    """Slots after which the line skips, by a ghosted quaver before the next beat: never in two bars running.

    True where the quaver anticipates the note to come, False where it echoes the one before. What passes by semitones
    isn't echoed, and only what the chord has is anticipated.
    """
    data, patterns = bass.skips, bass.patterns
    if form.metre.compound or not data.slowest <= form.tempo <= data.fastest or form.feel not in data.feel:
        return {}
    found: dict[int, bool] = {}
    last_bar = -1
    turns = {form.bar_at(section.end - Fraction(1, 8)) for section in form.sections}
    for bar, group in groupby(range(len(places)), key=lambda n: places[n].bar):
        inside = [n for n in group if _may_skip(places[n], midi[n]) and patterns[places[n].pattern].swing_skips]
        share = data.section_end if bar in turns else data.share
        if inside and bar > last_bar + 1 and chance.random() < share:
            n = chance.choice(inside)
            found[n] = chance.random() < data.ahead and midi[n + 1] % 12 in places[n].harmony.scale
            last_bar = bar
    return found


def _may_skip(slot: Slot, midi: int) -> bool:
    goes_on = slot.length == 1 and slot.harmony.end >= slot.beat + slot.length
    return goes_on and not slot.quick and midi % 12 in (slot.harmony.bass, *slot.harmony.scale)


def _with_skip(data: Skips, note: Note, following: Slot, coming: int, ahead: bool) -> list[Note]:
    """A note of one beat, and on the quaver before the next a ghost: its echo, or the note to come ahead of time."""
    pitch, degree = note.pitch, note.degree
    if ahead:
        pitch, degree = following.harmony.name(coming % 12).at(coming), following.harmony.degree(coming % 12)
    ghost = replace(
        note,
        beat=note.beat + Fraction(1, 2),
        length=Fraction(data.length).limit_denominator(24),
        pitch=pitch,
        degree=degree,
        weight=data.weight,
        reason="a ghosted skip: the note to come, ahead of time" if ahead else "a ghosted skip into the next beat",
    )
    return [replace(note, length=Fraction(9, 20)), ghost]


@dataclass(frozen=True)
class _Around:
    """A note's MIDI number, those before and after it, and that of the root below."""

    midi: int
    before: int | None
    after: int
    ground: int


def _note(slot: Slot, around: _Around, following: Slot, weight: float) -> Note:
    midi, after = around.midi, around.after
    degree = slot.harmony.degree(midi % 12)
    return Note(
        beat=slot.beat,
        length=slot.length * slot.hold,
        pitch=slot.harmony.name(midi % 12, after % 12).at(midi),
        part="bass",
        hand="left",
        voice=1,
        degree=degree,
        reason=_reason(slot, around, following, degree),
        weight=weight,
        pedal=slot.pedal,
    )


CALLED = {
    "1": "root",
    "b3": "third",
    "3": "third",
    "5": "fifth",
    "b5": "fifth",
    "b7": "seventh",
    "7": "major seventh",
    "6": "sixth",
}
_CALLED_IN_CHORD = CALLED | {"4": "fourth", "2": "ninth", "b2": "flat ninth", "b6": "flat sixth", "bb7": "seventh"}
"""Names of further degrees, where the chord has them."""


def _reason(slot: Slot, around: _Around, following: Slot, degree: str) -> str:
    midi, before, after = around.midi, around.before, around.after
    symbol = slot.harmony.chord.symbol
    if slot.role == "pedal":
        return "the pedal note, under every chord"
    if slot.role == "ahead":
        return f"the root of {symbol}, ahead of the bar line"
    if slot.new and midi % 12 == slot.harmony.bass:
        return f"the slash bass of {symbol}" if slot.harmony.chord.bass is not None else f"the root says {symbol}"
    if slot.leads and slot.role in FREE and (how := LEADS.get(after - midi)):
        goal = following.harmony.name(after % 12)
        return f"leads to {goal}: {how}{_where(slot)}"
    if slot.role == "third" and slot.new:
        return f"the third of {symbol} in the bass, by step between its neighbours"
    called = (_CALLED_IN_CHORD if midi % 12 in slot.harmony.tones else CALLED).get(degree)
    if degree == "x" or (called is None and passes(before, midi, after)):
        return "passes from the note before to the next"
    if called == "root" and not slot.new and before is not None and abs(midi - before) == 12:
        return f"the root of {symbol} again, an octave {'up' if midi > before else 'down'}"
    if called == "third" and slot.role == "tenth" and midi - around.ground in (15, 16):
        return f"the third of {symbol}, a tenth above the root"
    return f"the {called} of {symbol}" if called else f"a scale note over {symbol} ({degree})"


def _where(slot: Slot) -> str:
    """Where between two beats a note leads on."""
    if not slot.quick:
        return ""
    return {2: ", on the quaver", 3: ", in a triplet"}.get(slot.beat.denominator, ", just before the beat")


LEADS = {
    1: "a semitone below",
    -1: "a semitone above",
    2: "a step below",
    -2: "a step above",
    -7: "its fifth, above",
    5: "its fifth, below",
}
"""Names of approaches, by the semitones from the note to the next."""


def passes(before: int | None, midi: int, after: int) -> bool:
    """Whether a note lies a step from both its neighbours, and they are two."""
    return before is not None and before != after and abs(midi - before) <= 2 and abs(after - midi) <= 2
