"""Spelling by harmony and line: what is made up is respelled where its letters contradict each other.

Each note comes with the letter that its own chord, or the key, gives it. Read together they may not make sense: fourths
as E flat, G sharp, C sharp; A natural in one hand under the B double flat of the melody; G flat to G sharp as a step.
So of all letters that a note may have, those are taken together which cost least: between notes that sound at once, and
from note to note of the bass, an interval has the letters of its size (a fourth four, a minor second two), the chord's
own tones keep theirs, and a letter once given is kept where nothing speaks against it. Sources: the line of fifths as a
measure of spelling, and preference rules for it (Temperley, The Cognition of Basic Musical Structures, 2001, chapter 5,
from memory); the costs are our own, and how chords and chromatic lines are spelled is common practice.

Conventions: beats in quarters as Fractions; pitch classes 0-11 with C = 0.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product
from typing import NamedTuple

from companion.arrange.part import Note
from companion.chart.model import ChordSpan
from companion.music.chords import Chord
from companion.music.kinds import Degree
from companion.music.pitch import STEPS, Name, Pitch

_CHANGED = 0.5
"""A letter other than the given one."""
_CHORD_TONE = 1.0
"""A plain tone of the chord that doesn't have the chord's letter."""
_ROOT = 3.0
"""The root with another letter than its symbol's."""
_THIRD = 2.0
"""The third with another letter than the chord's."""
_EARLY = 1
"""Quarters that a chord may come before it is written."""
_OTHER_HAND = 1.5
"""A pitch class that the melody spells otherwise over the same chord."""
_AWKWARD = 1.0
"""E sharp, B sharp, F flat or C flat, where the key hasn't it."""
_FROM_KEY = 0.05
"""For each fifth outside the key."""
_LETTERS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""By semitones: how many letters on an interval's upper note is."""
_ODD = {
    (0, 1): 4.0, (0, 6): 4.0, (1, 0): 1.2, (2, 2): 0.8, (3, 1): 0.5, (4, 3): 0.5, (5, 2): 3.0, (6, 4): 0.0,
    (7, 5): 3.0, (8, 4): 0.3, (9, 6): 0.3, (10, 5): 0.5, (11, 0): 0.8,
}  # fmt: skip
"""By semitones and letters: what another spelling of an interval costs; a diminished fifth is as good as a fourth."""
_ODDEST = 2.0
_MOST_TOGETHER = 6
"""Notes of a chord that are spelled together."""
_NEAR = 2
"""Quarters: notes of a line that are further apart don't lead to each other."""
_RAISED, _NATURAL = 0.5, 1.0
"""A semitone on one letter, away from the key (C, C sharp) or back into it."""


class LettersOver(NamedTuple):
    """A chord while it lasts, with what its tones and the melody's notes over it are called."""

    start: Fraction
    firm: Mapping[int, float]
    """What another letter costs for its root and its third."""
    tones: Mapping[int, Name]
    melody: Mapping[int, Name]


def respelled(
    notes: Sequence[Note], chords: Sequence[ChordSpan], fifths: int, fixed: Collection[tuple[Fraction, int]] = ()
) -> list[Note]:
    """The notes with letters that agree.

    Parameters
    ----------
    notes : sequence of Note
        Of any parts; the melody's keep their letters.
    chords : sequence of ChordSpan
        In order.
    fifths : int
        The key signature.
    fixed : collection of (Fraction, int)
        Beat and MIDI number of notes that somebody wrote, which keep their letters, too.
    """
    spans = letters_over(notes, chords)
    done = [note for note in notes if note.part in ("melody", "solo") or (note.beat, note.midi) in fixed]
    kept = set(map(id, done))
    bass = [note for note in notes if note.part == "bass" and id(note) not in kept]
    done += _line(bass, spans, fifths)
    strikes: dict[Fraction, list[Note]] = {}
    for note in notes:
        if note.part == "chords" and id(note) not in kept:
            strikes.setdefault(note.beat, []).append(note)
    sounding = [_sounding(note) for note in done]
    for beat, struck in sorted(strikes.items()):
        at = float(beat)
        around = [note.pitch for start, end, note in sounding if start <= at < end and _binds(note, struck)]
        chord = _chord(struck, around, chord_meant(spans, struck), fifths)
        done += chord
        sounding += map(_sounding, chord)
    return sorted(done, key=lambda note: (note.beat, note.midi))


def _sounding(note: Note) -> tuple[float, float, Note]:
    """From when to when a note sounds, as floats, which are compared much faster than Fractions."""
    return float(note.beat), float(note.beat + note.length), note


def _binds(note: Note, struck: Iterable[Note]) -> bool:
    """Whether a note that sounds has a say in the letters of a chord: the bass only where it has the same note."""
    return note.part != "bass" or any((note.midi - other.midi) % 12 == 0 for other in struck)


def letters_over(notes: Iterable[Note], chords: Sequence[ChordSpan]) -> list[LettersOver]:
    """What the tones of each chord are called, and the melody's notes that sound while it lasts."""
    melody = sorted((note for note in notes if note.part == "melody"), key=lambda note: note.beat)
    beats, longest = [note.beat for note in melody], max((note.length for note in melody), default=0)
    found = []
    for span in chords:
        near = melody[bisect_left(beats, span.start - longest) : bisect_left(beats, span.end)]
        over = [note for note in near if note.beat + note.length > span.start]
        tones: dict[int, Name] = {}
        if span.chord.root is not None:
            names = map(span.chord.name_of, _plain_tones(span.chord))
            tones = {name.pc: name for name in names if abs(name.alter) <= 1}
        firm = {span.chord.name_of(tone).pc: _THIRD for tone in span.chord.tones if tone.number == 3}
        if span.chord.root is not None:
            firm[span.chord.root.pc] = _ROOT
        said = {note.pitch.name.pc: note.pitch.name for note in over}
        found.append(LettersOver(span.start, firm, tones, said))
    return found


def _plain_tones(chord: Chord) -> list[Degree]:
    """Root, third, fifth, sixth and seventh; altered fifths of a dominant are written as is easiest to read."""
    major = any(tone.number == 3 and not tone.alter for tone in chord.tones)
    plain = [tone for tone in chord.tones if tone.number in (1, 3, 5, 6, 7)]
    return [tone for tone in plain if not (major and tone.number == 5 and tone.alter)]


def _at(spans: Sequence[LettersOver], beat: Fraction) -> LettersOver:
    k = bisect_right(spans, beat, key=lambda span: span.start) - 1
    return spans[max(0, k)] if spans else LettersOver(beat, {}, {}, {})


def chord_meant(spans: Sequence[LettersOver], struck: Sequence[Note]) -> LettersOver:
    """The chord over notes struck together, or the one to come where they are its notes as much, struck early."""
    now = _at(spans, struck[0].beat)
    soon = _at(spans, struck[0].beat + _EARLY)
    given = [note.pitch.name for note in struck]
    return max(soon, now, key=lambda span: sum(span.tones.get(name.pc) == name for name in given))


def _names(note: Note, over: LettersOver) -> list[Name]:
    """What a note may be called: with one sign at most, or as the melody or its giver calls it."""
    pc = note.midi % 12
    plain = [Name(step, alter) for step in STEPS for alter in (-1, 0, 1)]
    asked = [note.pitch.name, *(name for name in [over.melody.get(pc)] if name)]
    return list(dict.fromkeys([*asked, *(name for name in plain if name.pc == pc)]))


def name_cost(name: Name, note: Note, over: LettersOver, fifths: int) -> float:
    """What a name costs, whatever stands beside it."""
    cost = _CHANGED * (name != note.pitch.name)
    melody, tone = over.melody.get(name.pc), over.tones.get(name.pc)
    if melody is not None and name != melody:
        cost += _OTHER_HAND
    if tone is not None and name != tone:
        cost += over.firm.get(name.pc, _CHORD_TONE)
    outside = _outside(name, fifths)
    return cost + _FROM_KEY * outside + _AWKWARD * (outside > 0 and str(name) in ("E#", "B#", "Fb", "Cb"))


def interval_cost(low: Name, high: Name, semitones: int) -> float:
    """What the letters of two notes cost, so many semitones apart."""
    letters = (STEPS.index(high.step) - STEPS.index(low.step)) % 7
    return 0.0 if letters == _LETTERS[semitones % 12] else _ODD.get((semitones % 12, letters), _ODDEST)


def _chord(struck: Sequence[Note], around: Sequence[Pitch], over: LettersOver, fifths: int) -> list[Note]:
    """Notes struck together, with the letters that agree best with each other and with what sounds already."""
    notes = sorted(struck, key=lambda note: note.midi)[:_MOST_TOGETHER]
    rest = sorted(struck, key=lambda note: note.midi)[_MOST_TOGETHER:]
    sounding = [(pitch.midi, pitch.name) for pitch in around]

    def cost(names: tuple[Name, ...]) -> float:
        spelled = [*zip(names, notes, strict=True)]
        found = sum(name_cost(name, note, over, fifths) for name, note in spelled)
        heights = sorted([*((note.midi, name) for name, note in spelled), *sounding], key=_height)
        for k, (low, one) in enumerate(heights):
            found += sum(interval_cost(one, other, high - low) for high, other in heights[k + 1 :])
        return found

    best = min(product(*(_names(note, over) for note in notes)), key=cost)
    return [replace(note, pitch=name.at(note.midi)) for name, note in zip(best, notes, strict=True)] + rest


def _height(note: tuple[int, Name]) -> int:
    return note[0]


def _line(notes: Sequence[Note], spans: Sequence[LettersOver], fifths: int) -> list[Note]:
    """The notes of a line with the letters that lead best from one to the next (a shortest path over all)."""
    line = sorted(notes, key=lambda note: (note.beat, note.midi))
    ways: dict[Name, tuple[float, tuple[Name, ...]]] = {}
    for before, note in pairwise([None, *line]):
        assert note is not None
        over = _at(spans, note.beat)
        far = before is None or note.beat - before.beat - before.length > _NEAR
        found = {}
        for name in _names(note, over):
            reached = [
                (
                    spent + (0.0 if far or before is None else step_cost(last, before.midi, name, note.midi, fifths)),
                    path,
                )
                for last, (spent, path) in ways.items()
            ] or [(0.0, ())]
            spent, path = min(reached, key=lambda way: way[0])
            found[name] = spent + name_cost(name, note, over, fifths), (*path, name)
        ways = found
    if not ways:
        return []
    _, path = min(ways.values(), key=lambda way: way[0])
    return [replace(note, pitch=name.at(note.midi)) for name, note in zip(path, line, strict=True)]


def step_cost(last: Name, before: int, name: Name, now: int, fifths: int) -> float:
    """What the letters of a step cost; a semitone on one letter does well if it leads away from the key."""
    low, high = (last, name) if before <= now else (name, last)
    if abs(now - before) == 1 and last.step == name.step:
        return _RAISED if _outside(name, fifths) > _outside(last, fifths) else _NATURAL
    return interval_cost(low, high, abs(now - before))


def _outside(name: Name, fifths: int) -> int:
    return max(0, fifths - 1 - name.fifth, name.fifth - fifths - 5)
