"""What a chord that was struck is called: the voicing of the handbooks that it is, with what it lacks or has besides.

The chart says which chord is meant, so the same notes have one name: the form of ``voicings.toml`` that they are from
the lowest note up, in whatever colour a player may give it (a ninth lowered or raised, a thirteenth lowered, a fifth
altered over a dominant). Where they are none, a form without one of its notes, or with one more; then the degrees that
they are.
A chord that the chart's can't be is named by itself (:mod:`companion.music.chord_names`).

Conventions: MIDI numbers from the lowest up, the bass not among them; degrees as musicians say them. Source of the
forms: Levine, The Jazz Piano Book, 1989 (from memory), and common practice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, product

from companion.arrange.chords.soundness import colours_of
from companion.arrange.harmony import Harmony
from companion.music.chord_names import SoundedChord, name_chords
from companion.music.kinds import Degree, degree
from companion.preferences.voicings import VoicingPreferences

PRICES = {"inversions": 0.5, "open": 0.2, "two": 0.8, "three": 2.5}
"""How much rarer than the others a family is taken to be."""
LACKING, BESIDE, RECOLOURED = 1.0, 1.3, 0.15
"""Prices of a note that is lacking, of one more, and of another colour than the form has."""
FOURTHS = (4, 5, 6)
"""Semitones between neighbours of a chord in fourths."""
ANOTHER = 2
"""Notes outside chord and scale from which it is another chord."""


@dataclass(frozen=True)
class VoicingName:
    """What a chord is called."""

    name: str
    lacks: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    """Degrees that the form hasn't."""
    price: float = 0.0
    other: str = ""
    """The chord that it is instead of the chart's."""

    @property
    def text(self) -> str:
        """All of it: "rootless from the third, 9 missing"."""
        words = [self.name, *(f"{one} missing" for one in self.lacks), *(f"with {one}" for one in self.beside)]
        return ", ".join(words)


@dataclass(frozen=True)
class _Form:
    name: str
    degrees: tuple[Degree, ...]
    price: float
    fourths: bool


def voicing_name(voicings: VoicingPreferences, harmony: Harmony, midi: Sequence[int], bass: int | None) -> VoicingName:
    """Name a chord.

    Parameters
    ----------
    voicings : VoicingPreferences
    harmony : Harmony
        The chart's chord.
    midi : sequence of int
        At least two different notes, without a bass.
    bass : int, optional
        MIDI number of the bass that sounds with it.
    """
    notes = sorted(set(midi))
    classes = tuple(dict.fromkeys((note - harmony.root) % 12 for note in notes))
    stacked = all(high - low in FOURTHS for low, high in pairwise(notes))
    quality = harmony.chord.quality
    kinds = {"m": ("m7", "m6", "m"), "maj": ("maj", "6", "maj7")}.get(quality, (quality,))
    ways = [way for form in _forms_of(voicings, kinds) if (way := _as_form(form, classes, stacked)) is not None]
    if bass is not None and (bass - harmony.root) % 12 == 0 and 0 not in classes:
        rooted = (0, *classes)
        ways += [way for form in _forms_of(voicings, kinds) if (way := _as_form(form, rooted, False)) is not None]
    best = min(ways, key=lambda way: way.price, default=None)
    if quality == "dim7" and best is None and (raised := _one_raised(classes)):
        return VoicingName(f"diminished, the {raised} raised")
    outside = [pc for pc in classes if (pc + harmony.root) % 12 not in {*harmony.tones, *harmony.scale}]
    if len(outside) >= ANOTHER and (best is None or best.lacks or best.beside):
        if stacked and len(notes) > 2:
            return VoicingName("fourths")
        (chord,) = name_chords([SoundedChord(tuple(notes), bass)], (harmony.fifths, False), ends=False)
        return VoicingName(chord.symbol, other=chord.symbol)
    return best or VoicingName(" ".join(_degree_words(harmony, pc) for pc in classes), price=9.0)


def _degree_words(harmony: Harmony, pc: int) -> str:
    """What a note is called, by its distance from the root: one that neither chord nor scale has by its plain name."""
    called = harmony.degree((pc + harmony.root) % 12)
    return PLAIN[pc] if called == "x" else called


def _as_form(form: _Form, classes: tuple[int, ...], stacked: bool) -> VoicingName | None:
    """The chord as a form, with one note less or more at most; None: it isn't."""
    wanted = tuple(one.pc for one in form.degrees)
    if form.fourths and not stacked:
        return None
    if classes == wanted:
        return VoicingName(form.name, price=form.price)
    if len(wanted) >= 4 and len(classes) == len(wanted) - 1 and _within(classes, wanted):
        lacking = next(one for one in form.degrees if one.pc not in classes)
        return VoicingName(form.name, (str(lacking),), price=form.price + LACKING)
    if len(wanted) >= 3 and len(classes) == len(wanted) + 1 and _within(wanted, classes):
        more = next(pc for pc in classes if pc not in wanted)
        return VoicingName(form.name, (), (PLAIN[more],), form.price + BESIDE)
    return None


def _one_raised(classes: Collection[int]) -> str:
    """Which of a diminished seventh's notes is a tone higher."""
    for pc, called in DIMINISHED.items():
        if set(classes) == {*DIMINISHED} - {pc} | {pc + 2}:
            return called
    return ""


DIMINISHED = {0: "root", 3: "third", 6: "fifth", 9: "seventh"}
PLAIN = ("the root", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "13", "b7", "7")


def _within(few: Collection[int], many: Sequence[int]) -> bool:
    """Whether some notes are others in the same order, with one left out."""
    rest: Iterator[int] = iter(many)
    return all(pc in rest for pc in few)


@lru_cache(maxsize=64)
def _forms_of(voicings: VoicingPreferences, kinds: tuple[str, ...]) -> tuple[_Form, ...]:
    """Every form of some qualities in every colour."""
    found: dict[tuple[int, ...], _Form] = {}
    for quality in kinds:
        for family, data in voicings.families.items():
            for name, text in data.forms.get(quality, {}).items():
                plain = [degree(word) for word in text.replace("|", " ").split()]
                called = _family_words(family, name)
                _add(found, called, plain, quality, PRICES.get(family, 0.0), fourths=name.startswith("fourths from"))
        for name, text in OWN_FORMS.get(quality, {}).items():
            _add(found, name, [degree(word) for word in text.split()], quality, OWN_PRICE, fourths=False)
    return tuple(found.values())


OWN_PRICE = 0.6
OWN_FORMS = {
    "m7": {"two stacks of fifths": "1 5 9 b3 b7 11", "fourths and a third": "9 5 1 4 6"},
    "maj7": {"fourths and a third": "3 6 9 5 7", "root position": "1 3 5 7"},
    "7": {"root position": "1 3 5 b7"},
}
"""Forms of two hands, with the root that the pedal holds, and chords as they are written."""


def _add(
    found: dict[tuple[int, ...], _Form], name: str, plain: list[Degree], quality: str, price: float, *, fourths: bool
) -> None:
    options = colours_of(quality)
    for ways in product(*(options.get(str(one), (str(one),)) for one in plain)):
        coloured = tuple(degree(way) for way in ways)
        changed = sum(str(one) != way for one, way in zip(plain, ways, strict=True))
        key = tuple(one.pc for one in coloured)
        if len(set(key)) < len(key):
            continue
        form = _Form(name, coloured, price + RECOLOURED * changed, fourths)
        if key not in found or (found[key].price, found[key].fourths) > (form.price, form.fourths):
            found[key] = form


def _family_words(family: str, name: str) -> str:
    """What a form is called."""
    if family in ("rootless", "inversions"):
        return f"rootless {name}" if name.startswith(("from", "with")) else f"rootless, {name}"
    return f"shell, {name}" if family == "shells" else name
