"""Shapes of chords: the families of ``voicings.toml``, coloured as symbol, melody and resolution ask.

Conventions: degrees as musicians say them, from the lowest note up. A bar in a family's data parts the hands: what
stands before it is the left hand's. The root of an open voicing is the bass's, so it is left out here.

Source: Levine, The Jazz Piano Book, 1989 (values from memory), and common practice: a dominant that resolves to minor
is altered unless its symbol says otherwise; over the root in the melody 6 stands for 7; over the fourth the third
gives way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from companion.arrange.chords.own_notes import has_own_notes_alone, own_shapes
from companion.arrange.chords.shape import Shape
from companion.arrange.chords.soundness import form_quality
from companion.arrange.harmony import Harmony
from companion.music.kinds import Degree, degree
from companion.preferences.voicings import VoicingPreferences

__all__ = ["Shape", "ShapesOfChord", "shapes", "shapes_of_chord"]

_MAJOR_THIRD = ("7", "maj7", "6", "maj")
_DOMINANT = ("7", "7alt", "7sus")


@dataclass(frozen=True, eq=False)
class ShapesOfChord:
    """All shapes that a chord may have; the same object for the same chord, so that what is made of it can be kept."""

    every: tuple[Shape, ...]


def shapes(
    voicings: VoicingPreferences, harmony: Harmony, sounding: frozenset[int], families: tuple[str, ...]
) -> tuple[Shape, ...]:
    """All shapes of :func:`shapes_of_chord`."""
    return shapes_of_chord(voicings, harmony, sounding, families).every


def shapes_of_chord(
    voicings: VoicingPreferences, harmony: Harmony, sounding: frozenset[int], families: tuple[str, ...]
) -> ShapesOfChord:
    """All shapes for a chord, in families from the first preferred to those of fewer notes.

    Parameters
    ----------
    voicings : VoicingPreferences
    harmony : Harmony
    sounding : frozenset of int
        Pitch classes of the melody meanwhile.
    families : tuple of str
        Families of ``voicings.toml``, the preferred first.
    """
    asked = frozenset((pc - harmony.root) % 12 for pc in sounding)
    if has_own_notes_alone(harmony):
        return _own(voicings, harmony, asked, families)
    return _shapes(voicings, form_quality(harmony), harmony.chord.tones, harmony.to_minor, asked & _TELLING, families)


@lru_cache(maxsize=1024)
def _own(
    voicings: VoicingPreferences, harmony: Harmony, asked: frozenset[int], families: tuple[str, ...]
) -> ShapesOfChord:
    return ShapesOfChord(own_shapes(voicings, harmony, asked, families))


_TELLING = frozenset({0, 1, 3, 5, 8, 10})
"""Semitones above the root on which a melody note asks for another colour: root, b9, #9, fourth, b13, b7."""
_SIXTH_FOR = {"maj7": "6", "mmaj7": "m6"}
"""Qualities replaced where the melody has the root, a semitone above the seventh."""


@lru_cache(maxsize=4096)
def _shapes(
    voicings: VoicingPreferences,
    quality: str,
    tones: tuple[Degree, ...],
    to_minor: bool,
    asked: frozenset[int],
    families: tuple[str, ...],
) -> ShapesOfChord:
    known, costs = voicings.families, voicings.costs
    prices = {family: rank * costs.family for rank, family in enumerate(families)}
    # A rootless voicing that loses its fifth is still itself; an open one or fourths would become something else.
    unlike = 0.0 if families[0] == "rootless" else costs.unlike
    if families[0] == "rootless":
        prices["inversions"] = costs.inversion
    prices |= {"three": unlike, "two": unlike}
    found: dict[tuple[Degree, ...], Shape] = {}
    for family, price in prices.items():
        forms, why = _forms(known[family].forms, quality, asked)
        for name, text in forms.items():
            left, right = (_degrees(text.partition("|")[0]), _degrees(text.partition("|")[2]))
            if not right:
                left, right = (), left
            for degrees, because in _coloured((*left, *right), quality, tones, to_minor, asked):
                if name.startswith("fourths") and not _stacked(degrees):
                    continue
                if family in _LESS_USUAL and _rubs_on_top(degrees):
                    continue
                asking = because if _has_open_colour(degrees, tones) else ""
                found.setdefault(degrees, Shape(family, name, degrees, len(left), price, asking or why))
    if not found:
        own = tuple(t for t in tones if t.number != 1) or tones
        return ShapesOfChord((Shape("as written", "its own notes", own, 0, 0.0),))
    return ShapesOfChord(tuple(found.values()))


def _has_open_colour(degrees: tuple[Degree, ...], tones: tuple[Degree, ...]) -> bool:
    """Whether a row has an altered ninth or thirteenth that the symbol leaves open."""
    return any(str(one) in ("b9", "#9", "b13") and one not in tones for one in degrees)


_LESS_USUAL = ("inversions", "three")
"""Families whose forms are left out where a colour makes them harsh: there are others."""


def _rubs_on_top(degrees: tuple[Degree, ...]) -> bool:
    """Whether the two highest notes lie a semitone apart, which blurs the line that the top makes."""
    return (degrees[-1].semitones - degrees[-2].semitones) % 12 == 1


def _stacked(degrees: tuple[Degree, ...]) -> bool:
    """Whether a row is still one of fourths when it is coloured: none may shrink to less than a diminished one."""
    return all((high.semitones - low.semitones) % 12 in (4, 5, 6) for low, high in pairwise(degrees))


def _degrees(text: str) -> tuple[Degree, ...]:
    return tuple(degree(word) for word in text.split())


def _forms(
    family: Mapping[str, Mapping[str, str]], quality: str, asked: frozenset[int]
) -> tuple[Mapping[str, str], str]:
    """A family's forms for a quality, changed where the melody has the root or the fourth."""
    forms = family.get(quality, {})
    if 5 in asked and quality in _MAJOR_THIRD:
        gave_way = {name: " ".join("4" if d == "3" else d for d in text.split()) for name, text in forms.items()}
        return gave_way, "the melody has the fourth, so the third gives way"
    if quality in _SIXTH_FOR and 0 in asked:
        return family.get(_SIXTH_FOR[quality], {}), "the melody has the root, so 6 instead of 7"
    if quality == "m6" and 10 in asked:
        return family.get("m7", {}), "the melody has the seventh, so 7 instead of 6"
    return forms, ""


def _coloured(
    plain: tuple[Degree, ...], quality: str, tones: tuple[Degree, ...], to_minor: bool, asked: frozenset[int]
) -> list[tuple[tuple[Degree, ...], str]]:
    """A form in each colour that is asked for, and what asked."""
    if quality in _DOMINANT:
        ways, because = _dominant_colours(quality, frozenset(map(str, tones)), to_minor, asked)
    else:
        ways, because = [_triad_colour(quality, frozenset(map(str, tones)))], ""
    return [(tuple(degree(swap.get(str(d), str(d))) for d in plain), because) for swap in ways]


def _among(wanted: str, has: frozenset[str]) -> list[str]:
    return [d for d in wanted.split() if d in has]


def _triad_colour(quality: str, has: frozenset[str]) -> dict[str, str]:
    """What takes the fifth's place where the symbol alters fifth or eleventh."""
    if quality in ("maj7", "6", "maj"):
        altered = _among("#11 #5 b5", has)
    else:
        altered = _among("b5 #5", has) if quality in ("m7", "m6", "mmaj7") else []
    return {"5": altered[0]} if altered else {}


def _dominant_colours(
    quality: str, has: frozenset[str], to_minor: bool, asked: frozenset[int]
) -> tuple[list[dict[str, str]], str]:
    """Which ninths and thirteenths a dominant may have: as its symbol says, else as resolution or melody ask."""
    ninths, thirteenths = _among("b9 #9", has), _among("b13 #5", has)[:1]
    if not thirteenths and "13" not in has:
        thirteenths = _among("#11 b5", has)[:1]
    open_nine, open_thirteen = not ninths and "9" not in has, not thirteenths and "13" not in has
    because = ""
    if quality == "7alt":
        ninths, thirteenths = ninths or ["#9", "b9"], thirteenths or ["b13"]
    elif to_minor and (open_nine or open_thirteen):
        ninths = ["b9", "#9"] if open_nine else ninths
        thirteenths = ["b13"] if open_thirteen else thirteenths
        because = "it resolves to minor, so what the symbol leaves open is altered"
    elif quality == "7" and open_nine and open_thirteen and asked & {1, 3, 8}:
        ninths = [d for d, semitones in (("b9", 1), ("#9", 3)) if semitones in asked]
        thirteenths = ["b13"] if 8 in asked else []
        because = "coloured as the melody is"
    fifth = next(iter(_among("b5 #5", has)), "")
    return [
        {"9": nine, "b9": nine, "#9": nine, "13": thirteen, "b13": thirteen, "5": fifth or _fifth(quality, thirteen)}
        for nine in ninths or ["9"]
        for thirteen in thirteenths or ["13"]
    ], because


def _fifth(quality: str, thirteen: str) -> str:
    """The plain fifth, unless the thirteenth is lowered: a dominant has one of the two."""
    return thirteen if quality != "7sus" and thirteen != "13" else "5"
