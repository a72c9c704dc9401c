"""A written bass line back in its range, written chords back in their register, after they have moved to another key.

Conventions: MIDI numbers; beats in quarters from the first downbeat of the form. The ranges are those in which the
arranger writes, from ``configs/bass.toml`` and ``voicings.toml``.

What is out of range moves by octaves. A bass line moves as a whole where that is enough, else by the bar, else note by
note. A chord is inverted: its lower half goes up, or its upper half down, so that a rootless voicing from the third
becomes one from the seventh (common practice).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from companion.chart.model import MelodyNote, WrittenNote
from companion.resources import read_config

OCTAVE = 12


def folded_bass(notes: Sequence[WrittenNote], bars: Sequence[Fraction]) -> tuple[WrittenNote, ...]:
    """A bass line within its range; ``bars`` are the starts of the form's bars."""
    span = read_config("bass")["range"]
    lowest, highest = int(span["lowest"]), int(span["highest"])

    def outside(line: Sequence[WrittenNote], octaves: int = 0) -> int:
        return sum(not lowest <= note.pitch.midi + OCTAVE * octaves <= highest for note in line)

    best = min((0, 1, -1), key=lambda octaves: outside(notes, octaves))
    line = [_moved(note, best) for note in notes]
    found: list[WrittenNote] = []
    for _, group in groupby(line, key=lambda note: bisect_right(bars, note.beat)):
        bar = list(group)
        whole = min((0, 1, -1), key=lambda octaves: outside(bar, octaves))
        for note in (_moved(note, whole) for note in bar):
            up = note.pitch.midi < lowest
            found.append(_moved(note, 1 if up else -1) if outside([note]) else note)
    return tuple(found)


def folded_chords(notes: Sequence[WrittenNote], melody: Sequence[MelodyNote]) -> tuple[WrittenNote, ...]:
    """Chords within their register, and below the melody where they were."""
    data = read_config("voicings")
    together: dict[Fraction, list[WrittenNote]] = {}
    for note in notes:
        together.setdefault(note.beat + note.length, []).append(note)
    found: list[WrittenNote] = []
    for chord in together.values():
        two = len({note.hand for note in chord}) > 1
        found += _chord(chord, data["register-of-two-hands" if two else "register"], melody)
    return tuple(sorted(found, key=lambda note: (note.beat, note.pitch.midi, note.voice)))


def _chord(chord: Sequence[WrittenNote], register: dict[str, int], melody: Sequence[MelodyNote]) -> list[WrittenNote]:
    """One chord, inverted if need be."""
    in_order = sorted(chord, key=lambda note: note.pitch.midi)
    half = len(in_order) // 2 or 1
    if in_order[0].pitch.midi < register["lowest"]:
        raised = [*in_order[half:], *(_moved(note, 1) for note in in_order[:half])]
        if _top(raised) <= register["highest"] and not _over(raised, melody):
            return _numbered(raised)
    elif in_order[-1].pitch.midi > register["highest"]:
        lowered = [*(_moved(note, -1) for note in in_order[-half:]), *in_order[:-half]]
        if min(note.pitch.midi for note in lowered) >= register["lowest"]:
            return _numbered(lowered)
    return in_order


def _top(chord: Sequence[WrittenNote]) -> int:
    return max(note.pitch.midi for note in chord)


def _over(chord: Sequence[WrittenNote], melody: Sequence[MelodyNote]) -> bool:
    """Whether a chord touches the melody that sounds meanwhile, or a semitone below it."""
    start, end = min(n.beat for n in chord), max(n.beat + n.length for n in chord)
    above = [n.pitch.midi for n in melody if n.beat < end and n.beat + n.length > start]
    return bool(above) and _top(chord) >= min(above) - 1


def _numbered(chord: Sequence[WrittenNote]) -> list[WrittenNote]:
    """The voices counted from below again."""
    voices = sorted(note.voice for note in chord)
    in_order = sorted(chord, key=lambda note: note.pitch.midi)
    return [replace(note, voice=voice) for note, voice in zip(in_order, voices, strict=True)]


def _moved(note: WrittenNote, octaves: int) -> WrittenNote:
    return replace(note, pitch=replace(note.pitch, octave=note.pitch.octave + octaves)) if octaves else note
