"""Small matters that every text of a chart file has in common.

Conventions: lengths in quarter notes as Fractions.
"""

from __future__ import annotations

import json
from fractions import Fraction

from companion.music.meter import Metre

BARS_A_LINE = 4


def default_unit(metre: Metre) -> Fraction:
    """Length of a plain note, in quarters: an eighth, or a sixteenth in short metres (ABC 2.1, section 3.1.7)."""
    return Fraction(1, 2) if metre.bar >= 3 else Fraction(1, 4)


def quoted(text: str) -> str:
    """A TOML basic string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
