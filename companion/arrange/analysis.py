"""Analysis of notes that are given and not of the arranger's own making: the degree and the reason of each.

Conventions: as in :mod:`companion.arrange.part`. A chord struck less than a beat before the next chord, and sounding
into it, is heard as the next one's.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby, pairwise

from companion.arrange.bass.part import CALLED, LEADS, passes
from companion.arrange.chords.reasons import THINNED, called, movement
from companion.arrange.chords.shapes import Shape, shapes
from companion.arrange.chords.voicings import Voicing
from companion.arrange.harmony import Harmony, harmonies
from companion.arrange.melody.part import MelodyIndex
from companion.chart.model import Form, WrittenNote
from companion.music.kinds import Degree, degree
from companion.music.pitch import Pitch
from companion.preferences import preferences
from companion.preferences.voicings import VoicingPreferences

GHOST = 0.6
"""Weight below which a note is ghosted and not counted as a note of the line."""
EARLY = Fraction(1)
Explanation = tuple[str, str]
"""Degree and reason."""


def heard_as(form: Form, beat: Fraction, length: Fraction) -> tuple[Harmony, bool]:
    """The chord that a note belongs to, and whether it comes before its chord."""
    chords = harmonies(form)
    at = beat % form.length
    n = bisect_right([chord.start for chord in chords], at) - 1
    here = chords[n]
    left = here.end - at
    coming = chords[(n + 1) % len(chords)]
    early = left < EARLY and length > left and bool(at % form.metre.pulse) and coming.label != here.label
    return (coming, True) if early else (here, False)


# --- the bass ---------------------------------------------------------------------------------------------------------


def explain_bass(form: Form, notes: Sequence[WrittenNote]) -> list[Explanation]:
    """Degree and reason of each note of a bass line; the last leads to the first."""
    line = [n for n, note in enumerate(notes) if note.weight >= GHOST]
    ruled = [heard_as(form, note.beat, note.length) for note in notes]
    found: list[Explanation] = []
    for n, note in enumerate(notes):
        place = bisect_right(line, n)  # of the line's notes, so many begin up to here
        before = line[place - 1 - (n in line)] if line else n
        after = line[place % len(line)] if line else n
        degree = ruled[n][0].degree(note.pitch.name.pc)
        if note.weight < GHOST:
            ahead = notes[after].pitch == note.pitch != notes[before].pitch
            why = "a ghosted skip: the note to come, ahead of time" if ahead else "a ghosted skip into the next beat"
        else:
            neighbours = (notes[before].pitch.midi if before < n else None, notes[after].pitch.midi)
            fresh = place == 1 or ruled[before][0].label != ruled[n][0].label
            leads = ruled[after][0].label != ruled[n][0].label
            why = _bass_reason(note.pitch, degree, ruled[n], neighbours, fresh, ruled[after][0] if leads else None)
        found.append((degree, why))
    return found


def _bass_reason(
    pitch: Pitch,
    degree: str,
    ruled: tuple[Harmony, bool],
    neighbours: tuple[int | None, int],
    fresh: bool,
    goal: Harmony | None,
) -> str:
    harmony, early = ruled
    (before, after), midi, symbol = neighbours, pitch.midi, harmony.chord.symbol
    if early:
        return f"the root of {symbol}, ahead of the bar line" if degree == "1" else f"ahead of {symbol}"
    if fresh and midi % 12 == harmony.bass:
        return f"the slash bass of {symbol}" if harmony.chord.bass is not None else f"the root says {symbol}"
    if goal is not None and after % 12 == goal.bass and (how := LEADS.get(after - midi)):
        return f"leads to {goal.name(after % 12)}: {how}"
    if degree == "x" or (degree not in CALLED and passes(before, midi, after)):
        return "passes from the note before to the next"
    called = CALLED.get(degree)
    if called == "root" and before is not None and abs(midi - before) == 12:
        return f"the root of {symbol} again, an octave {'up' if midi > before else 'down'}"
    return f"the {called} of {symbol}" if called else f"a scale note over {symbol} ({degree})"


# --- the chords -------------------------------------------------------------------------------------------------------


def explain_chords(form: Form, notes: Sequence[WrittenNote], above: MelodyIndex) -> list[Explanation]:
    """Degree and reason of each chord note; ``above`` is the melody that sounds meanwhile."""
    voicings = preferences(VoicingPreferences)
    found: dict[int, Explanation] = {}
    before: Voicing | None = None
    for chord in _chords(notes):
        struck = [notes[n] for n in chord]
        start, length = struck[0].beat, max(n.beat + n.length for n in struck) - struck[0].beat
        in_order = sorted(chord, key=lambda n: notes[n].pitch.midi)
        midi = tuple(notes[n].pitch.midi for n in in_order)
        ways = [(*way, _shape(voicings, way[0], midi, above, start, length)) for way in _ways(form, start, length)]
        harmony, early, shape = next((way for way in ways if way[2].family), ways[0])
        voicing = Voicing(shape, midi, 0.0)
        words = [word for word in (shape.why, _slides(voicing, before) or movement(voicing, before)) if word]
        form_of = f"{called(shape)}: {'; '.join(words)}" if words else called(shape)
        reason = f"{form_of}; {_placed(above, form, start, early)}"
        for n, tone in zip(in_order, shape.degrees, strict=True):
            why = f"late voice, a line of its own; {reason}" if notes[n].beat > start else reason
            found[n] = str(tone) if shape.family else _said(harmony, tone, notes[n].pitch), why
        before = voicing
    return [found[n] for n in range(len(notes))]


def _chords(notes: Sequence[WrittenNote]) -> list[list[int]]:
    """Indices of what makes up each chord: notes struck together, and a late one that ends with them."""
    found: list[list[int]] = []
    for _, group in groupby(range(len(notes)), key=lambda n: notes[n].beat):
        struck = list(group)
        last = found[-1] if found else []
        late = len(struck) == 1 and last and notes[struck[0]].voice in range(2, 5)
        if late and any(notes[n].beat + notes[n].length == _end(notes[struck[0]]) for n in last):
            last += struck
        else:
            found.append(struck)
    return found


def _ways(form: Form, beat: Fraction, length: Fraction) -> list[tuple[Harmony, bool]]:
    """What a chord may be heard as, likeliest first: on the quaver before another chord, also as that one."""
    first = heard_as(form, beat, length)
    other = heard_as(form, beat, length + EARLY)
    return [first] if other == first else [first, other]


def _slides(voicing: Voicing, before: Voicing | None) -> str:
    """Whether a chord is the one before, moved by a semitone."""
    if before is None or len(before.midi) != len(voicing.midi) or len(voicing.midi) < 3:
        return ""
    moves = {b - a for a, b in zip(before.midi, voicing.midi, strict=True)}
    return {frozenset({1}): "slides up a semitone", frozenset({-1}): "slides down a semitone"}.get(frozenset(moves), "")


def _end(note: WrittenNote) -> Fraction:
    return note.beat + note.length


def _shape(
    voicings: VoicingPreferences,
    harmony: Harmony,
    midi: Sequence[int],
    above: MelodyIndex,
    start: Fraction,
    length: Fraction,
) -> Shape:
    """The voicing of the handbooks that a chord is, or its degrees alone."""
    classes = [pitch % 12 for pitch in midi]
    sounding = frozenset(above.classes(float(start), float(start + length)))
    known = [shape for family in voicings.families for shape in shapes(voicings, harmony, sounding, (family,))]
    for shape in sorted(known, key=lambda shape: shape.family in THINNED):
        if [(harmony.root + d.semitones) % 12 for d in shape.degrees] == classes:
            return shape
    intervals = {high - low for low, high in pairwise(midi)}
    name = (
        "fourths" if len(midi) > 2 and intervals == {5} else "a single note" if len(midi) == 1 else "notes of its own"
    )
    return Shape("", name, tuple(_degree(harmony, pc) for pc in classes), 0, 0.0)


def _degree(harmony: Harmony, pc: int) -> Degree:
    """A degree of the chord, of its scale above the octave, or a plain chromatic one."""
    if pc in harmony.tones:
        return harmony.tones[pc]
    found = harmony.scale.get(pc)
    if found is None:
        return _CHROMATIC[(pc - harmony.root) % 12]
    return Degree(found.number + 7, found.alter) if found.number in (2, 4, 6) else found


_CHROMATIC = [degree(word) for word in ("1", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "13", "b7", "7")]


def _said(harmony: Harmony, found: Degree, pitch: Pitch) -> str:
    """A degree as musicians say it; 'x' where the note is neither of the chord nor of its scale."""
    known = pitch.name.pc in harmony.tones or pitch.name.pc in harmony.scale
    return str(found) if known or found in harmony.tones.values() else "x"


def _placed(above: MelodyIndex, form: Form, beat: Fraction, early: bool) -> str:
    """Where a chord falls, and what the melody does there."""
    at = float(beat)
    place = f"on {float((beat - form.bars[form.bar_at(beat) - 1]) % form.length) + 1:g}"
    if early:
        return f"{place}, ahead of its chord"
    start, long, _ = above.around(at)
    if at - start < 1e-6:
        return f"{place}, with the melody"
    if start + long > at:
        return f"{place}, under the melody's long note" if long >= 1 else f"{place}, beside the melody"
    return f"{place}, where the melody rests" if above.notes else place
