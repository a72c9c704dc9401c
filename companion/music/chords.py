"""Chords: what a symbol on a lead sheet says, and what a player may do with it.

Conventions: roots and bass notes are spelled names; degrees count from the root in its major scale; pitch classes run
from 0 (C) to 11. A chord's tones follow MusicXML 4.0's definition of its kind (:mod:`companion.music.kinds`): a 13th
chord holds the 11th there, and a player leaves it out. What is played is the business of voicings, which look a chord
up by its :attr:`Chord.quality`.

>>> parse_chord("Bb13b9/F").symbol, parse_chord("C-Δ7").quality
('Bb13b9/F', 'mmaj7')
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

from companion.errors import ChordError
from companion.music.kinds import FUNCTIONAL, KINDS, Change, Degree, degree, degrees, described, tones_of
from companion.music.pitch import Name, parse_name
from companion.music.symbols import plain_symbol, read_quality, write_quality

__all__ = ["NO_CHORD", "QUALITIES", "Change", "Chord", "Degree", "from_musicxml", "parse_chord", "transpose"]

QUALITIES = (
    "maj7", "6", "maj", "m7", "m6", "mmaj7", "m", "7", "7sus", "7alt", "m7b5", "dim7", "aug", "sus", "power", "other",
    "none",
)  # fmt: skip
"""The families by which voicings, scales and bass lines look a chord up.

Ninths, elevenths and thirteenths belong to the family of their seventh; a dominant 11th is played without its third, so
it belongs to '7sus'; a diminished triad is voiced as dim7 (all common practice). 'other' are the functional sixths.
"""

_AVAILABLE = {
    "maj7": "9 #11 13", "6": "7 9 #11", "maj": "6 7 9 #11", "m7": "9 11 13", "m6": "7 9 11", "mmaj7": "9 11 13",
    "m": "6 9 11", "7": "b9 9 #9 #11 b13 13", "7sus": "b9 9 13", "7alt": "b9 #9 #11 b13", "m7b5": "9 11 b13",
    "dim7": "7 9 11 b13", "aug": "9 #11", "sus": "9 13",
}  # fmt: skip
_AVOID = {
    "maj7": "b9 11", "6": "b9 11", "maj": "b9 11", "m7": "b9 b13", "m6": "b9 b13", "mmaj7": "b9 b13", "m": "b9 b13",
    "7": "11", "7sus": "3", "7alt": "5 9 11 13", "m7b5": "b9", "dim7": "b9", "aug": "11", "sus": "3",
}  # fmt: skip
_BASS_OF_SIXTHS = {"Neapolitan": "4", "Italian": "b6", "French": "b6", "German": "b6"}


@dataclass(frozen=True)
class Chord:
    """A chord as its symbol says it; without a root it is the no-chord."""

    root: Name | None
    kind: str
    """MusicXML kind-value."""
    changes: tuple[Change, ...] = ()
    bass: Name | None = None
    """The note after the slash, when there is one."""
    text: str = field(default="", compare=False)
    """The quality as it was written, without root and bass."""

    @cached_property
    def tones(self) -> tuple[Degree, ...]:
        """Degrees by MusicXML's definition, from the lowest number up; empty for the no-chord."""
        return tones_of(self.kind, self.changes) if self.root else ()

    @cached_property
    def pitch_classes(self) -> tuple[int, ...]:
        """Pitch classes 0-11 of the tones, root first, each once. The slash bass is not among them."""
        return tuple(dict.fromkeys((self.root.pc + tone.semitones) % 12 for tone in self.tones)) if self.root else ()

    @property
    def is_chord(self) -> bool:
        """False for N.C."""
        return self.root is not None

    @property
    def bass_name(self) -> Name | None:
        """What the bass plays: the note after the slash, or else the root; None for the no-chord."""
        if self.bass or not self.root:
            return self.bass
        return self.name_of(degree(_BASS_OF_SIXTHS[self.kind])) if self.kind in _BASS_OF_SIXTHS else self.root

    def name_of(self, tone: Degree) -> Name:
        """The note that a degree is, spelled. Raises ValueError for the no-chord.

        >>> str(parse_chord("Ebm7").name_of(Degree(3, -1)))
        'Gb'
        """
        if not self.root:
            raise ValueError("no chord has no degrees")
        return self.root.above(tone.number, tone.pc)

    @cached_property
    def symbol(self) -> str:
        """The chord in this project's spelling; :func:`parse_chord` reads it back to a chord of the same notes.

        To an equal one, where kind and changes are those that :func:`parse_chord` and :func:`from_musicxml` give.
        """
        if not self.root:
            return "N.C."
        return f"{self.root}{write_quality(self.kind, self.changes)}" + (f"/{self.bass}" if self.bass else "")

    @cached_property
    def quality(self) -> str:
        """One of :data:`QUALITIES`."""
        return _quality(self.kind, frozenset(self.tones))

    @cached_property
    def is_exact(self) -> bool:
        """Whether a player adds nothing to it: a chord without third or fourth, a triad with an added note.

        >>> [symbol for symbol in ("Csus2", "C5", "Cadd9", "C", "C6/9", "C9") if parse_chord(symbol).is_exact]
        ['Csus2', 'C5', 'Cadd9']
        """
        numbers = {tone.number for tone in self.tones}
        if self.kind in FUNCTIONAL or not numbers:
            return False
        return not numbers & {3, 4, 11} or (3 in numbers and not numbers & {6, 7, 13} and bool(numbers & {2, 4, 9, 11}))

    @cached_property
    def available(self) -> tuple[Degree, ...]:
        """Tensions that a player may add, beyond those that the symbol names (common practice).

        What the symbol says of a ninth or thirteenth holds: over C7b9 there is no 9, over C9 no b9. To a chord that is
        what its symbol says nothing is added.
        """
        if self.is_exact:
            return ()
        flat = {tone.number for tone in self.tones if tone.number in (9, 13) and tone.alter}
        natural = {tone.number for tone in self.tones if tone.number in (9, 13) and not tone.alter}
        if Degree(5, 1) in self.tones and self.quality == "7":
            flat.add(13)
        taken = {tone.pc for tone in self.tones}
        return tuple(
            tone
            for tone in degrees(_AVAILABLE.get(self.quality, ""))
            if tone.pc not in taken and tone.number not in (natural if tone.alter else flat)
        )

    @cached_property
    def avoid(self) -> tuple[Degree, ...]:
        """Degrees that clash with the chord when they are held: a semitone above a chord tone, or against its kind."""
        taken = {tone.pc for tone in self.tones}
        return tuple(tone for tone in degrees(_AVOID.get(self.quality, "")) if tone.pc not in taken)

    def __str__(self) -> str:
        return self.symbol


NO_CHORD = Chord(None, "none", text="N.C.")


def _quality(kind: str, tones: frozenset[Degree]) -> str:
    if kind in FUNCTIONAL or not tones:
        return "other" if tones else "none"
    has = {str(tone) for tone in tones}
    if kind == "dominant-11th" and "11" in has:
        return "7sus"
    if "3" in has:
        return _major_quality(has)
    if "b3" in has:
        return _minor_quality(has)
    if has & {"4", "2", "11"}:
        return "7sus" if "b7" in has else "sus"
    return "7" if "b7" in has else "power"


def _major_quality(has: set[str]) -> str:
    if "b7" in has:
        return "7alt" if has & {"b9", "#9"} and has & {"b5", "#5", "#11", "b13"} and "5" not in has else "7"
    if "7" in has:
        return "maj7"
    if "6" in has:
        return "6"
    return "aug" if "#5" in has and "5" not in has else "maj"


def _minor_quality(has: set[str]) -> str:
    if "b5" in has and "5" not in has:
        return "m7b5" if "b7" in has else "dim7"
    if "7" in has:
        return "mmaj7"
    if "b7" in has:
        return "m7"
    return "m6" if has & {"6", "bb7"} else "m"


_NO_CHORD_TEXT = re.compile(r"(?i)n\.?\s*c\.?|no\s*chord|tacet")
_ROOT = re.compile(r"([A-Ga-g])(bb|b|##|#|x|)")
_BASS = re.compile(r"/ ?([A-Ga-g](?:bb|b|##|#|x|))$")


@lru_cache(maxsize=4096)
def parse_chord(text: str) -> Chord:
    """Read a chord symbol as lead sheets write it, ``N.C.`` included.

    Raises
    ------
    ChordError
        When it isn't one: the message names the symbol, and says what would mend it.

    >>> parse_chord("F#m7b5").kind, [str(tone) for tone in parse_chord("C13").tones]
    ('half-diminished', ['1', '3', '5', 'b7', '9', '11', '13'])
    """
    if _NO_CHORD_TEXT.fullmatch(text.strip()):
        return NO_CHORD
    symbol = plain_symbol(text)
    root = _ROOT.match(symbol)
    if not root:
        raise _not_a_chord(text, _hint(symbol))
    slash = _BASS.search(symbol, root.end())
    quality = symbol[root.end() : slash.start() if slash else None].strip()
    if root[1].islower() and not quality:
        raise _not_a_chord(text, f"write {root[1].upper()}{root[2]} or {root[1].upper()}{root[2]}m, whichever is meant")
    try:
        said = read_quality(quality)
    except ChordError as error:
        raise _not_a_chord(text, error.mend) from None
    kind, changes = (said, ()) if isinstance(said, str) else described(said)
    return _chord(parse_name(root[0]), kind, changes, parse_name(slash[1]) if slash else None, quality)


def _chord(root: Name, kind: str, changes: tuple[Change, ...], bass: Name | None, text: str) -> Chord:
    """A chord whose slash says something: C/C is C."""
    return Chord(root, kind, changes, None if bass == root and kind not in _BASS_OF_SIXTHS else bass, text)


def _not_a_chord(text: str, mend: str | None) -> ChordError:
    return ChordError(f"{text.strip()!r} is not a chord symbol", mend=mend)


def _hint(symbol: str) -> str:
    if not symbol:
        return "write N.C. where there is no chord"
    if symbol == "%":
        return "a repeat sign stands alone in its bar"
    if symbol[0] in "Hh":
        return "the root is a letter from A to G, so write B" + symbol[1:]
    return "a symbol begins with its root, a letter from A to G"


def from_musicxml(
    kind: str, text: str = "", changes: Iterable[Change] = (), root: Name | None = None, bass: Name | None = None
) -> Chord:
    """A chord from the parts of a MusicXML ``<harmony>``.

    The same notes give the same chord, however a program has written them: dominant with an added ninth is
    dominant-ninth. Where the kind is 'other', or says less than its text and has no degrees ('alt' is written so), the
    text is read.

    Parameters
    ----------
    kind : str
        MusicXML's ``kind-value``.
    text : str
        The text that is printed for the kind.
    changes : iterable of Change
        Its ``<degree>`` elements.
    root, bass : Name, optional
        Without a root it is no chord.

    Raises
    ------
    ChordError
        When the kind is not one of MusicXML's.
    """
    if kind not in KINDS:
        raise ChordError(f"{kind!r} is not a kind of chord in MusicXML", mend="use one of its kind-values")
    if kind == "none" or root is None:
        return replace(NO_CHORD, text=text) if text else NO_CHORD
    changes = tuple(changes)
    if kind in FUNCTIONAL and not changes:
        return _chord(root, kind, (), bass, text)
    tones = frozenset(tones_of(kind, changes))
    if text and not changes:
        tones = _said_by(text, tones)
    if kind in ("other", "pedal") and tones == frozenset(KINDS[kind]):
        return _chord(root, "pedal", (), bass, text)  # of another kind no more than the root is known
    return _chord(root, *described(tones), bass, text)


def _said_by(text: str, tones: frozenset[Degree]) -> frozenset[Degree]:
    """What the text says, if it says all that the kind does (but for the fifth) and more."""
    try:
        said = read_quality(text)
    except ChordError:
        return tones
    return said if not isinstance(said, str) and {tone for tone in tones if tone.number != 5} <= said else tones


def transpose(chord: Chord, number: int, semitones: int) -> Chord:
    """The chord a generic interval higher: ``number`` letters on (3 = a third), ``semitones`` in all.

    >>> transpose(parse_chord("Dm7/C"), 3, 3).symbol
    'Fm7/Eb'
    """
    if not chord.root:
        return chord
    bass = chord.bass.above(number, semitones) if chord.bass else None
    return replace(chord, root=chord.root.above(number, semitones), bass=bass)
