"""Kinds of chord, and what may be changed in them, as MusicXML 4.0 defines both.

Conventions: a :class:`Degree` counts from the root in the root's major scale (7 is the major seventh, b7 the minor).
A :class:`Change` is MusicXML's ``<degree>``, whose alterations are counted otherwise: an added degree from the dominant
chord on the root (7 is the minor seventh), an altered one from the degree that the kind already has.

Source: W3C MusicXML 4.0, data type ``kind-value`` and elements ``degree``, ``degree-value``, ``degree-alter``. The
standard names the functional sixths without listing their notes: here they count from the tonic of the key, which
stands as their root (augmented sixths on the lowered sixth degree, the Neapolitan on the lowered second, in first
inversion: common practice).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

HIGHEST_DEGREE = 13
_MAJOR = (0, 2, 4, 5, 7, 9, 11)
_SPELLED = re.compile(r"(bb|b|##|#|x|)(1[0-3]|[1-9])")


@dataclass(frozen=True, order=True)
class Degree:
    """A degree of a chord or scale, 1 to 13, altered by so many semitones against the major scale on the root.

    >>> Degree(9, -1).semitones, str(Degree(9, -1)), str(Degree(11, 1))
    (13, 'b9', '#11')
    """

    number: int
    alter: int = 0

    def __post_init__(self) -> None:
        if not 1 <= self.number <= HIGHEST_DEGREE:
            raise ValueError(f"there is no degree {self.number}; degrees run from 1 to {HIGHEST_DEGREE}")

    @property
    def semitones(self) -> int:
        """Semitones above the root: 4 for the third, 14 for the ninth."""
        octave, step = divmod(self.number - 1, 7)
        return 12 * octave + _MAJOR[step] + self.alter

    @property
    def pc(self) -> int:
        """Semitones above the root within one octave, 0-11."""
        return self.semitones % 12

    def __str__(self) -> str:
        return ("#" * self.alter if self.alter > 0 else "b" * -self.alter) + str(self.number)


@lru_cache(maxsize=256)
def degree(text: str) -> Degree:
    """Read a degree as musicians write it: '3', 'b9', '#11'. Raises ValueError when it isn't one."""
    match = _SPELLED.fullmatch(text)
    if not match:
        raise ValueError(f"{text!r} is not a degree of a chord")
    sign, number = match.groups()
    return Degree(int(number), 2 if sign == "x" else sign.count("#") - sign.count("b"))


def degrees(text: str) -> tuple[Degree, ...]:
    """Read degrees between spaces: ``degrees("1 b3 5")``."""
    return tuple(degree(word) for word in text.split())


@dataclass(frozen=True, order=True)
class Change:
    """One ``<degree>`` of MusicXML."""

    how: str
    """'add', 'alter' or 'subtract'."""
    number: int
    """1 to 13; a file may count on, the degree is then the same an octave lower."""
    alter: int = 0
    """Semitones, counted as MusicXML counts them."""

    def __post_init__(self) -> None:
        if self.how not in ("add", "alter", "subtract"):
            raise ValueError(f"a degree is added, altered or subtracted, not {self.how!r}")


KINDS: dict[str, tuple[Degree, ...]] = {
    kind: degrees(tones)
    for kind, tones in {
        "major": "1 3 5",
        "minor": "1 b3 5",
        "augmented": "1 3 #5",
        "diminished": "1 b3 b5",
        "dominant": "1 3 5 b7",
        "major-seventh": "1 3 5 7",
        "minor-seventh": "1 b3 5 b7",
        "diminished-seventh": "1 b3 b5 bb7",
        "augmented-seventh": "1 3 #5 b7",
        "half-diminished": "1 b3 b5 b7",
        "major-minor": "1 b3 5 7",
        "major-sixth": "1 3 5 6",
        "minor-sixth": "1 b3 5 6",
        "dominant-ninth": "1 3 5 b7 9",
        "major-ninth": "1 3 5 7 9",
        "minor-ninth": "1 b3 5 b7 9",
        "dominant-11th": "1 3 5 b7 9 11",
        "major-11th": "1 3 5 7 9 11",
        "minor-11th": "1 b3 5 b7 9 11",
        "dominant-13th": "1 3 5 b7 9 11 13",
        "major-13th": "1 3 5 7 9 11 13",
        "minor-13th": "1 b3 5 b7 9 11 13",
        "suspended-second": "1 2 5",
        "suspended-fourth": "1 4 5",
        "Neapolitan": "4 b6 b9",
        "Italian": "b6 8 #11",
        "French": "b6 8 9 #11",
        "German": "b6 8 b10 #11",
        "pedal": "1",
        "power": "1 5",
        "Tristan": "1 #4 #6 #9",
        "other": "1",
        "none": "",
    }.items()
}
"""Every ``kind-value`` of MusicXML 4.0, with its degrees from the bottom."""

FUNCTIONAL = frozenset({"Neapolitan", "Italian", "French", "German", "Tristan"})
"""Kinds named for what they do in a key, not for how they are built; they are kept as they are named."""

# In which order kinds are preferred when several describe the same notes with as few changes.
_PREFERRED = (
    "major", "minor", "dominant", "major-seventh", "minor-seventh", "major-sixth", "minor-sixth",
    "suspended-fourth", "suspended-second", "diminished", "augmented", "half-diminished", "diminished-seventh",
    "major-minor", "dominant-ninth", "major-ninth", "minor-ninth", "augmented-seventh", "dominant-11th", "major-11th",
    "minor-11th", "dominant-13th", "major-13th", "minor-13th",
)  # fmt: skip


def tones_of(kind: str, changes: Iterable[Change] = ()) -> tuple[Degree, ...]:
    """The degrees of a kind after its changes, from the lowest number up.

    An alteration of a degree that the kind has not is read as an addition, as files in the wild write it.
    Raises KeyError for a kind that MusicXML does not name.
    """
    tones = list(KINDS[kind])
    added = []
    for change in changes:
        number = _folded(change.number)
        found = next((tone for tone in tones if tone.number == number), None)
        if change.how == "add" or (change.how == "alter" and not found):
            added.append(Degree(number, change.alter - (number == 7)))
        elif found:
            tones.remove(found)
            if change.how == "alter":
                added.append(Degree(number, found.alter + change.alter))
    return tuple(sorted({*tones, *added}, key=lambda tone: (tone.number, tone.alter)))


def _folded(number: int) -> int:
    while number > HIGHEST_DEGREE:
        number -= 7
    return number


@lru_cache(maxsize=1024)
def described(tones: frozenset[Degree]) -> tuple[str, tuple[Change, ...]]:
    """The kind that says these degrees with the fewest changes, and the changes: one way of writing for each chord.

    Changes of the fifth or of a tension are what symbols are made for; a changed third, sixth or seventh names another
    kind, so it is the last resort.
    """
    for kind in ("power", "pedal", "none"):
        if tones == frozenset(KINDS[kind]):
            return kind, ()
    ways = [_changes_between(KINDS[kind], tones) for kind in _PREFERRED]
    best = min(range(len(ways)), key=lambda i: sum(_cost(change) for change in ways[i]))
    return _PREFERRED[best], ways[best]


def _cost(change: Change) -> int:
    if change.how == "add":
        return 1
    return {1: 5, 2: 4, 3: 4, 4: 4, 6: 3, 7: 3}.get(change.number, 1)


def _changes_between(kind: tuple[Degree, ...], tones: frozenset[Degree]) -> tuple[Change, ...]:
    changes = []
    wanted = sorted(tones - set(kind))
    for tone in kind:
        if tone in tones:
            continue
        other = next((new for new in wanted if new.number == tone.number), None)
        if other:
            wanted.remove(other)
            changes.append(Change("alter", tone.number, other.alter - tone.alter))
        else:
            changes.append(Change("subtract", tone.number))
    changes += [Change("add", new.number, new.alter + (new.number == 7)) for new in wanted]
    return tuple(sorted(changes, key=lambda change: (change.number, change.alter)))
