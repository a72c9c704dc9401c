"""A part: a list of notes in written beats, each with hand, voice, degree and reason.

Whatever plays, prints, checks or explains an arrangement reads this list.

Conventions: beats and lengths in quarters from the first downbeat of the form (Fractions), written, not sounding:
swing, touch and lateness are put on by the map in :mod:`companion.music.swing`. A note may start below 0 (a pickup, or
a chord that anticipates the first downbeat).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from companion.messages import Hand, Part
from companion.music.pitch import Pitch


@dataclass(frozen=True)
class Note:
    """One note of a part."""

    beat: Fraction
    length: Fraction
    pitch: Pitch
    part: Part
    hand: Hand = "right"
    voice: int = 1
    degree: str = ""
    """Degree of the chord it stands on, as musicians say it: '1', 'b3', '13'; 'x' for a chromatic approach."""
    reason: str = ""
    """Why it is there, in a musician's words."""
    weight: float = 1.0
    """How strongly it is struck against the part's level (1 = the level, 0.4 = ghosted, 1.15 = accented)."""
    pedal: bool = False
    """Held by the pedal after the finger has left."""

    @property
    def midi(self) -> int:
        """MIDI number that it sounds as."""
        return self.pitch.midi
