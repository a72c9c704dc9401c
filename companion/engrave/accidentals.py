"""Accidentals: which notes of a bar need one on paper.

Conventions: an accidental holds to the end of the bar for its line or space (common practice). A note of the same
letter in another octave gets its own as a reminder, and so does the first one in its place after a bar that ended with
another; a tied note goes on without one. One place where a staff differs from the key is remembered for all its voices.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from companion.engrave.sheet import Voice
from companion.engrave.values import Head
from companion.music.pitch import Pitch

SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
"""MusicXML's names by alteration in semitones."""
_SHARPS = "FCGDAEB"
StaffPosition = tuple[str, int]
"""A line or space of the staff: letter and octave."""
HeadIndex = tuple[int, int, int]
"""Voice, number of the head in it, number of the pitch in that."""


def accidentals(
    voices: Iterable[Voice], fifths: int, before: Mapping[StaffPosition, int] | None = None
) -> dict[HeadIndex, str]:
    """The accidentals to be printed in one staff of one bar.

    Parameters
    ----------
    voices : iterable of Voice
        Those of the staff.
    fifths : int
        The key signature: sharps, or flats below 0.
    before : mapping, optional
        What the bar before ended with (:func:`altered`): a note that is otherwise now is reminded of it.
    """
    reminded = dict(before or {})
    usual = _signature(fifths)
    lines: dict[StaffPosition, int] = {}
    letters: dict[str, set[int]] = {}
    printed: dict[HeadIndex, str] = {}
    for voice, h, head in _in_order(voices):
        for p, pitch in enumerate(head.pitches):
            if head.held_over(pitch):
                continue
            line = pitch.step, pitch.octave
            otherwise = reminded.pop(line, pitch.alter) != pitch.alter
            if otherwise or _needed(pitch, usual.get(pitch.step, 0), lines, letters):
                printed[voice, h, p] = SIGNS[pitch.alter]
            lines[line] = pitch.alter
            letters.setdefault(pitch.step, set()).add(pitch.alter)
    return printed


def altered(voices: Iterable[Voice], fifths: int) -> dict[StaffPosition, int]:
    """Where a staff is otherwise than the key says at the end of a bar, and how."""
    usual = _signature(fifths)
    last = {(p.step, p.octave): p.alter for _, _, head in _in_order(voices) for p in head.pitches}
    return {line: alter for line, alter in last.items() if alter != usual.get(line[0], 0)}


def _in_order(voices: Iterable[Voice]) -> list[tuple[int, int, Head]]:
    """Every head with its voice and its number there, from left to right; at one place the upper voice first."""
    heads = [(voice.number, h, head) for voice in voices for h, head in enumerate(voice.heads) if head.pitches]
    return sorted(heads, key=lambda found: found[2].start)


def _signature(fifths: int) -> dict[str, int]:
    if fifths < 0:
        return dict.fromkeys(_SHARPS[fifths:], -1)
    return dict.fromkeys(_SHARPS[:fifths], 1)


def _needed(pitch: Pitch, usual: int, lines: dict[StaffPosition, int], letters: dict[str, set[int]]) -> bool:
    line = pitch.step, pitch.octave
    if line in lines:
        return lines[line] != pitch.alter
    return pitch.alter != usual or bool(letters.get(pitch.step, set()) - {pitch.alter})
