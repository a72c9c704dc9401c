"""Substituted chords: which chord a player means who sounds other notes than the chart's, and what then gives way.

Conventions: pitch classes 0-11 with C = 0; MIDI numbers.

Method: every root with every common quality is weighed by the notes heard, the chart's own chord, its root and its
tritone substitute preferred; the weights are in ``listening.toml``. A note of the companion's gives way where it lies a
semitone, in any octave, from a heard note that the chart didn't foresee, unless it is itself heard, or a root, third or
seventh under a tension that its chord may have (common practice: a b9 over a root is a colour, over a 9 a mistake).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from companion.arrange.harmony import Harmony
from companion.music.chords import parse_chord
from companion.preferences.listening import Agree

QUALITIES = ("maj7", "m7", "7", "m6", "6", "mmaj7", "m7b5", "dim7", "7alt", "7sus4", "7#5")
"""Qualities that a substituted chord may have."""
TRITONE = 6
REACH = 4
"""Semitones by which a clashing note is moved, at most."""


@dataclass(frozen=True)
class MeantChord:
    """A chord as it is heard."""

    root: int
    quality: str
    tones: frozenset[int]
    tensions: frozenset[int]


@lru_cache(maxsize=1)
def _every() -> tuple[MeantChord, ...]:
    found = []
    for quality in QUALITIES:
        chord = parse_chord("C" + quality)
        for root in range(12):
            tones = frozenset((root + pc) % 12 for pc in chord.pitch_classes)
            tensions = frozenset((root + d.semitones) % 12 for d in chord.available) - tones
            found.append(MeantChord(root, quality, tones, tensions))
    return tuple(found)


def unforeseen(harmony: Harmony, heard: frozenset[int]) -> frozenset[int]:
    """Of the pitch classes heard, those that are in neither the chart's chord nor its scale."""
    return frozenset(pc for pc in heard if pc not in harmony.tones and pc not in harmony.scale)


@lru_cache(maxsize=1024)
def meant_harmony(likes: Agree, harmony: Harmony, heard: frozenset[int], lowest: int) -> MeantChord | None:
    """The chord that a player means by what they sound, or None where it is the chart's own.

    Parameters
    ----------
    likes : Agree
        What each kind of note weighs.
    harmony : Harmony
        The chart's chord.
    heard : frozenset of int
        Pitch classes.
    lowest : int
        The lowest of them.
    """
    if not unforeseen(harmony, heard):
        return None
    charted = MeantChord(harmony.root, "", frozenset(harmony.tones), _tensions(harmony))
    best, chosen = _weight(likes, charted, heard, lowest) + likes.charted + likes.same_root, None
    for one in _every():
        weight = _weight(likes, one, heard, lowest)
        if one.root == harmony.root:
            weight += likes.same_root
        elif one.root == (harmony.root + TRITONE) % 12 and one.quality == "7":
            weight += likes.tritone
        if weight > best + 1e-9:
            best, chosen = weight, one
    return chosen


def _weight(likes: Agree, chord: MeantChord, heard: frozenset[int], lowest: int) -> float:
    weight = sum(
        likes.tone if pc in chord.tones else likes.tension if pc in chord.tensions else likes.foreign for pc in heard
    )
    return weight + (likes.root_below if len(heard) > 2 and lowest == chord.root else 0.0)


def _tensions(harmony: Harmony) -> frozenset[int]:
    of_scale = set(harmony.scale) - harmony.avoid
    return frozenset({(harmony.root + d.semitones) % 12 for d in harmony.chord.available} | of_scale)


def clashes(pc: int, harmony: Harmony, heard: frozenset[int], instead: MeantChord | None) -> bool:
    """Whether a note clashes with what is heard and wasn't foreseen; ``instead`` is the chord that is meant."""
    if pc in heard or (instead is not None and pc in instead.tones):
        return False
    near = {h for h in unforeseen(harmony, heard) if (h - pc) % 12 in (1, 11)}
    if not near and instead is not None and instead.root != harmony.root:
        near = {h for h in heard if (h - pc) % 12 in (1, 11)}
    if instead is not None and instead.root != harmony.root:
        return bool(near)
    firm = {harmony.root, *harmony.guides}
    return bool(near - _tensions(harmony) if pc in firm else near)


def nearest_agreeing(midi: int, harmony: Harmony, heard: frozenset[int], instead: MeantChord | None) -> int | None:
    """The nearest note that agrees with what is heard, as a MIDI number; None where there is none within reach."""
    tones = instead.tones if instead is not None else frozenset(harmony.tones)
    good = heard | {pc for pc in tones if not any((h - pc) % 12 in (1, 11) for h in heard - tones)}
    for step in range(1, REACH + 1):
        for near in (midi - step, midi + step):
            if near % 12 in good and not clashes(near % 12, harmony, heard, instead):
                return near
    return None
