"""Which notes of a bar need an accidental.

Conventions: an accidental holds to the end of the bar for its line or space (common practice). A note of the same
letter in another octave gets its own as a reminder; a tied note goes on without one. One place where a staff differs
from the key is remembered for all its voices.
"""

from __future__ import annotations

from collections.abc import Iterable

from companion.engrave.sheet import Voice
from companion.music.pitch import Pitch

SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
"""MusicXML's names by alteration in semitones."""
_SHARPS = "FCGDAEB"
Place = tuple[int, int, int]
"""Voice, number of the head in it, number of the pitch in that."""


def accidentals(voices: Iterable[Voice], fifths: int) -> dict[Place, str]:
    """The accidentals to be printed in one staff of one bar.

    Parameters
    ----------
    voices : iterable of Voice
        Those of the staff.
    fifths : int
        The key signature: sharps, or flats below 0.
    """
    heads = sorted(
        (head.start, voice.number, h, head) for voice in voices for h, head in enumerate(voice.heads) if head.pitches
    )
    usual = _signature(fifths)
    lines: dict[tuple[str, int], int] = {}
    letters: dict[str, set[int]] = {}
    printed: dict[Place, str] = {}
    for _, voice, h, head in heads:
        if head.tied_back:
            continue
        for p, pitch in enumerate(head.pitches):
            if _needed(pitch, usual.get(pitch.step, 0), lines, letters):
                printed[voice, h, p] = SIGNS[pitch.alter]
            lines[pitch.step, pitch.octave] = pitch.alter
            letters.setdefault(pitch.step, set()).add(pitch.alter)
    return printed


def _signature(fifths: int) -> dict[str, int]:
    altered = _SHARPS[:fifths] if fifths >= 0 else _SHARPS[fifths:]
    return dict.fromkeys(altered, 1 if fifths > 0 else -1) if fifths else {}


def _needed(pitch: Pitch, usual: int, lines: dict[tuple[str, int], int], letters: dict[str, set[int]]) -> bool:
    line = pitch.step, pitch.octave
    if line in lines:
        return lines[line] != pitch.alter
    return pitch.alter != usual or bool(letters.get(pitch.step, set()) - {pitch.alter})
