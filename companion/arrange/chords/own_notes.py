"""Chords played with their own notes alone: over another bass than the root, and where the symbol wants nothing added.

Over a slash bass somebody has to have the root, or another chord sounds: G Bb D F over Bb is Gm7, not Ebmaj7. A sus2, a
power chord, a chord of added notes are what their symbols say, and no more (common practice). Such a chord is struck in
close position in each of its inversions; in both hands in open position, where every other note goes to the left hand.

Conventions: degrees of the chord from the lowest note up; semitones above the root, 0-11.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import combinations

from companion.arrange.chords.shape import Shape
from companion.arrange.harmony import Harmony
from companion.music.kinds import Degree
from companion.preferences.voicings import VoicingPreferences

MOST = 4
"""Notes of a chord in one hand, its bass apart."""
_INVERSIONS = {
    1: "root position",
    2: "first inversion",
    3: "first inversion",
    5: "second inversion",
    6: "third inversion",
    7: "third inversion",
}
_CALLED = {
    1: "root",
    2: "second",
    3: "third",
    4: "fourth",
    5: "fifth",
    6: "sixth",
    7: "seventh",
    9: "ninth",
    11: "eleventh",
    13: "thirteenth",
}
_SEVENTHS = (7, 6)


def has_own_notes_alone(harmony: Harmony) -> bool:
    """Whether a chord is played with its own notes: over another bass, or as its symbol wants it."""
    return harmony.bass != harmony.root or harmony.chord.is_exact


def own_shapes(
    voicings: VoicingPreferences, harmony: Harmony, asked: frozenset[int], families: tuple[str, ...]
) -> tuple[Shape, ...]:
    """Shapes of a chord's own notes, the full ones first, then those of fewer notes.

    Parameters
    ----------
    voicings : VoicingPreferences
    harmony : Harmony
    asked : frozenset of int
        Semitones above the root, 0-11, at which the melody sounds meanwhile.
    families : tuple of str
        Families of ``voicings.toml``, the preferred first; the first says whether it is for both hands.
    """
    open_position = any(
        "|" in form for forms in voicings.families[families[0]].forms.values() for form in forms.values()
    )
    inverted = harmony.bass != harmony.root
    return _shapes(voicings, harmony.chord.tones, inverted, asked & {0, 5}, families[0], open_position)


@lru_cache(maxsize=2048)
def _shapes(
    voicings: VoicingPreferences,
    tones: tuple[Degree, ...],
    inverted: bool,
    asked: frozenset[int],
    family: str,
    open_position: bool,
) -> tuple[Shape, ...]:
    costs = voicings.costs
    why = "the bass has another note, so the root is in the chord" if inverted else "its own notes and no more"
    full = _beside_the_melody(_full(tones, inverted), asked)
    unlike = 0.0 if family == "rootless" else costs.unlike
    found = [replace(shape, family=family, why=why) for shape in _positions(full, open_position)]
    for size, name, price in ((3, "three", costs.thin), (2, "two", costs.thinner)):
        if len(full) > size:
            for shape in _positions(_thinned(full, size, inverted), False):
                words = ", ".join(_CALLED.get(tone.number, str(tone)) for tone in shape.degrees)
                found.append(replace(shape, family=name, name=words, price=price + unlike, why=why))
    return tuple(found)


def _full(tones: tuple[Degree, ...], inverted: bool) -> tuple[Degree, ...]:
    """The notes of a full chord: four at most, those first that a chord can do without.

    The root stays over another bass, and where hardly anything else is left.
    """
    kept = list(tones)
    if any(tone.number == 13 for tone in kept) or (Degree(11) in kept and Degree(7, -1) in kept):
        gives_way = Degree(11) if any(tone.number == 13 for tone in kept) else Degree(3)
        kept = [tone for tone in kept if tone != gives_way]
    without = [tone for tone in kept if tone.number != 1]
    if not inverted and len(without) >= 3:
        kept = without
    for spare in (Degree(5), Degree(9), Degree(11)):
        if len(kept) > MOST and spare in kept:
            kept.remove(spare)
    return tuple(kept[:MOST])


def _beside_the_melody(tones: tuple[Degree, ...], asked: frozenset[int]) -> tuple[Degree, ...]:
    """Under the fourth the third gives way; under the root 6 stands for 7."""
    swap = {}
    if 5 in asked and Degree(3) in tones:
        swap[Degree(3)] = Degree(4)
    if 0 in asked and Degree(7) in tones:
        swap[Degree(7)] = Degree(6)
    return tuple(dict.fromkeys(swap.get(tone, tone) for tone in tones))


def _thinned(tones: tuple[Degree, ...], size: int, inverted: bool) -> tuple[Degree, ...]:
    """What is left of a chord with so few notes: what tells it apart, the root among it over another bass."""
    first = (1, 3, 4, 2, *_SEVENTHS) if inverted else (3, 4, 2, *_SEVENTHS, 9)
    order = sorted(tones, key=lambda tone: first.index(tone.number) if tone.number in first else len(first))
    return tuple(sorted(order[:size], key=lambda tone: tone.number))


def _positions(tones: tuple[Degree, ...], open_position: bool) -> Iterator[Shape]:
    """A chord in all its inversions; in open position where there is one without a minor ninth between its notes."""
    ring = sorted(tones, key=lambda tone: tone.pc)
    for turn in range(len(ring)):
        row = (*ring[turn:], *ring[:turn])
        name = _INVERSIONS.get(row[0].number, f"the {_CALLED.get(row[0].number, row[0])} lowest")
        if open_position and len(row) == MOST:
            spread = (row[0], row[2], row[1], row[3])
            if not _rubs(spread):
                yield Shape("", f"{name}, open", spread, 2, 0.0)
        else:
            yield Shape("", name, row, 0, 0.0)


def _rubs(row: tuple[Degree, ...]) -> bool:
    """Whether a note lies a minor ninth over another: a semitone in the octave, the upper one later in the row."""
    return any((high.pc - low.pc) % 12 == 1 for low, high in combinations(row, 2))
