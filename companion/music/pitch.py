"""Spelled pitch: letter, accidental and octave, and the MIDI number that it sounds as.

Conventions: MIDI numbers 0-127, C4 = 60 (middle C), A4 = 69; pitch classes 0-11 with C = 0; alterations in semitones
(-1 flat, +1 sharp); ``fifths`` counts sharps (positive) or flats (negative) of a key signature as MusicXML does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

STEPS = "CDEFGAB"
STEP_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_LINE_OF_FIFTHS = "FCGDAEB"
_ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "x": 2, "𝄪": 2, "bb": -2, "𝄫": -2, "♯♯": 2, "♭♭": -2}


@dataclass(frozen=True, order=True)
class Name:
    """A spelled pitch class, such as E flat.

    >>> Name("E", -1).pc, str(Name("E", -1))
    (3, 'Eb')
    """

    step: str
    alter: int = 0

    @property
    def pc(self) -> int:
        """Pitch class, 0-11, C = 0."""
        return (STEP_SEMITONES[self.step] + self.alter) % 12

    @property
    def fifth(self) -> int:
        """Place on the line of fifths: F -1, C 0, G 1, ... B flat -2."""
        return _LINE_OF_FIFTHS.index(self.step) - 1 + 7 * self.alter

    def __str__(self) -> str:
        return self.step + ("#" * self.alter if self.alter > 0 else "b" * -self.alter)

    def above(self, number: int, semitones: int) -> Name:
        """The name a generic interval above: ``number`` letters on (3 = a third), ``semitones`` in all.

        >>> str(Name("D").above(3, 4)), str(Name("E", -1).above(3, 3))
        ('F#', 'Gb')
        """
        step = STEPS[(STEPS.index(self.step) + number - 1) % 7]
        return Name(step, (self.pc + semitones - STEP_SEMITONES[step] + 6) % 12 - 6)

    def at(self, midi: int) -> Pitch:
        """This name in the octave in which it sounds as ``midi``. Raises ValueError when it can't."""
        if (midi - self.pc) % 12:
            raise ValueError(f"{self} does not sound as MIDI {midi}")
        return Pitch(self.step, self.alter, (midi - self.alter - STEP_SEMITONES[self.step]) // 12 - 1)


@dataclass(frozen=True)
class Pitch:
    """A spelled pitch in an octave (scientific: C4 is middle C).

    >>> Pitch("B", -1, 3).midi, str(Pitch("C", 0, 4))
    (58, 'C4')
    """

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI number; 60 is C4."""
        return 12 * (self.octave + 1) + STEP_SEMITONES[self.step] + self.alter

    @property
    def name(self) -> Name:
        """The spelled pitch class, without the octave."""
        return Name(self.step, self.alter)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"


def parse_name(text: str) -> Name:
    """Read a spelled pitch class ('Bb', 'F#', 'C♯'). Raises ValueError when it isn't one."""
    match = re.fullmatch(r"([A-Ga-g])([#♯b♭x𝄪𝄫]*)", text.strip())
    if not match or match[2] not in _ACCIDENTALS:
        raise ValueError(f"{text!r} is not a note name")
    return Name(match[1].upper(), _ACCIDENTALS[match[2]])


def name_at_fifth(fifth: int) -> Name:
    """The name at a place on the line of fifths (0 = C, 1 = G, -1 = F).

    >>> str(name_at_fifth(-3)), str(name_at_fifth(6))
    ('Eb', 'F#')
    """
    return Name(_LINE_OF_FIFTHS[(fifth + 1) % 7], (fifth + 1) // 7)


def name_in_key(pc: int, fifths: int, minor: bool = False) -> Name:
    """The usual spelling of a pitch class in a key: the one nearest to the key on the line of fifths.

    The window runs from the lowered second of the key to its raised fourth, in major and in minor; but a white key
    outside the key is called by its plain letter: E, not F flat, in E flat (common practice).

    >>> str(name_in_key(1, -3)), str(name_in_key(6, 1)), str(name_in_key(4, -3)), str(name_in_key(8, 0, minor=True))
    ('Db', 'F#', 'E', 'G#')
    """
    lowest = fifths - 2 if minor else fifths - 5
    place = lowest + (pc * 7 - lowest) % 12
    in_key = fifths - 1 <= place <= fifths + 5 or (minor and place == fifths + 8)
    white = next((name for name in map(Name, STEPS) if name.pc == pc % 12), None)
    return name_at_fifth(place) if in_key or not white else white


def pitch_in_key(midi: int, fifths: int = 0, minor: bool = False) -> Pitch:
    """A MIDI number spelled as is usual in a key."""
    return name_in_key(midi % 12, fifths, minor).at(midi)
