"""The tempo marking over the first bar: the feel in words, what quavers mean, and the tempo.

Conventions: tempo in quarters a minute in the sheet, in the beat that is counted on paper: a quarter, a dotted quarter
in 6/8, a half in 2/2 (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from companion.engrave.sheet import Sheet
from companion.errors import ConfigError
from companion.music.swing import swing_ratio

WORDS = {"straight": "Straight eighths", "swing": "Swing"}
"""Where it isn't the feel's own name."""
TOO_FAST = "Fast, even eighths"
"""A swing tune at a tempo at which quavers even out."""
SWUNG = 1.15
"""Long quaver to short one, from which on quavers are marked as swung; below it nobody hears it."""
LIGHTLY = 1.7
"""Below it the swing is called light."""


@dataclass(frozen=True)
class TempoMarking:
    """What stands over the first bar."""

    words: str
    swung: tuple[int, int] | None
    """Long quaver to short one in small whole numbers, where they aren't even."""
    beat: str
    """MusicXML's name of the note value that is counted."""
    dotted: bool
    per_minute: int


def tempo_marking(sheet: Sheet) -> TempoMarking:
    """How a sheet is to be played."""
    pulse, beat = float(sheet.metre.pulse), "quarter"
    if sheet.metre.beat_type == 2:
        pulse, beat = 2.0, "half"
    ratio = 1.0 if sheet.metre.compound else _ratio(sheet)
    swung = Fraction(ratio).limit_denominator(3) if ratio >= SWUNG else None
    words = WORDS.get(sheet.feel, sheet.feel.capitalize())
    if sheet.feel == "swing" and swung and ratio < LIGHTLY:
        words = "Light swing"
    if sheet.feel == "swing" and not swung:
        words = TOO_FAST
    if sheet.metre.compound and sheet.feel in ("straight", "swing"):
        words = ""  # its quavers are as even as they are written
    return TempoMarking(
        words=words,
        swung=(swung.numerator, swung.denominator) if swung and swung != 1 else None,
        beat=beat,
        dotted=sheet.metre.compound,
        per_minute=round(sheet.tempo / pulse),
    )


def _ratio(sheet: Sheet) -> float:
    try:
        return swing_ratio(sheet.tempo, sheet.feel)
    except ConfigError:
        return 1.0
