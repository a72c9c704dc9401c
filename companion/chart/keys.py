"""Keys as musicians write them, 'Bb major' or 'C#m', and the key signature that each has.

Conventions: ``fifths`` counts sharps (positive) or flats (negative), as in MusicXML; a minor key has the signature of
the major key a minor third above (common practice).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from companion.chart.model import ChordSpan, MelodyNote
from companion.errors import ChartError
from companion.music.pitch import Name, name_at_fifth, parse_name

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


MODES = {"lyd": 1, "ion": 0, "maj": 0, "mix": -1, "dor": -2, "aeo": -3, "min": -3, "phr": -4, "loc": -5}
"""By how many fifths the signature of a mode lies from that of the major key on its tonic (common practice)."""


def modal_key(tonic: Name, mode: str) -> tuple[int, int, bool, bool]:
    """The signature of a mode, and the major or minor key on its tonic, for a chart has no other.

    Parameters
    ----------
    tonic : Name
    mode : str
        The first three letters of its name, one of :data:`MODES`.

    Returns
    -------
    signature : int
        Fifths of the mode's own signature.
    fifths : int
        Fifths of the chart's key.
    minor : bool
    exact : bool
        Whether the two are the same.

    >>> modal_key(parse_name("D"), "dor")
    (0, -1, True, False)
    """
    signature = tonic.fifth + MODES[mode]
    minor = mode in ("dor", "aeo", "min", "phr", "loc")
    fifths = tonic.fifth - 3 if minor else tonic.fifth
    return signature, _in_seven(fifths), minor, signature == fifths


def _in_seven(fifths: int) -> int:
    """The enharmonic signature of no more than seven signs."""
    return fifths - 12 if fifths > 7 else fifths + 12 if fifths < -7 else fifths
