"""From the notes of parts to the voices of two staves: which hand takes them, and what they last on paper.

Conventions: beats in quarters from the first downbeat, as Fractions. The melody is the right hand's upper voice and the
chords are its lower one; the bass is the left hand's, and below its part of an open chord. Where a note comes late to a
chord that still sounds, the chord is struck, then tied to itself with the note in it: in one voice, every beat of which
can be counted.

What a bass or a chord lasts is how it is touched; on paper it fills up to the next note or to the beat, as a copyist
would write it. The melody's lengths are the chart's and stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from companion.arrange.part import Note
from companion.engrave.sheet import LEFT, RIGHT, Sign
from companion.engrave.values import VoiceSpan
from companion.music.pitch import Pitch

StaffVoice = tuple[int, int]
MELODY, CHORDS = (RIGHT, 1), (RIGHT, 2)
OPEN, BASS = (LEFT, 5), (LEFT, 6)
"""Staff and voice; the left hand's voices count from 5 (common practice in MusicXML)."""
BREATH = Fraction(1, 2)
"""Rests up to this long between notes of an accompanying part are touch, not rhythm."""


@dataclass(frozen=True)
class OctaveRule:
    """When a hand is written an octave nearer to its staff than it sounds."""

    voice: StaffVoice
    beside: StaffVoice
    """Another voice of the staff, which has to be silent meanwhile."""
    way: int
    """1: the notes are high (8va), -1: they are low (8vb)."""
    ledger: int
    """MIDI number of the third ledger line (common practice)."""
    near: int
    """MIDI number from which on a note belongs to such a passage: it stands within the staff when it is moved."""

    def far(self, span: VoiceSpan) -> bool:
        """Whether three ledger lines would stand at it."""
        return any((pitch.midi - self.ledger) * self.way >= 0 for pitch in span.pitches)

    def fits(self, span: VoiceSpan) -> bool:
        """Whether it may belong to a passage."""
        return all((pitch.midi - self.near) * self.way >= 0 for pitch in span.pitches)


OTTAVA = OctaveRule(MELODY, CHORDS, 1, ledger=88, near=77)
"""E6 over the treble staff; F5, its top line, an octave lower."""
OTTAVA_BASSA = OctaveRule(BASS, OPEN, -1, ledger=33, near=41)
"""A1 under the bass staff; F2."""
FAR_NOTES = 5
"""Notes on three ledger lines or more that make a passage; fewer keep their ledger lines."""
FEW = 3
"""From one such note of a passage to the next, in notes."""
SpansByVoice = dict[StaffVoice, list[VoiceSpan]]


def staff_of(note: Note) -> int:
    """The staff of the hand that takes a note: the bass is always the left's."""
    return LEFT if note.part == "bass" or (note.part == "chords" and note.hand == "left") else RIGHT


def spans_by_voice(notes: Iterable[Note], staves: Sequence[int]) -> SpansByVoice:
    """The notes as spans, voice by voice; those whose hand has no staff are left out."""
    parted: dict[StaffVoice, list[Note]] = {MELODY: [], CHORDS: [], OPEN: [], BASS: []}
    for note in notes:
        if note.part == "chords":
            parted[CHORDS if staff_of(note) == RIGHT else OPEN].append(note)
        else:
            parted[MELODY if note.part in ("melody", "solo") else BASS].append(note)
    found = {}
    for place, held in parted.items():
        if place[0] in staves:
            chords, late = _late_ones(held) if place in (CHORDS, OPEN) else (held, [])
            found[place] = _joined(_spans(chords), late)
    return found


def _joined(chords: Sequence[VoiceSpan], late: Sequence[Note]) -> list[VoiceSpan]:
    """The chords with the notes that come late to them: cut where one comes, tied, and fuller from there on."""
    joining: dict[Fraction, list[Pitch]] = {}
    for note in late:
        joining.setdefault(note.beat, []).append(note.pitch)
    found: list[VoiceSpan] = []
    for chord in chords:
        rest = chord
        for beat in sorted(beat for beat in joining if chord.start < beat < chord.end):
            held = {pitch.midi: pitch for pitch in rest.pitches}
            new = {pitch.midi: pitch for pitch in joining[beat] if pitch.midi not in held}
            if new:
                found.append(replace(rest, end=beat, tied_on=True))
                fuller = tuple(pitch for _, pitch in sorted({**held, **new}.items()))
                rest = replace(rest, start=beat, pitches=fuller, tied_back=True, joining=tuple(new.values()))
        found.append(rest)
    return found


def _late_ones(notes: Sequence[Note]) -> tuple[list[Note], list[Note]]:
    """The chords, and the notes that come to a chord which goes on as long as they do."""
    chords: list[Note] = []
    late: list[Note] = []
    began, until = Fraction(0), Fraction(0)
    for note in sorted(notes, key=lambda note: note.beat):
        end = note.beat + note.length
        if began < note.beat < until and end == until:
            late.append(note)
        else:
            if note.beat != began:
                began, until = note.beat, end
            until = max(until, end)
            chords.append(note)
    return chords, late


def _spans(notes: Sequence[Note]) -> list[VoiceSpan]:
    """Chords gathered, nothing overlapping, lengths as they are written."""
    together: dict[Fraction, list[Note]] = {}
    for note in sorted(notes, key=lambda note: (note.beat, note.midi)):
        together.setdefault(note.beat, []).append(note)
    starts = [*together, None]
    found = []
    for (start, chord), following in zip(together.items(), starts[1:], strict=True):
        end = max(note.beat + note.length for note in chord)
        if chord[0].part in ("chords", "bass"):
            end = _rounded(end, following)
        end = end if following is None else min(end, following)
        if end > start:
            found.append(VoiceSpan(start, end, tuple({note.midi: note.pitch for note in chord}.values())))
    return found


def _rounded(end: Fraction, following: Fraction | None) -> Fraction:
    """Where a touched note ends on paper."""
    if following is not None and following - end < BREATH:
        return following
    return -(-end // BREATH) * BREATH


# under both staves


def pedals(notes: Iterable[Note], changes: Iterable[Fraction]) -> list[Sign]:
    """Where the pedal goes down ('start', or 'first' where it was up) and comes up ('stop'), in order.

    It is changed with the harmony and at bar lines; what rises over a root meanwhile is held with it.

    Parameters
    ----------
    notes : iterable of Note
        Those that it holds count.
    changes : iterable of Fraction
        Where chords and bars begin.
    """
    new = set(changes)
    spans: list[list[Fraction]] = []
    for note in sorted((note for note in notes if note.pedal), key=lambda note: note.beat):
        end = _rounded(note.beat + note.length, None)
        if not spans or note.beat > spans[-1][1] or (note.beat in new and note.beat > spans[-1][0]):
            if spans:
                spans[-1][1] = min(spans[-1][1], note.beat)
            spans.append([note.beat, end])
        else:
            spans[-1][1] = max(spans[-1][1], end)
    signs, before = [], None
    for start, end in spans:
        first = before is None or start > before
        signs += [(start, "first" if first else "start"), (end, "stop")]
        before = end
    return signs


def octaves(found: SpansByVoice, borders: Iterable[Fraction], rule: OctaveRule) -> list[Sign]:
    """Where a hand's 8va or 8vb begins ('start') and ends ('stop'); no passage goes on across a border."""
    others = [(float(o.start), float(o.end)) for o in found.get(rule.beside, [])]
    passages: list[list[VoiceSpan]] = [[]]
    edges = sorted(borders)
    for span in found.get(rule.voice, []):
        first, last = float(span.start), float(span.end)
        alone = not any(start < last and end > first for start, end in others)
        if not alone or not rule.fits(span):
            passages.append([])
            continue
        before = passages[-1][-1] if passages[-1] else None
        if before and any(before.start < edge <= span.start for edge in edges):
            passages.append([])
        if not before or span.start - before.end < 4:
            passages[-1].append(span)
        else:
            passages.append([span])
    signs = []
    for passage in (_trimmed(passage, rule) for passage in passages):
        if sum(map(rule.far, passage)) >= FAR_NOTES:
            signs += [(passage[0].start, "start"), (passage[-1].end, "stop")]
    return signs


def _trimmed(passage: Sequence[VoiceSpan], rule: OctaveRule) -> list[VoiceSpan]:
    """The passage from its first far note to its last; a gap of more than two notes parts it at most."""
    far = [k for k, span in enumerate(passage) if rule.far(span)]
    if not far:
        return []
    runs = [[far[0]]]
    for before, k in pairwise(far):
        runs[-1].append(k) if k - before <= FEW else runs.append([k])
    best = max(runs, key=len)
    return list(passage[best[0] : best[-1] + 1])
