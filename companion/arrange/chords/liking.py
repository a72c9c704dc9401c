"""How much the player's own shapes and rhythms weigh where chords are chosen, on wish.

A liking is taken off the price of a voicing, and added to what speaks for a rhythm; it changes nothing of what may be
struck. A shape of the player's that no handbook has is offered beside the others where the chord may have its notes.

Conventions: degrees from the lowest note up; MIDI numbers; places in quarters from the bar line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from companion.arrange.chords.comping_style import CompingStyle, UsedShape, liked, shape_liking
from companion.arrange.chords.own_notes import has_own_notes_alone
from companion.arrange.chords.shape import Shape
from companion.arrange.chords.shapes import ShapesOfChord
from companion.arrange.chords.soundness import form_quality, may_have
from companion.arrange.harmony import Harmony
from companion.chart.model import Form
from companion.music.kinds import Degree
from companion.preferences.like_you import LikeYouPreferences
from companion.preferences.voicings import VoicingPreferences

OWN = "as you play it"
_FOURTHS = (4, 5, 6)


@dataclass(frozen=True, eq=False)
class Liking:
    """A player's style, and what it weighs; the same object for the same style, so that what is made of it can be
    kept."""

    style: CompingStyle
    likes: LikeYouPreferences


@lru_cache(maxsize=8)
def liking_of(style: CompingStyle, likes: LikeYouPreferences) -> Liking:
    """A style with what it weighs."""
    return Liking(style, likes)


# --- shapes -----------------------------------------------------------------------------------------------------------


def own_liking(
    liking: Liking, quality: str, rows: Sequence[tuple[Degree, ...]], tops: NDArray[np.int64]
) -> NDArray[np.float64]:
    """What is taken off the price of each voicing.

    Parameters
    ----------
    liking : Liking
    quality : str
        The kind of chord (:func:`~companion.arrange.chords.soundness.form_quality`).
    rows : sequence of tuple of Degree
        The degrees of each, from the lowest note up.
    tops : array of int
        MIDI numbers of their top notes.
    """
    used = liking.style.of_kind(quality)
    found = np.zeros(len(rows))
    if used:
        likes = liking.likes.shapes
        for n, row in enumerate(rows):
            if ways := shape_liking(likes, used, row):
                found[n] = liked(likes, ways, int(tops[n]))
    return found


def with_own_shapes(
    liking: Liking, voicings: VoicingPreferences, harmony: Harmony, found: ShapesOfChord, families: tuple[str, ...]
) -> ShapesOfChord:
    """The shapes of a chord with those of the player's that aren't among them, where the chord may have their notes.

    Where the melody or a resolution asks for another colour, nothing is added.
    """
    used = liking.style.of_kind(form_quality(harmony))
    if not used or has_own_notes_alone(harmony) or any(shape.why for shape in found.every):
        return found
    there = {shape.degrees for shape in found.every}
    may = tuple(one for one in used if one.row not in there and all(may_have(harmony, tone) for tone in one.row))
    return _with(voicings, found, may, families) if may else found


@lru_cache(maxsize=1024)
def _with(
    voicings: VoicingPreferences, found: ShapesOfChord, used: tuple[UsedShape, ...], families: tuple[str, ...]
) -> ShapesOfChord:
    """Shapes with some of the player's, as far as the treatment wants such: the same object for the same."""
    added = []
    for one in used:
        if family := _family(one.row, one.left, families):
            rank = families.index(family) if family in families else 0
            price = voicings.costs.family * rank + voicings.costs.inversion
            added.append(Shape({3: "three", 2: "two"}.get(len(one.row), family), OWN, one.row, one.left, price))
    return ShapesOfChord((*found.every, *added)) if added else found


def is_own(liking: Liking, harmony: Harmony, shape: Shape) -> bool:
    """Whether a shape is the player's, and none that says so in its name already."""
    return shape.name != OWN and liking.style.uses(form_quality(harmony), shape.degrees)


def _family(row: tuple[Degree, ...], left: int, families: tuple[str, ...]) -> str:
    """As which family a shape of the player's is taken; empty where the treatment wants none such."""
    if left:
        return "open" if "open" in families else ""
    stacked = all((b.semitones - a.semitones) % 12 in _FOURTHS for a, b in pairwise(row))
    wanted = "quartal" if stacked else "rootless"
    return wanted if wanted in families and (len(row) > 2 or stacked) else ""


# --- rhythms ----------------------------------------------------------------------------------------------------------


def rhythm_liking(liking: Liking | None, form: Form, struck: Sequence[float]) -> float:
    """What speaks for a rhythm that strikes at some places of its bar."""
    if liking is None:
        return 0.0
    wanted = tuple(struck)
    worth = (one.worth for one in liking.style.in_metre(str(form.metre), form.feel) if one.places == wanted)
    return liking.likes.rhythms.liking * max(worth, default=0.0)
