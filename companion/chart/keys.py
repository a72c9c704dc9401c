"""Keys as musicians write them, 'Bb major' or 'C#m', and the key signature that each has.

Conventions: ``fifths`` counts sharps (positive) or flats (negative), as in MusicXML; a minor key has the signature of
the major key a minor third above (common practice).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from companion.chart.model import ChordSpan, MelodyNote
from companion.errors import ChartError
from companion.music.pitch import name_at_fifth, parse_name

_KEY = re.compile(r"([A-G][#♯b♭]?)\s*(major|maj|minor|min|m|)", re.IGNORECASE)


def read_key(text: str) -> tuple[int, bool]:
    """Fifths, and whether the key is minor. Raises ChartError.

    >>> read_key("C minor"), read_key("Bb"), read_key("F#m")
    ((-3, True), (-2, False), (3, True))
    """
    match = _KEY.fullmatch(text.strip())
    if match:
        minor = match[2].lower() in ("minor", "min") or match[2] == "m"
        fifths = parse_name(match[1][0].upper() + match[1][1:]).fifth - (3 if minor else 0)
        if -7 <= fifths <= 7:
            return fifths, minor
    raise ChartError(
        f"{text!r} is not a key with up to seven sharps or flats",
        where="key",
        mend='write it like "C minor" or "Bb major"',
    )


def write_key(fifths: int, minor: bool) -> str:
    """The key's name.

    >>> write_key(-3, True)
    'C minor'
    """
    return f"{name_at_fifth(fifths + 3 if minor else fifths)} {'minor' if minor else 'major'}"


def guess_fifths(melody: Sequence[MelodyNote], chords: Sequence[ChordSpan]) -> int:
    """The signature that leaves the fewest accidentals, for a sheet that gives none; of equal ones the plainest."""
    weights = [(note.pitch.name.fifth, note.length) for note in melody]
    weights += [(c.chord.root.fifth, c.end - c.start) for c in chords if c.chord.root is not None]

    def accidentals(fifths: int) -> float:
        return float(sum(length for fifth, length in weights if not fifths - 1 <= fifth <= fifths + 5))

    return min(range(-7, 8), key=lambda fifths: (accidentals(fifths), abs(fifths)))


def sounds_minor(fifths: int, chords: Sequence[ChordSpan]) -> bool:
    """Whether a tune with this signature ends on its minor tonic rather than its major one."""
    last = next((c.chord for c in reversed(chords) if c.chord.root is not None), None)
    return (
        last is not None
        and last.root == name_at_fifth(fifths + 3)
        and last.quality.startswith("m")
        and (not last.quality.startswith("maj"))
    )
